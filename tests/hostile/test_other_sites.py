"""A page on another site signs nobody's browser in: the check of where a form came from needs no cookie."""

import pytest

from service.desk import people
from service.desk.signing_in import tablets
from service.web.authentication import sha256
from tests.cast import PASSWORD, Cast

ELSEWHERE = [
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
    {"origin": "https://elsewhere.example"},
    {"origin": "null"},
]
CY = {"email": "cy@shop.example", "password": PASSWORD}


def from_elsewhere(cast: Cast, headers: dict[str, str], path: str, form: dict[str, str]) -> int:
    browser = cast.browser(None)
    del browser.client.headers["sec-fetch-site"]
    answer = browser.post(path, form, headers=headers)
    assert "set-cookie" not in answer.headers or answer.status_code == 303
    return int(answer.status_code)


@pytest.mark.parametrize("headers", ELSEWHERE, ids=str)
def test_the_form_of_signing_in_is_not_taken_from_another_site(cast: Cast, headers: dict[str, str]) -> None:
    assert from_elsewhere(cast, headers, "/sign-in", CY) == 403


@pytest.mark.parametrize("headers", ELSEWHERE, ids=str)
def test_nor_a_one_use_address_nor_that_of_a_tablet(cast: Cast, headers: dict[str, str]) -> None:
    people.make_address(cast.olu, person_id=cast.ids["cy"], token_sha256=sha256("address"))
    tablets.enrol(cast.olu, name="Press bench", token_sha256=sha256("enrol"))
    assert from_elsewhere(cast, headers, "/sign-in/address", {}) == 403
    assert from_elsewhere(cast, headers, "/tablets/begin/enrol", {}) == 403


@pytest.mark.parametrize("headers", [{"sec-fetch-site": "same-origin"}, {"origin": "http://localhost"}, {}], ids=str)
def test_our_own_form_is_taken_and_that_of_a_program_too(cast: Cast, headers: dict[str, str]) -> None:
    assert from_elsewhere(cast, headers, "/sign-in", CY) == 303
