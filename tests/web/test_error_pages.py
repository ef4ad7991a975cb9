"""What a refused form is given back: all that was typed, and no secret."""

from urllib.parse import urlencode

import pytest
from anyio.from_thread import start_blocking_portal
from starlette.requests import Request

from service.web.error_pages import _typed


@pytest.mark.parametrize("secret", ["password", "new_password", "confirm_password", "code", "pin", "digit"])
def test_a_secret_is_never_put_back_into_a_form(secret: str) -> None:
    sent = urlencode({"name": "Tess", secret: "804153"}).encode()

    async def receive() -> dict[str, object]:
        return {"type": "http.request", "body": sent, "more_body": False}

    headers = [(b"content-type", b"application/x-www-form-urlencoded")]
    request = Request({"type": "http", "method": "POST", "headers": headers}, receive)
    with start_blocking_portal() as portal:
        assert portal.call(_typed, request) == {"name": "Tess"}
