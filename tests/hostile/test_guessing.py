"""Whoever guesses at somebody's door does not keep that person out of a browser at which they signed in before."""

from datetime import timedelta

from service.desk.signing_in.lifetimes_and_tries import MOST_TRIES
from service.web.known_browsers import BROWSER_COOKIE, KNOWN_LASTS
from tests.cast import PASSWORD, Browser, Cast

OLU = {"email": "olu@shop.example", "password": PASSWORD}
GUESS = {**OLU, "password": "not this one at all"}


def guessed(cast: Cast) -> Browser:
    """Return a stranger's browser that has used up what may be tried for this address."""
    thief = cast.browser(None)
    while thief.post("/sign-in", GUESS).status_code != 429:
        pass
    return thief


def known(cast: Cast, form: dict[str, str] = OLU) -> Browser:
    """Return a browser at which somebody signed in and out."""
    browser = cast.browser(None)
    assert browser.post("/sign-in", form).status_code == 303
    browser.post("/sign-out")
    return browser


def test_the_owner_comes_in_at_a_known_browser_each_time_however_long_somebody_guesses(cast: Cast) -> None:
    olu, thief = known(cast), guessed(cast)
    for _ in range(8):
        cast.clock.forward(minutes=4)
        while thief.post("/sign-in", GUESS).status_code != 429:
            pass
        assert olu.post("/sign-in", {**OLU, "email": " OLU@shop.example"}).status_code == 303
    assert cast.browser(None).post("/sign-in", OLU).status_code == 429


def test_a_known_browser_has_no_more_tries_than_others(cast_on_sqlite: Cast) -> None:
    browser = known(cast_on_sqlite)
    answers = [browser.post("/sign-in", GUESS).status_code for _ in range(MOST_TRIES["known"] + 1)]
    assert answers == [422] * MOST_TRIES["known"] + [429]


def test_a_browser_is_known_at_the_door_of_whoever_signed_in_there_and_no_other(cast_on_sqlite: Cast) -> None:
    cy = known(cast_on_sqlite, {**OLU, "email": "cy@shop.example"})
    guessed(cast_on_sqlite)
    assert cy.post("/sign-in", OLU).status_code == 429


def test_a_cookie_that_nobody_gave_or_of_another_person_is_worth_nothing(cast_on_sqlite: Cast) -> None:
    browser = known(cast_on_sqlite)
    (name,) = [one for one in browser.client.cookies if one.startswith(BROWSER_COOKIE)]
    token = browser.client.cookies[name]
    other = known(cast_on_sqlite, {**OLU, "email": "cy@shop.example"})
    (of_cy,) = [other.client.cookies[one] for one in other.client.cookies if one.startswith(BROWSER_COOKIE)]
    guessed(cast_on_sqlite)
    day, mark, seal = token.split(".")
    for forged in (of_cy, f"{int(day) + 1}.{mark}.{seal}", f"{day}.{mark}x.{seal}", f"{day}.{mark}.", "..", "x"):
        thief = cast_on_sqlite.browser(None)
        thief.client.cookies.set(name, forged)
        assert thief.post("/sign-in", OLU).status_code == 429, forged


def test_a_browser_is_known_for_a_year(cast_on_sqlite: Cast) -> None:
    browser = known(cast_on_sqlite)
    cast_on_sqlite.clock.now += KNOWN_LASTS + timedelta(days=1)
    guessed(cast_on_sqlite)
    assert browser.post("/sign-in", OLU).status_code == 429


def test_it_stands_for_no_password_and_no_second_factor(cast_on_sqlite: Cast) -> None:
    browser = known(cast_on_sqlite)
    assert browser.post("/sign-in", GUESS).status_code == 422
    assert browser.get("/people", follow_redirects=False).status_code == 303


def test_whoever_came_in_by_a_one_use_address_is_known_too(cast_on_sqlite: Cast) -> None:
    from service.desk import people
    from service.web.authentication import sha256

    people.make_address(cast_on_sqlite.olu, person_id=cast_on_sqlite.ids["tess"], token_sha256=sha256("address"))
    tess = cast_on_sqlite.browser(None)
    assert tess.post("/sign-in/address").status_code == 303
    tess.post("/sign-out")
    form = {"email": "tess@shop.example", "password": PASSWORD}
    while cast_on_sqlite.browser(None).post("/sign-in", {**form, "password": "guess guess guess"}).status_code != 429:
        pass
    assert tess.post("/sign-in", form).status_code == 303
