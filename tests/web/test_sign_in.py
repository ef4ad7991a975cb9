"""Signing in and out, one-use addresses, and what a stranger gets."""

import re
from datetime import UTC, datetime, timedelta

import pyotp
import pytest

from service.desk import people
from service.web.cookies import COOKIE
from tests.cast import PASSWORD, Cast


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: who comes in is counted under locks."""
    return cast_on_either


def test_the_right_password_opens_a_session_and_leads_back(cast: Cast) -> None:
    browser = cast.browser(None)
    answer = browser.post("/sign-in", {"email": "Olu@shop.example", "password": PASSWORD, "then": "/presses"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/presses")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert browser.get("/presses").status_code == 200


def test_a_password_is_taken_exactly_as_it_was_typed(cast: Cast) -> None:
    spaced = "  seven otters in violet "
    form = {"form": "password", "password": PASSWORD, "new_password": spaced}
    assert cast.browser("tess").post("/you/password", form).status_code == 303
    sent = {"email": "tess@shop.example", "password": spaced}
    assert cast.browser(None).post("/sign-in", {**sent, "password": spaced.strip()}).status_code == 422
    assert cast.browser(None).post("/sign-in", {**sent, "password": spaced.upper()}).status_code == 422
    assert cast.browser(None).post("/sign-in", sent).status_code == 303


def test_the_longest_password_with_something_behind_it_is_another(cast: Cast) -> None:
    longest = "seven otters in violet hats, " * 4 + "and 1 bear!!"
    assert len(longest) == 128
    form = {"form": "password", "password": PASSWORD, "new_password": longest}
    assert cast.browser("tess").post("/you/password", form).status_code == 303
    sent = {"email": "tess@shop.example", "password": longest}
    assert cast.browser(None).post("/sign-in", {**sent, "password": longest + "x"}).status_code == 422
    assert cast.browser(None).post("/sign-in", sent).status_code == 303


def test_a_wrong_password_and_an_unknown_address_get_the_same_sentence(cast: Cast) -> None:
    browser = cast.browser(None)
    wrong = browser.post("/sign-in", {"email": "olu@shop.example", "password": "guess"})
    unknown = browser.post("/sign-in", {"email": "who@shop.example", "password": "guess"})
    assert wrong.status_code == unknown.status_code == 422
    assert "Wrong e-mail or password." in wrong.text
    assert "Wrong e-mail or password." in unknown.text
    assert 'value="who@shop.example"' in unknown.text
    assert "guess" not in unknown.text


def test_with_htmx_the_sentence_comes_alone(cast: Cast) -> None:
    answer = cast.browser(None).post("/sign-in", {"email": "a@b", "password": "c"}, headers={"hx-request": "true"})
    assert answer.status_code == 422
    assert set(answer.json()) == {"error", "fields"}


def test_nobody_is_sent_to_another_site_after_signing_in(cast: Cast) -> None:
    for then in ("//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example"):
        form = {"email": "olu@shop.example", "password": PASSWORD, "then": then}
        assert cast.browser(None).post("/sign-in", form).headers["location"] == "/"


def test_a_page_sends_a_stranger_to_sign_in_and_the_api_says_401(cast: Cast) -> None:
    browser = cast.browser(None)
    page = browser.get("/presses", follow_redirects=False)
    assert (page.status_code, page.headers["location"]) == (303, "/sign-in?then=/presses")


def test_signing_out_ends_the_session_itself(cast: Cast) -> None:
    browser = cast.browser("olu")
    token = browser.client.cookies[COOKIE]
    assert browser.post("/sign-out").status_code == 303
    browser.client.cookies.set(COOKIE, token)
    assert browser.get("/you", follow_redirects=False).status_code == 303


def test_signing_out_empties_the_browser_and_leaves_it_a_tablet_of_the_shop(cast: Cast) -> None:
    browser = cast.browser("olu")
    answer = browser.post("/sign-out")
    assert answer.headers["clear-site-data"] == '"cache", "storage"'
    assert re.findall(r"(loambook[\w-]*)=", answer.headers["set-cookie"]) == [COOKIE]
    assert "clear-site-data" not in browser.get("/sign-in").headers


def test_looking_at_a_one_use_address_does_not_spend_it_and_using_it_does(cast: Cast) -> None:
    made = cast.browser("olu").post(f"/people/{cast.ids['tess']}/address")
    path = made.text.split('<code class="label">http://localhost')[1].split("<")[0]
    stranger = cast.browser(None)
    for _ in range(2):
        assert "Welcome, Tess" in stranger.get(path).text
    assert stranger.post(path).headers["location"] == "/"
    assert stranger.get("/").status_code == 200
    assert cast.browser(None).get(path).status_code == 404


def test_a_one_use_address_ends_after_a_week(cast: Cast) -> None:
    made = cast.browser("olu").post(f"/people/{cast.ids['tess']}/address")
    path = made.text.split('<code class="label">http://localhost')[1].split("<")[0]
    cast.clock.forward(days=7)
    assert cast.browser(None).post(path).status_code == 404


def test_signing_in_again_ends_the_session_that_the_browser_had(cast: Cast) -> None:
    browser = cast.browser("tess")
    before = browser.client.cookies[COOKIE]
    assert browser.post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD}).status_code == 303
    assert browser.get("/people").status_code == 200
    late = cast.browser(None)
    late.client.cookies.set(COOKIE, before)
    assert late.get("/jobs", follow_redirects=False).status_code == 303


def test_whoever_lost_the_password_chooses_another_at_his_address_and_not_without_his_second_factor(cast: Cast) -> None:
    _, codes = turn_on(cast, "tess")
    there = cast.browser("tess")
    made = cast.browser("olu").post(f"/people/{cast.ids['tess']}/address")
    path = made.text.split('<code class="label">http://localhost')[1].split("<")[0]
    chosen = {"new_password": "seven otters in violet"}
    assert cast.browser(None).post(path, chosen).status_code == 422
    assert cast.browser(None).post(path, {**chosen, "code": codes[0]}).status_code == 303
    sent = {"email": "tess@shop.example", "password": chosen["new_password"]}
    assert "phone code is needed" in cast.browser(None).post("/sign-in", sent).text
    assert cast.browser(None).post("/sign-in", {**sent, "code": codes[1]}).status_code == 303
    assert there.get("/you", follow_redirects=False).status_code == 303


def test_turning_the_second_factor_on_or_off_ends_the_other_sessions(cast: Cast) -> None:
    there = cast.browser("cy")
    turn_on(cast, "cy")
    assert there.get("/you", follow_redirects=False).status_code == 303
    there, here = cast.browser("cy"), cast.browser("cy")
    assert here.post("/you/second-factor/end", {"form": "off", "password": PASSWORD}).status_code == 303
    assert here.get("/you").status_code == 200
    assert there.get("/you", follow_redirects=False).status_code == 303


def test_an_invitation_needs_a_password_of_some_length(cast: Cast) -> None:
    form = {"form": "invite", "name": "Pia", "email": "pia@shop.example", "role": "technician"}
    made = cast.browser("olu").post("/people", form)
    path = made.text.split('<code class="label">http://localhost')[1].split("<")[0]
    short = cast.browser(None).post(path, {"new_password": "short"})
    assert short.status_code == 422
    assert "Between 12 and 128 characters." in short.text
    assert cast.browser(None).post(path, {"new_password": "long enough for this"}).status_code == 303


def test_a_form_from_another_site_is_refused(cast: Cast) -> None:
    browser = cast.browser("olu")
    answer = browser.post("/materials", {"name": "x", "kind": "sand"}, headers={"sec-fetch-site": "cross-site"})
    assert answer.status_code == 403
    del browser.client.headers["sec-fetch-site"]
    bad = browser.post("/materials", {"name": "x", "kind": "sand"}, headers={"origin": "http://elsewhere.example"})
    assert bad.status_code == 403
    silent = browser.post("/materials", {"name": "x", "kind": "sand"})
    assert silent.status_code == 403
    good = browser.post("/materials", {"name": "x", "kind": "sand"}, headers={"origin": "http://localhost"})
    assert good.status_code == 303


def test_an_unknown_address_is_a_page_for_people_and_json_for_programs(cast: Cast) -> None:
    page = cast.browser("olu").get("/no-such-thing")
    assert page.status_code == 404
    assert "Not found" in page.text
    told = cast.browser("olu").get("/api/v1/no-such-thing")
    assert told.status_code == 404
    assert set(told.json()) == {"error", "fields"}


def test_an_address_with_no_id_in_it_is_simply_not_found(cast: Cast) -> None:
    assert cast.browser("olu").get("/jobs/not-an-id").status_code == 404


def test_every_answer_carries_its_headers(cast: Cast) -> None:
    headers = cast.browser(None).get("/sign-in").headers
    assert "script-src 'self'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["cache-control"] == "private, no-store"
    assert headers["x-request-id"]


def test_after_too_many_tries_even_the_right_password_waits(cast: Cast) -> None:
    browser = cast.browser(None)
    for _ in range(10):
        assert browser.post("/sign-in", {"email": "olu@shop.example", "password": "guess"}).status_code == 422
    late = browser.post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD})
    assert late.status_code == 429
    assert "Too many tries" in late.text
    assert browser.post("/sign-in", {"email": "tess@shop.example", "password": PASSWORD}).status_code == 303
    cast.clock.forward(minutes=16)
    assert browser.post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD}).status_code == 303


def test_guessing_addresses_is_counted(cast: Cast) -> None:
    browser = cast.browser(None)
    answers = [browser.get(f"/sign-in/guess-{number}").status_code for number in range(101)]
    assert answers[0] == 404
    assert answers[-1] == 429


def test_an_idle_session_ends_and_a_used_one_goes_on_until_its_last_day(cast: Cast) -> None:
    idle, used = cast.browser("tess"), cast.browser("tess")
    for _ in range(3):
        cast.clock.forward(hours=20)
        assert used.get("/").status_code == 200
    assert idle.get("/you", follow_redirects=False).status_code == 303
    for _ in range(16):
        cast.clock.forward(hours=20)
        used.get("/")
    assert used.get("/you", follow_redirects=False).status_code == 303


def test_a_common_password_is_refused(cast: Cast) -> None:
    form = {"form": "password", "password": PASSWORD}
    for common in ("password1234", "qwertyqwerty", "111111111111", "iloveyou!!!!", "monkeydragon1", "m1ch43l19871"):
        answer = cast.browser("tess").post("/you/password", {**form, "new_password": common})
        assert answer.status_code == 422
        assert "Many people use one like this" in answer.text
    assert (
        cast.browser("tess").post("/you/password", {**form, "new_password": "damp loam under straw"}).status_code == 303
    )


@pytest.mark.parametrize(
    "guessable",
    [
        "cement-wall-cement",
        "CompressedEarth1",
        "Adobe-adobe-2027",
        "4d0b3_bl0ck5_99",
        "loambook2027!!",
        "sample soil bench",
        "tess@shop.example",
        "Tess.Tess.Tess.1",
    ],
)
def test_a_password_of_words_of_the_trade_the_shop_or_the_person_is_refused(cast: Cast, guessable: str) -> None:
    form = {"form": "password", "password": PASSWORD, "new_password": guessable}
    answer = cast.browser("tess").post("/you/password", form)
    assert answer.status_code == 422
    assert "words of this trade, the shop or your name" in answer.text
    assert f'value="{guessable}"' not in answer.text


@pytest.mark.parametrize(
    "good", ["cement mixer eats violets", "seven otters wear adobe", "oluwaseun ran uphill", "correct 4 violet otters"]
)
def test_such_a_word_may_be_a_small_part_of_a_password(cast: Cast, good: str) -> None:
    form = {"form": "password", "password": PASSWORD, "new_password": good}
    assert cast.browser("tess").post("/you/password", form).status_code == 303


def test_an_invitation_refuses_the_name_of_who_is_invited_as_password(cast: Cast) -> None:
    form = {"form": "invite", "name": "Wilhelmina Oakes", "email": "minna@shop.example", "role": "technician"}
    made = cast.browser("olu").post("/people", form)
    path = made.text.split('<code class="label">http://localhost')[1].split("<")[0]
    refused = cast.browser(None).post(path, {"new_password": "wilhelminaoakes7"})
    assert refused.status_code == 422 and "words of this trade" in refused.text
    assert cast.browser(None).post(path, {"new_password": "seven otters in violet"}).status_code == 303


def test_changing_the_password_ends_the_other_sessions(cast: Cast) -> None:
    here, there = cast.browser("tess"), cast.browser("tess")
    form = {"form": "password", "password": PASSWORD, "new_password": "damp loam under straw"}
    assert here.post("/you/password", form).status_code == 303
    assert here.get("/you").status_code == 200
    assert there.get("/you", follow_redirects=False).status_code == 303


def test_somebody_elses_session_cannot_be_ended(cast: Cast) -> None:
    tess = cast.browser("tess")
    cast.browser("tess")
    other = re.search(r"/you/sessions/([0-9a-f-]{36})/end", tess.get("/you").text)
    assert other
    assert cast.browser("cy").post(f"/you/sessions/{other[1]}/end").status_code == 404
    assert tess.post(f"/you/sessions/{other[1]}/end").status_code == 303


def turn_on(cast: Cast, name: str) -> tuple[str, list[str]]:
    browser = cast.browser(name)
    page = browser.get("/you/second-factor").text
    drawn = re.search(r'name="drawn" value="([A-Z2-7]{32})"', page)
    secret = re.search(r'<p><code class="label">([A-Z2-7]{32})<', page)
    assert drawn and secret and drawn[1] != secret[1]
    code = pyotp.TOTP(secret[1]).at(cast.clock())
    answer = browser.post("/you/second-factor", {"drawn": drawn[1], "code": code})
    assert answer.status_code == 200
    return secret[1], re.findall(r'<li><code class="label">((?:[0-9a-f]{4} ){7}[0-9a-f]{4})</code>', answer.text)


def test_the_second_factor_is_asked_for_and_each_code_works_once(cast: Cast) -> None:
    secret, _ = turn_on(cast, "olu")
    form = {"email": "olu@shop.example", "password": PASSWORD}
    assert "phone code is needed" in cast.browser(None).post("/sign-in", form).text
    assert cast.browser(None).post("/sign-in", {**form, "code": "000000"}).status_code == 422
    cast.clock.forward(seconds=60)
    code = pyotp.TOTP(secret).at(cast.clock())
    assert cast.browser(None).post("/sign-in", {**form, "code": code}).status_code == 303
    assert "used already" in cast.browser(None).post("/sign-in", {**form, "code": code}).text


@pytest.mark.parametrize(
    ("late_s", "status"), [(0, 303), (29, 303), (30, 303), (39, 303), (40, 422), (59, 422), (-1, 422)]
)
def test_a_code_is_taken_for_its_half_minute_and_ten_seconds_more(cast: Cast, late_s: int, status: int) -> None:
    secret, _ = turn_on(cast, "olu")
    cast.clock.now = datetime(2027, 3, 1, 17, 0, tzinfo=UTC)
    code = pyotp.TOTP(secret).at(cast.clock())
    cast.clock.forward(seconds=late_s)
    form = {"email": "olu@shop.example", "password": PASSWORD, "code": code}
    assert cast.browser(None).post("/sign-in", form).status_code == status


def test_a_code_is_of_no_use_once_a_later_one_was_used(cast: Cast) -> None:
    secret, _ = turn_on(cast, "olu")
    cast.clock.now = datetime(2027, 3, 1, 17, 0, 32, tzinfo=UTC)
    codes = [pyotp.TOTP(secret).at(cast.clock() - timedelta(seconds=ago)) for ago in (0, 30)]
    form = {"email": "olu@shop.example", "password": PASSWORD}
    statuses = [cast.browser(None).post("/sign-in", {**form, "code": code}).status_code for code in codes]
    assert statuses == [303, 422]


def test_a_recovery_code_works_once(cast: Cast) -> None:
    _, codes = turn_on(cast, "olu")
    assert len(codes) == 8
    form = {"email": "olu@shop.example", "password": PASSWORD, "code": codes[0]}
    assert cast.browser(None).post("/sign-in", form).status_code == 303
    # Typed in capitals and without its spaces it is the same code, which was used.
    for again in (codes[0], codes[0].replace(" ", "").upper()):
        assert cast.browser(None).post("/sign-in", {**form, "code": again}).status_code == 422
    form["code"] = codes[1].replace(" ", "").upper()
    assert cast.browser(None).post("/sign-in", form).status_code == 303


def test_a_wrong_code_turns_nothing_on(cast: Cast) -> None:
    browser = cast.browser("olu")
    form = {"drawn": pyotp.random_base32(), "code": "123"}
    answer = browser.post("/you/second-factor", form)
    assert answer.status_code == 422
    assert form["drawn"] in answer.text
    assert "Phone code" in browser.get("/you").text


def test_the_second_factor_is_turned_off_with_the_password(cast: Cast) -> None:
    turn_on(cast, "olu")
    browser = cast.browser("olu")
    assert browser.post("/you/second-factor/end", {"form": "off", "password": "guess"}).status_code == 422
    assert browser.post("/you/second-factor/end", {"form": "off", "password": PASSWORD}).status_code == 303
    assert cast.browser(None).post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD}).status_code == 303


def test_whoever_was_let_go_comes_in_no_longer_by_session_or_token(cast: Cast) -> None:
    tess, program = cast.browser("tess"), cast.program("tess")
    assert (tess.get("/jobs").status_code, program.get("/api/v1/jobs").status_code) == (200, 200)
    people.end_person(cast.olu, person_id=cast.ids["tess"])
    sent = tess.client.get("/jobs", follow_redirects=False)
    assert sent.status_code == 303 and sent.headers["location"].startswith("/sign-in")
    assert program.get("/api/v1/jobs").status_code == 401
