"""The password once more, before what changes who comes in or takes everything out."""

import contextlib
import html
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from uuid import uuid4

import pyotp
import pytest
from sqlmodel import Session, select

from service.desk import people
from service.desk.doorway import USE_CASES, Role, Via
from service.desk.signing_in import sessions
from service.errors import PasswordNeeded, Refusal
from service.paper import archiving
from service.records.people import Person
from service.records.tokens import Ticket
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from tests.cast import PASSWORD, Browser, Cast

ASKED = "Enter your password again"
HIDDEN = re.compile(r'<input type="hidden" name="([^"]*)" value="([^"]*)">')
INVITED = {"form": "invite", "name": 'Pia "the <mould>"', "email": "pia@shop.example", "role": "technician"}


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: what works once is locked."""
    return cast_on_either


def hard_acts(cast: Cast) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every address at which something hard is done, with a form that it takes."""
    tess, other = f"/people/{cast.ids['tess']}", cast.browser("olu")
    archive = archiving.make(cast.olu, folder=cast.app.state.archives)
    yield "/people", INVITED
    yield f"{tess}/address", {}
    yield f"{tess}/tokens", {"form": "x", "role": "technician", "lasts_days": "30"}
    yield f"{tess}/reset", {}
    yield f"{tess}/end", {}
    yield "/settings/second-factor", {"form": "factor", "needed": "nobody"}
    yield "/tablets", {"name": "Press bench"}
    yield f"/backups/archives/{archive.name}", {}
    yield "/export", {"as": "csv"}
    found = re.search(r"/you/sessions/[0-9a-f-]{36}/end", other.get("/you").text)
    assert found
    yield found[0], {}


def late(cast: Cast, name: str = "olu") -> Browser:
    """Return a browser that was left open for longer than a password counts."""
    browser = cast.browser(name)
    cast.clock.forward(minutes=11)
    return browser


def kept(answer: Any) -> dict[str, str]:
    """Return what the page that asks for the password sends on."""
    form = answer.text.split('class="sheet"')[1].split("</form>")[0]
    return {html.unescape(name): html.unescape(value) for name, value in HIDDEN.findall(form)}


def asked(answer: Any) -> bool:
    return answer.status_code == 403 and ASKED in answer.text


def test_every_hard_act_asks_for_the_password_and_then_goes_on(cast: Cast) -> None:
    for path, form in [*hard_acts(cast)]:
        olu = late(cast)
        first = olu.post(path, form)
        assert asked(first), path
        assert asked(olu.post(path, {**kept(first), "confirm_password": "guess"})), path
        assert asked(olu.post(path, {**kept(first), "confirm_password": ""})), path
        done = olu.post(path, {**kept(first), "confirm_password": PASSWORD})
        assert done.status_code in (200, 303), (path, done.text)


def test_nothing_is_done_before_the_password_is_right(cast: Cast) -> None:
    with Session(cast.stores.read) as session:
        before = len(session.exec(select(Ticket)).all()), len(session.exec(select(Person)).all())
    acts = [*hard_acts(cast)]
    olu = late(cast)
    for path, form in acts:
        assert asked(olu.post(path, form)), path
    with Session(cast.stores.read) as session:
        tickets = session.exec(select(Ticket)).all()
        # Two sessions were opened meanwhile: the one to be ended, and the one that asked.
        assert (len(tickets) - 2, len(session.exec(select(Person)).all())) == before
        assert session.get_one(Person, cast.ids["tess"]).ended_at is None


def test_what_was_typed_goes_on_in_the_form_and_in_no_address(cast: Cast) -> None:
    olu = late(cast)
    first = olu.post("/people", {**INVITED, "password": "a secret", "new_password": "a secret", "code": "a secret"})
    assert 'action="/people"' in first.text
    assert kept(first).items() >= INVITED.items()
    assert "a secret" not in first.text
    assert "pia@" not in str(first.url) and "location" not in first.headers
    wrong = olu.post("/people", {**kept(first), "confirm_password": "guess"})
    assert "Wrong password." in wrong.text and "guess" not in wrong.text
    assert kept(wrong) == kept(first)
    done = olu.post("/people", {**kept(wrong), "confirm_password": PASSWORD})
    assert "Pia &#34;the &lt;mould&gt;&#34;, shown this once" in done.text
    assert olu.post("/people", {**kept(wrong), "confirm_password": PASSWORD}).text.count("<h2>Pia ") == 1


def test_for_ten_minutes_it_is_not_asked_again(cast: Cast) -> None:
    olu = late(cast)
    form = {**kept(olu.post("/tablets", {"name": "One"})), "confirm_password": PASSWORD}
    assert olu.post("/tablets", form).status_code == 200
    cast.clock.forward(minutes=9)
    assert olu.post("/tablets", {"name": "Two"}).status_code == 200
    cast.clock.forward(minutes=2)
    assert asked(olu.post("/tablets", {"name": "Three"}))
    assert asked(cast.browser("olu").post("/tablets", {"name": "Three"})) is False


def test_with_the_password_the_session_gets_another_secret(cast: Cast) -> None:
    olu = late(cast)
    before = olu.client.cookies[COOKIE]
    form = {**kept(olu.post("/tablets", {"name": "One"})), "confirm_password": "guess"}
    assert "set-cookie" not in olu.post("/tablets", form).headers
    cookie = olu.post("/tablets", {**form, "confirm_password": PASSWORD}).headers["set-cookie"]
    assert {"HttpOnly", "SameSite=lax", "Path=/"} <= {part.strip() for part in cookie.split(";")}
    statuses = []
    for secret in (before, cookie.split(";")[0].removeprefix(f"{COOKIE}=")):
        browser = cast.browser(None)
        browser.client.cookies.set(COOKIE, secret)
        statuses.append(browser.get("/people", follow_redirects=False).status_code)
    assert statuses == [303, 200]


def test_a_clock_that_went_back_confirms_nobody(cast: Cast) -> None:
    olu = cast.browser("olu")
    cast.clock.forward(minutes=-30)
    # A session that began in the future counts as none: its person signs in again.
    assert olu.get("/tablets", follow_redirects=False).headers["location"].startswith("/sign-in")
    olu.post("/tablets", {"name": "One"})
    assert "One" not in cast.browser("olu").get("/tablets").text


def test_with_htmx_the_whole_page_comes_and_its_form_goes_the_browsers_own_way(cast: Cast) -> None:
    headers = {"hx-request": "true", "hx-boosted": "true"}
    first = late(cast).post("/people", INVITED, headers=headers)
    assert asked(first) and first.headers["content-type"].startswith("text/html")
    assert 'hx-boost="false"' in first.text.split('class="sheet"')[1].split(">")[0]


def test_the_second_factor_is_shown_and_turned_on_after_the_password_only(cast: Cast) -> None:
    olu = late(cast)
    first = olu.get("/you/second-factor")
    assert asked(first) and 'action="/you/confirm"' in first.text
    assert asked(olu.post("/you/confirm", {**kept(first), "confirm_password": "guess"}))
    assert asked(olu.post("/you/confirm", kept(first)))
    led = olu.post("/you/confirm", {**kept(first), "confirm_password": PASSWORD})
    assert (led.status_code, led.headers["location"]) == (303, "/you/second-factor")
    secret = re.search(r'<p><code class="label">([A-Z2-7]{32})<', olu.get("/you/second-factor").text)
    assert secret
    cast.clock.forward(minutes=11)
    again = olu.post("/you/second-factor", {"drawn": "A" * 32, "code": pyotp.TOTP(secret[1]).at(cast.clock())})
    assert asked(again) and kept(again)["drawn"] == "A" * 32 and "code" not in kept(again)


def test_the_confirmation_leads_to_no_other_site(cast: Cast) -> None:
    sent = {"then": "//elsewhere.example", "confirm_password": PASSWORD}
    assert late(cast).post("/you/confirm", sent).headers["location"] == "/"


def test_guessing_the_password_there_is_counted_and_what_was_typed_stays(cast: Cast) -> None:
    olu = late(cast)
    for _ in range(10):
        assert asked(olu.post("/people", {**INVITED, "confirm_password": "guess"}))
    last = olu.post("/people", {**INVITED, "confirm_password": PASSWORD})
    assert last.status_code == 429 and 'value="pia@shop.example"' in last.text
    # Somebody who guesses here has no more tries at the password's other forms.
    form = {"form": "password", "password": PASSWORD, "new_password": "damp rope under straw"}
    assert olu.post("/you/password", form).status_code == 429


def test_one_browsers_password_confirms_no_other(cast: Cast) -> None:
    here, there = cast.browser("olu"), late(cast)
    form = {**kept(here.post("/tablets", {"name": "One"})), "confirm_password": PASSWORD}
    assert here.post("/tablets", form).status_code == 200
    assert asked(there.post("/tablets", {"name": "Two"}))


def test_the_password_of_somebody_else_confirms_nothing(cast: Cast) -> None:
    tess = cast.browser("tess")
    form = {"form": "password", "password": PASSWORD, "new_password": "damp rope under straw"}
    assert tess.post("/you/password", form).status_code == 303
    olu = late(cast)
    assert asked(olu.post("/tablets", {"name": "One", "confirm_password": "damp rope under straw"}))


def test_a_program_does_none_of_it_however_fresh_its_token(cast: Cast) -> None:
    people.make_token(cast.olu, person_id=cast.ids["olu"], role=Role.OWNER, token_sha256=sha256("t"), lasts_days=9)
    nobody = replace(cast.nobody, via=Via.API, request_key=uuid4().hex)
    known = sessions.recognise(nobody, token_sha256=sha256("t"), kind="api")
    assert known and known.caller.role is Role.OWNER
    with pytest.raises(PasswordNeeded):
        people.end_person(known.caller, person_id=cast.ids["tess"])


def test_the_acts_that_ask_are_these_and_no_other_does_so_by_chance(cast: Cast) -> None:
    asking = set()
    for name, use_case in USE_CASES.items():
        for who in (cast.olu, cast.tess):
            # The right is looked at first, before anything that the use case would need; without a key none writes.
            with contextlib.suppress(TypeError, Refusal):
                try:
                    use_case(replace(who, confirmed=False, request_key=None))
                except PasswordNeeded:
                    asking.add(name)
    assert asking == {
        "archive.hand_out", "device.enrol", "person.add_second_factor", "person.begin_second_factor", "person.end",
        "person.invite", "person.make_address", "person.reset", "readings.hand_out", "session.end_one",
        "shop.ask_second_factor", "token.make",
    }  # fmt: skip
