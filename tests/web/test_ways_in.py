"""A second factor that the shop asks of its owners, a way in that is reset, and cookies and proxies at the door."""

import re
from pathlib import Path
from uuid import uuid4

import pyotp
import pytest
from sqlmodel import Session, select
from starlette.testclient import TestClient

from service.app import create_app, server_config
from service.desk import people
from service.desk.doorway import Role
from service.desk.signing_in import lifetimes_and_tries
from service.records.database import METADATA
from service.records.people import Person
from service.settings import Settings
from service.web.authentication import sha256
from service.web.cookies import COOKIE
from tests.cast import PASSWORD, Browser, Cast
from tests.web.test_sign_in import turn_on
from tests.web.test_tablets import switched_on

ADDRESS = re.compile(r'<code class="label">http://localhost([^<]+)<')


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: who comes in is counted under locks."""
    return cast_on_either


def ask_for_it(cast: Cast, needed: str = "owners") -> None:
    answer = cast.browser("olu").post("/settings/second-factor", {"form": "factor", "needed": needed})
    assert answer.status_code == 303


def test_an_owner_without_the_second_factor_his_shop_asks_for_can_do_nothing_else(cast: Cast) -> None:
    ask_for_it(cast)
    olu = cast.browser("olu")
    for path in ("/", "/jobs", "/people", "/you", "/settings", "/calculator", "/backups"):
        answer = olu.get(path, follow_redirects=False)
        assert (answer.status_code, answer.headers.get("location")) == (303, "/you/second-factor"), path
    for path in ("/customers", "/people", "/settings/second-factor", "/you/second-factor/end", "/you/password"):
        form = {"name": "x", "needed": "nobody", "password": PASSWORD, "new_password": "damp loam under straw"}
        assert olu.post(path, form).headers["location"] == "/you/second-factor", path
    assert olu.get("/api/v1/jobs").status_code == 403
    assert "This shop asks for a phone code" in olu.get("/you/second-factor").text
    assert olu.post("/sign-out").headers["location"] == "/sign-in"


def test_once_it_is_on_the_owner_goes_on_working_and_cannot_turn_it_off(cast: Cast) -> None:
    ask_for_it(cast)
    turn_on(cast, "olu")
    olu = cast.browser("olu")
    assert olu.get("/people").status_code == 200
    answer = olu.post("/you/second-factor/end", {"form": "off", "password": PASSWORD})
    assert answer.status_code == 422 and "asks for a phone code" in answer.text
    ask_for_it(cast, "nobody")
    assert olu.post("/you/second-factor/end", {"form": "off", "password": PASSWORD}).status_code == 303


def test_it_is_asked_of_owners_and_their_programs_and_of_nobody_else(cast: Cast) -> None:
    programs = {role: uuid4().hex for role in (Role.OWNER, Role.TECHNICIAN)}
    for role, token in programs.items():
        people.make_token(cast.olu, person_id=cast.ids["olu"], role=role, token_sha256=sha256(token), lasts_days=9)
    ask_for_it(cast)
    client = TestClient(cast.app, base_url="http://localhost")
    asked = [client.get("/api/v1/jobs", headers={"authorization": f"Bearer {token}"}) for token in programs.values()]
    assert [answer.status_code for answer in asked] == [403, 200]
    assert [cast.browser(name).get("/").status_code for name in ("tess", "cy")] == [200, 200]


def test_it_can_be_asked_of_everybody_but_who_comes_in_by_pin_on_a_tablet(cast: Cast) -> None:
    tablet, program = switched_on(cast), cast.program("tess")
    ask_for_it(cast, "everybody")
    for name in ("olu", "tess", "cy"):
        answer = cast.browser(name).get("/", follow_redirects=False)
        assert answer.headers["location"] == "/you/second-factor", name
    assert program.get("/api/v1/jobs").status_code == 403
    assert tablet.get("/curing").status_code == 200
    turn_on(cast, "cy")
    assert cast.browser("cy").get("/").status_code == 200
    off = cast.browser("cy").post("/you/second-factor/end", {"form": "off", "password": PASSWORD})
    assert off.status_code == 422 and "asks for a phone code" in off.text


def test_only_an_owner_asks_for_it(cast: Cast) -> None:
    assert cast.browser("tess").post("/settings/second-factor", {"needed": "everybody"}).status_code == 403


def test_what_the_database_keeps_of_a_second_factor_is_not_its_secret(cast: Cast) -> None:
    secret, _ = turn_on(cast, "olu")
    with Session(cast.stores.read) as session:
        olu = session.get(Person, cast.ids["olu"])
    assert olu and olu.totp_secret
    assert pyotp.TOTP(olu.totp_secret).at(cast.clock()) != pyotp.TOTP(secret).at(cast.clock())
    with cast.stores.read.connect() as connection:
        kept = [str(connection.execute(select(table)).all()) for table in METADATA.tables.values()]
    assert olu.totp_secret in "".join(kept) and secret not in "".join(kept)


def test_a_second_factor_that_is_on_is_not_exchanged_without_the_password(cast: Cast) -> None:
    secret, _ = turn_on(cast, "olu")
    cast.clock.forward(minutes=2)
    answer = cast.browser("olu").post("/you/second-factor", {"drawn": "A" * 32, "code": "123456"})
    assert answer.status_code == 422 and "on already" in answer.text
    form = {"email": "olu@shop.example", "password": PASSWORD, "code": pyotp.TOTP(secret).at(cast.clock())}
    assert cast.browser(None).post("/sign-in", form).status_code == 303


def made_address(cast: Cast, path: str) -> str:
    found = ADDRESS.search(cast.browser("olu").post(path).text)
    assert found
    return found[1]


def test_a_sign_in_address_does_not_go_round_the_second_factor(cast: Cast) -> None:
    secret, codes = turn_on(cast, "tess")
    cast.clock.forward(minutes=2)
    path = made_address(cast, f"/people/{cast.ids['tess']}/address")
    stranger = cast.browser(None)
    assert "Phone code" in stranger.get(path).text
    assert stranger.post(path).status_code == stranger.post(path, {"code": "000000"}).status_code == 422
    assert stranger.post(path, {"code": pyotp.TOTP(secret).at(cast.clock())}).status_code == 303
    again = made_address(cast, f"/people/{cast.ids['tess']}/address")
    assert cast.browser(None).post(again, {"code": codes[0]}).status_code == 303


def test_the_owner_resets_a_way_in_and_nothing_of_the_old_one_is_left(cast: Cast) -> None:
    turn_on(cast, "tess")
    tess, program = cast.browser("tess"), cast.program("tess")
    unused = made_address(cast, f"/people/{cast.ids['tess']}/address")
    path = made_address(cast, f"/people/{cast.ids['tess']}/reset")
    assert tess.get("/you", follow_redirects=False).status_code == 303
    assert program.get("/api/v1/jobs").status_code == 401
    assert cast.browser(None).get(unused).status_code == 404
    sent = {"email": "tess@shop.example", "password": PASSWORD}
    assert cast.browser(None).post("/sign-in", sent).status_code == 422
    assert cast.browser(None).post(path, {"new_password": "damp loam under straw"}).status_code == 303
    assert cast.browser(None).post("/sign-in", {**sent, "password": "damp loam under straw"}).status_code == 303


def test_an_owner_resets_nobody_who_is_not_there_and_not_himself(cast: Cast) -> None:
    olu = cast.browser("olu")
    assert olu.post(f"/people/{uuid4()}/reset").status_code == 404
    assert olu.post(f"/people/{cast.ids['olu']}/reset").status_code == 422
    assert cast.browser("tess").post(f"/people/{cast.ids['olu']}/reset").status_code == 403


def test_whoever_is_let_in_no_longer_is_out_at_once(cast: Cast) -> None:
    tess, program = cast.browser("tess"), cast.program("tess")
    assert cast.browser("olu").post(f"/people/{cast.ids['tess']}/end").status_code == 303
    assert tess.get("/you", follow_redirects=False).status_code == 303
    assert program.get("/api/v1/jobs").status_code == 401


def test_a_program_is_out_after_its_last_day_and_when_its_token_is_ended(cast: Cast) -> None:
    first, second = cast.program("tess"), cast.program("tess")
    end = re.search(r'action="(/tokens/[0-9a-f-]{36}/end)"', cast.browser("olu").get("/people").text)
    assert end and cast.browser("olu").post(end[1]).status_code == 303
    assert sorted(one.get("/api/v1/jobs").status_code for one in (first, second)) == [200, 401]
    cast.clock.forward(days=31)
    assert {one.get("/api/v1/jobs").status_code for one in (first, second)} == {401}


def over(cast: Cast, address: str, tmp_path: Path) -> Browser:
    client = TestClient(create_app(Settings(data=tmp_path, address=address), cast.stores), base_url=address)
    client.headers["sec-fetch-site"] = "same-origin"
    return Browser(client)


def test_over_https_a_neighbour_cannot_plant_a_session(cast: Cast, tmp_path: Path) -> None:
    browser = over(cast, "https://localhost", tmp_path)
    answer = browser.post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD})
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(f"__Host-{COOKIE}=")
    assert {"Secure", "Path=/", "HttpOnly"} <= {part.strip() for part in cookie.split(";")}
    assert browser.get("/people").status_code == 200
    planted = over(cast, "https://localhost", tmp_path)
    planted.client.cookies.set(COOKIE, browser.client.cookies[f"__Host-{COOKIE}"])
    assert planted.get("/people", follow_redirects=False).status_code == 303
    assert browser.post("/materials", {"name": "x"}, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    gone = browser.post("/sign-out").headers["set-cookie"]
    assert gone.startswith(f'__Host-{COOKIE}=""') and "Secure" in gone


def test_over_plain_http_on_this_machine_the_cookie_has_its_plain_name(cast: Cast) -> None:
    answer = cast.browser(None).post("/sign-in", {"email": "olu@shop.example", "password": PASSWORD})
    assert answer.headers["set-cookie"].startswith(f"{COOKIE}=")


@pytest.mark.parametrize(
    ("proxies", "from_where", "is_believed"),
    [("10.0.0.9", "10.0.0.9", True), ("10.0.0.9", "10.0.0.8", False), ("", "127.0.0.1", False)],
    ids=["the proxy that is named", "another machine", "no proxy named"],
)
def test_the_word_of_a_proxy_is_taken_only_where_the_settings_name_it(
    cast: Cast, tmp_path: Path, proxies: str, from_where: str, is_believed: bool
) -> None:
    settings = Settings(data=tmp_path, address="http://localhost", proxies=proxies)  # type: ignore[arg-type]
    config = server_config(settings, cast.app)
    config.load()
    client = TestClient(config.loaded_app, base_url="http://localhost", client=(from_where, 1))
    most = lifetimes_and_tries.MOST_TRIES["from"]
    statuses = [
        client.get(f"/sign-in/{uuid4().hex}", headers={"x-forwarded-for": f"192.0.2.{place}"}).status_code
        for place in range(most + 1)
    ]
    assert statuses == [404] * most + [404 if is_believed else 429]


@pytest.mark.parametrize(
    ("name", "link"), [("olu", 'href="/people"'), ("tess", 'href="/crushing"'), ("cy", 'href="/soils"')]
)
def test_whoever_is_signed_in_keeps_his_menu_at_an_unknown_address(cast: Cast, name: str, link: str) -> None:
    page = cast.browser(name).get("/no-such-thing")
    assert page.status_code == 404 and link in page.text and "Sign out" in page.text
    assert "Sign out" not in cast.browser(None).get("/no-such-thing").text
