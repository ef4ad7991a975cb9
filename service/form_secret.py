"""The secret that a form makes: drawn from the form's own key, so that it can be drawn again and is kept nowhere."""

import base64
import hmac


def secret_of_form(key: bytes, *, caller_key: str, request_key: str | None) -> str:
    """Return 256 bits for what a form makes: the same form makes the same, and nobody without ``key`` does."""
    drawn = hmac.digest(key, f"{caller_key} {request_key}".encode(), "sha256")
    return base64.urlsafe_b64encode(drawn).decode().rstrip("=")
