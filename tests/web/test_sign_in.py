"""Signing in and out, one-use addresses, and what a stranger gets."""

from service.web.caller import COOKIE
from tests.cast import PASSWORD, Cast


def test_the_right_password_opens_a_session_and_leads_back(cast: Cast) -> None:
    browser = cast.browser(None)
    answer = browser.post("/sign-in", {"email": "Olu@shop.example", "password": PASSWORD, "then": "/presses"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/presses")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert browser.get("/presses").status_code == 200


def test_a_wrong_password_and_an_unknown_address_get_the_same_sentence(cast: Cast) -> None:
    browser = cast.browser(None)
    wrong = browser.post("/sign-in", {"email": "olu@shop.example", "password": "guess"})
    unknown = browser.post("/sign-in", {"email": "who@shop.example", "password": "guess"})
    assert wrong.status_code == unknown.status_code == 422
    assert "do not belong together" in wrong.text
    assert "do not belong together" in unknown.text
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
    assert browser.get("/", follow_redirects=False).status_code == 303


def test_looking_at_a_one_use_address_does_not_spend_it_and_using_it_does(cast: Cast) -> None:
    made = cast.browser("olu").post(f"/people/{cast.ids['tess']}/address")
    path = made.text.split('<code class="label">http://localhost')[1].split("<")[0]
    stranger = cast.browser(None)
    for _ in range(2):
        assert "Good day, Tess" in stranger.get(path).text
    assert stranger.post(path).headers["location"] == "/"
    assert stranger.get("/").status_code == 200
    assert cast.browser(None).get(path).status_code == 404


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
    good = browser.post("/materials", {"name": "x", "kind": "sand"}, headers={"origin": "http://localhost"})
    assert good.status_code == 303


def test_an_unknown_address_is_a_page_for_people_and_json_for_programs(cast: Cast) -> None:
    page = cast.browser("olu").get("/no-such-thing")
    assert page.status_code == 404
    assert "Nothing here" in page.text
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
    assert headers["x-request-id"]
