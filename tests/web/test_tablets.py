"""The shop's tablets: enrolled by the owner, switched on by name and PIN, useless elsewhere."""

import re
from typing import Any
from uuid import uuid4

import pytest

from service.desk import backups
from service.desk.signing_in import lifetimes_and_tries
from service.web.cookies import COOKIE, TABLET_COOKIE
from tests.cast import PASSWORD, Browser, Cast

PIN = "804153"
ADDRESS = re.compile(r'<code class="label">http://localhost([^<]+)<')


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: what works once is locked."""
    return cast_on_either


def choose_pin(cast: Cast, name: str = "tess", pin: str = PIN) -> Any:
    return cast.browser(name).post("/you/pin", {"form": "pin", "pin": pin, "password": PASSWORD})


def enrolled(cast: Cast, name: str = "Press bench") -> Browser:
    made = cast.browser("olu").post("/tablets", {"name": name})
    path = ADDRESS.search(made.text)
    assert path, made.text
    tablet = cast.browser(None)
    assert f"Set up as {name}" in tablet.get(path[1]).text
    assert tablet.post(path[1]).headers["location"] == "/tablet"
    return tablet


def switched_on(cast: Cast) -> Browser:
    assert choose_pin(cast).status_code == 303
    tablet = enrolled(cast)
    assert switch_on(cast, tablet).headers["location"] == "/"
    return tablet


def switch_on(cast: Cast, tablet: Browser, pin: str = PIN, name: str = "tess", **more: str) -> Any:
    return tablet.post(f"/tablet/{cast.ids[name]}", {"pin": pin, **more})


def test_a_technician_switches_on_by_name_and_pin(cast: Cast) -> None:
    assert choose_pin(cast).status_code == 303
    tablet = enrolled(cast)
    names = tablet.get("/tablet").text
    assert f'href="/tablet/{cast.ids["tess"]}?then=/"' in names and "Tess" in names and "Olu" not in names
    assert tablet.get("/jobs", follow_redirects=False).headers["location"] == "/tablet?then=/jobs"
    answer = switch_on(cast, tablet, then="/curing")
    assert answer.headers["location"] == "/curing"
    assert tablet.get("/curing").status_code == 200
    assert "Sign out for the next person" in tablet.get("/curing").text


def test_every_act_on_a_tablet_carries_the_person_and_the_tablet(cast: Cast) -> None:
    tablet = switched_on(cast)
    tablet.post("/customers", {"name": "Ann's Arches", "contact": "", "language": "en"})
    act = backups.entries(cast.olu, last=1)[0]
    assert (act.act, act.person, act.device) == ("customer.add", "Tess", "Press bench")


def test_a_password_on_a_tablet_names_the_tablet_too_and_may_do_what_its_person_may(cast: Cast) -> None:
    tablet = enrolled(cast)
    tablet.post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD})
    tablet.post("/customers", {"name": "Ann's Arches", "contact": "", "language": "en"})
    assert backups.entries(cast.olu, last=1)[0].device == "Press bench"
    assert tablet.get("/people").status_code == 200


def test_a_session_by_pin_opens_nothing_in_a_browser_that_is_not_the_tablet(cast: Cast) -> None:
    tablet, other = switched_on(cast), enrolled(cast, "Sieve bench")
    token = tablet.client.cookies[COOKIE]
    for elsewhere in (cast.browser(None), other):
        elsewhere.client.cookies.set(COOKIE, token)
        assert elsewhere.get("/jobs", follow_redirects=False).status_code == 303
        assert elsewhere.get("/api/v1/jobs").status_code == 401
    assert tablet.get("/api/v1/jobs").status_code == 200


def test_a_session_by_pin_dies_with_its_tablet(cast: Cast) -> None:
    tablet, olu = switched_on(cast), cast.browser("olu")
    assert "Press bench" in olu.get("/tablets").text
    end = re.search(r'action="(/tablets/[0-9a-f-]{36}/end)"', olu.get("/tablets").text)
    assert end and olu.post(end[1]).status_code == 303
    assert tablet.get("/jobs", follow_redirects=False).status_code == 303
    assert tablet.get("/tablet").status_code == 404
    assert switch_on(cast, tablet).status_code == 404
    assert "ended" in olu.get("/tablets").text


def test_without_a_tablet_a_pin_opens_nothing(cast: Cast) -> None:
    choose_pin(cast)
    stranger = cast.browser(None)
    stranger.client.cookies.set(TABLET_COOKIE, "guessed")
    assert stranger.get("/tablet").status_code == 404
    assert stranger.get(f"/tablet/{cast.ids['tess']}").status_code == 404
    assert switch_on(cast, stranger).status_code == 404


def test_a_pin_lets_nobody_do_an_owners_acts_or_change_a_way_in(cast: Cast) -> None:
    tablet = switched_on(cast)
    assert [tablet.get(path).status_code for path in ("/people", "/settings", "/tablets", "/backups")] == [403] * 4
    forms = {
        "/you/password": {"password": PASSWORD, "new_password": "damp loam under straw"},
        "/you/pin": {"pin": "204815", "password": PASSWORD},
        "/you/pin/end": {},
        "/you/second-factor": {"drawn": "A" * 32, "code": "123456"},
        "/you/second-factor/end": {"password": PASSWORD},
    }
    assert {tablet.post(path, form).status_code for path, form in forms.items()} == {403}
    assert tablet.get("/you/second-factor").status_code == 403
    assert "You signed in with a PIN" in tablet.get("/you").text


def test_an_owner_and_a_customer_have_no_pin(cast: Cast) -> None:
    assert [choose_pin(cast, name).status_code for name in ("olu", "cy")] == [403, 403]
    assert "Your PIN" not in cast.browser("olu").get("/you").text
    tablet = enrolled(cast)
    told = tablet.post(f"/tablet/{cast.ids['olu']}", {"pin": PIN}, headers={"hx-request": "true"})
    assert told.status_code == 422 and told.json()["error"] == "Wrong PIN."


@pytest.mark.parametrize(
    "pin", ["12345", "1234567", "12345a", "123456", "987654", "777777", "121212", "842842", "١٢٣٤٧٩"]
)
def test_a_pin_that_others_would_try_first_is_refused(cast: Cast, pin: str) -> None:
    answer = choose_pin(cast, pin=pin)
    assert answer.status_code == 422 and "This PIN cannot be used." in answer.text
    assert pin not in answer.text


def test_a_wrong_pin_and_a_person_without_one_get_the_same_answer(cast: Cast) -> None:
    choose_pin(cast)
    tablet = enrolled(cast)
    wrong = switch_on(cast, tablet, pin="804154")
    nobody = tablet.post(f"/tablet/{uuid4()}", {"pin": "804154"}, headers={"hx-request": "true"})
    assert wrong.status_code == nobody.status_code == 422
    assert "Wrong PIN." in wrong.text and nobody.json()["error"] == "Wrong PIN."
    assert "804154" not in wrong.text


def test_guessing_pins_is_slowed_and_stops_for_good(cast: Cast) -> None:
    choose_pin(cast)
    tablet = enrolled(cast)
    wrong = [f"{number:06}" for number in range(300_000, 300_000 + lifetimes_and_tries.MOST_PIN_TRIES)]
    statuses = [
        switch_on(cast, tablet, pin=pin).status_code for pin in wrong[: lifetimes_and_tries.MOST_TRIES["email"] + 1]
    ]
    assert statuses == [422] * lifetimes_and_tries.MOST_TRIES["email"] + [429]
    for pin in wrong[lifetimes_and_tries.MOST_TRIES["email"] :]:
        cast.clock.forward(minutes=16)
        switch_on(cast, tablet, pin=pin)
    cast.clock.forward(minutes=16)
    late = switch_on(cast, tablet)
    assert late.status_code == 429 and "choose a new one" in late.text
    assert choose_pin(cast, pin="620519").status_code == 303
    assert switch_on(cast, tablet, pin="620519").status_code == 303


def test_another_tablet_is_not_held_up_by_guesses_on_the_first(cast: Cast) -> None:
    choose_pin(cast)
    first, second = enrolled(cast), enrolled(cast, "Sieve bench")
    for _ in range(lifetimes_and_tries.MOST_TRIES["email"] + 1):
        switch_on(cast, first, pin="300000")
    assert switch_on(cast, second).status_code == 303


def test_without_script_the_pad_gathers_the_digits_one_by_one(cast: Cast) -> None:
    choose_pin(cast)
    tablet = enrolled(cast)
    assert tablet.get(f"/tablet/{cast.ids['tess']}").text.count('name="digit"') == 11
    pin = ""
    for pressed in ("8", "0", "9", "back", "4", "1", "5"):
        page = switch_on(cast, tablet, pin=pin, digit=pressed)
        assert page.status_code == 200
        pin = pin[:-1] if pressed == "back" else pin + pressed
        assert f'value="{pin}"' in page.text and f"{len(pin)} of 6 digits" in page.text
    assert switch_on(cast, tablet, pin=pin, digit="3").headers["location"] == "/"


def test_a_tablet_left_alone_is_nobodys(cast: Cast) -> None:
    tablet = switched_on(cast)
    cast.clock.forward(minutes=14)
    assert tablet.get("/jobs").status_code == 200
    cast.clock.forward(minutes=14)
    assert tablet.get("/jobs").status_code == 200
    cast.clock.forward(minutes=16)
    assert tablet.get("/jobs", follow_redirects=False).headers["location"] == "/tablet?then=/jobs"


def test_the_next_person_gets_the_names(cast: Cast) -> None:
    tablet = switched_on(cast)
    assert tablet.post("/sign-out").headers["location"] == "/tablet"
    assert "Who is at the bench?" in tablet.get("/tablet").text


def test_what_was_typed_stays_when_the_session_is_over_meanwhile(cast: Cast) -> None:
    tablet = switched_on(cast)
    cast.clock.forward(minutes=16)
    answer = tablet.post("/customers", {"name": "Ann's Arches"}, headers={"hx-request": "true"})
    assert answer.status_code == 401
    assert "What you typed is still here" in answer.json()["error"]


def test_an_address_makes_one_tablet_within_a_day(cast: Cast) -> None:
    olu, paths = cast.browser("olu"), []
    for name in ("One", "Two"):
        found = ADDRESS.search(olu.post("/tablets", {"name": name}).text)
        assert found
        paths.append(found[1])
    assert cast.browser(None).post(paths[0]).status_code == 303
    assert cast.browser(None).post(paths[0]).status_code == 404
    cast.clock.forward(hours=25)
    assert cast.browser(None).get(paths[1]).status_code == 404
    # It is an invitation of a tablet, and lets no person in.
    assert cast.browser(None).get(paths[1].replace("/tablets/begin/", "/sign-in/")).status_code == 404


def test_two_tablets_do_not_have_one_name_and_an_enrolment_sent_twice_makes_one(cast: Cast) -> None:
    olu, form = cast.browser("olu"), {"request_key": uuid4().hex, "name": "Press bench"}
    first, again = olu.post("/tablets", form), olu.post("/tablets", form)
    assert ADDRESS.findall(first.text) == ADDRESS.findall(again.text)
    clash = olu.post("/tablets", {"name": "Press bench"})
    assert clash.status_code == 422 and "Choose another name." in clash.text


def test_choosing_another_pin_ends_the_sessions_of_the_old_one(cast: Cast) -> None:
    tablet = switched_on(cast)
    browser = cast.browser("tess")
    assert "Press bench" in browser.get("/you").text
    assert choose_pin(cast, pin="620519").status_code == 303
    assert tablet.get("/jobs", follow_redirects=False).status_code == 303
    assert browser.get("/you").status_code == 200
    assert switch_on(cast, tablet).status_code == 422
    assert browser.post("/you/pin/end").status_code == 303
    assert "Tess" not in tablet.get("/tablet").text


def test_the_pages_keep_to_their_statements(cast: Cast, statements: list[str]) -> None:
    tablet, olu = switched_on(cast), cast.browser("olu")
    for browser, path in ((tablet, "/jobs"), (tablet, "/tablet"), (olu, "/tablets"), (tablet, "/you")):
        statements.clear()
        assert browser.get(path).status_code == 200
        assert len(statements) <= 12, path
