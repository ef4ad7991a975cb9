"""What a browser is told and what it is refused: headers, cookies, sizes, hosts, and links to one result."""

from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from sqlmodel import Session, select
from starlette.responses import PlainTextResponse
from starlette.testclient import TestClient

from service.app import create_app
from service.desk.results import live, share_links
from service.desk.signing_in.lifetimes_and_tries import MOST_TRIES
from service.paper import issuing
from service.records.tokens import Ticket
from service.settings import Settings
from service.web.authentication import sha256
from service.web.joined_files import FOLDER, ON_PAPER, SCRIPTS, STYLES, joined
from service.web.request_guard import MOST_REQUEST_BYTES, Guard
from tests.cast import PASSWORD, Cast
from tests.trials import a_tried_job


@pytest.fixture
def over_https(cast: Cast, tmp_path: Path) -> TestClient:
    settings = Settings(data=tmp_path, address="https://localhost")
    return TestClient(create_app(settings, cast.stores), base_url="https://localhost")


@pytest.fixture
def link(cast: Cast) -> str:
    tried = a_tried_job(cast)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issued_id = issuing.issue(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    last_day = (cast.clock.now + timedelta(days=5)).date()
    share_links.make(cast.olu, issued_id=issued_id, token_sha256=sha256("a link"), last_day=last_day)
    return "/shared/a%20link"


def uses(cast: Cast) -> int:
    with Session(cast.stores.read) as session:
        return session.exec(select(Ticket.uses).where(Ticket.kind == "share")).one()


def test_over_https_browsers_are_told_to_stay_there(over_https: TestClient, cast: Cast) -> None:
    # Names below the shop's own are spoken for only where the owner said so.
    assert over_https.get("/sign-in").headers["strict-transport-security"] == "max-age=31536000"
    with_others = Guard(PlainTextResponse("well"), https=True, subdomains=True)
    assert "includeSubDomains" in TestClient(with_others).get("/").headers["strict-transport-security"]
    assert "strict-transport-security" not in cast.browser(None).get("/sign-in").headers


def test_over_https_the_session_cookie_never_travels_in_the_open(over_https: TestClient) -> None:
    sent = {"email": "olu@shop.example", "password": PASSWORD}
    cookie = over_https.post("/sign-in", data=sent, follow_redirects=False).headers["set-cookie"].lower()
    assert {"secure", "httponly", "samesite=lax", "path=/"} <= {part.strip() for part in cookie.split(";")}
    assert "domain=" not in cookie


@pytest.mark.parametrize("path", ["/sign-in", "/static/forms.js", "/nothing-here", "/api/v1/jobs"])
def test_no_answer_may_be_framed_or_read_as_something_else(cast: Cast, path: str) -> None:
    headers = cast.browser(None).get(path).headers
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert (headers["x-content-type-options"], headers["x-frame-options"]) == ("nosniff", "DENY")


def test_a_host_that_is_not_ours_is_not_answered(cast: Cast) -> None:
    assert cast.browser(None).get("/sign-in", headers={"host": "elsewhere.example"}).status_code == 400


def test_more_than_may_be_sent_is_refused_whether_it_says_so_or_not(cast: Cast) -> None:
    client = cast.browser("tess").client
    said = client.post("/jobs", content=b"x" * (MOST_REQUEST_BYTES + 1))
    assert said.status_code == 413
    # A file may be longer than a field, so that nothing but the guard counts it.
    head = b'--x\r\nContent-Disposition: form-data; name="name"; filename="a"\r\n\r\n'
    parts = (part for part in (head, *[b"x" * 65_536] * (MOST_REQUEST_BYTES // 65_536 + 1), b"\r\n--x--\r\n"))
    unsaid = client.post("/customers", content=parts, headers={"content-type": "multipart/form-data; boundary=x"})
    assert unsaid.status_code == 413


def test_a_forged_forwarded_address_does_not_escape_the_count(cast: Cast) -> None:
    # The proxy's word is taken by the server in front of the application, and only for LOAMBOOK_PROXIES.
    browser = cast.browser(None)
    answers = [
        browser.get(f"/sign-in/{uuid4().hex}", headers={"x-forwarded-for": f"10.0.0.{place}"}).status_code
        for place in range(MOST_TRIES["from"] + 1)
    ]
    assert (answers[0], answers[-1]) == (404, 429)


def test_a_shared_result_leaves_no_trace_and_is_counted(cast: Cast, link: str) -> None:
    answer = cast.browser(None).get(link)
    assert answer.status_code == 200
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert "noindex" in answer.headers["x-robots-tag"]
    assert "private" in answer.headers["cache-control"] or "no-store" in answer.headers["cache-control"]
    assert uses(cast) == 1
    cast.browser(None).get(f"{link}/pdf")
    assert uses(cast) == 2


def test_guessing_links_is_counted_and_following_one_is_not(cast: Cast, link: str) -> None:
    browser, most = cast.browser(None), MOST_TRIES["from"]
    answers = [browser.get(f"/shared/{uuid4().hex}").status_code for _ in range(most + 1)]
    assert (answers[0], answers[-1]) == (404, 429)
    assert browser.get(link).status_code == 200


def test_no_other_site_is_let_read_an_answer(cast: Cast) -> None:
    headers = cast.program("olu").get("/api/v1/jobs", headers={"origin": "https://elsewhere.example"}).headers
    assert [name for name in headers if name.startswith("access-control")] == []


@pytest.mark.parametrize("path", ["/sign-in", "/api/v1/jobs", "/health/live"])
def test_a_method_that_nobody_needs_is_refused(cast: Cast, path: str) -> None:
    for method in ("TRACE", "PUT", "PATCH", "DELETE", "OPTIONS"):
        assert cast.program("olu").request(method, path).status_code == 405, method


@pytest.mark.parametrize(
    "path", ["/static/", "/static", "/vendor/", "/static/../app.py", "/static/%2e%2e/app.py", "/.git/config"]
)
def test_no_folder_is_listed_and_nothing_beside_it_is_served(cast: Cast, path: str) -> None:
    assert cast.browser(None).get(path).status_code == 404


@pytest.mark.parametrize(
    ("path", "kind"),
    [
        ("/sign-in", "text/html; charset=utf-8"),
        ("/nothing-here", "text/html; charset=utf-8"),
        ("/api/v1/nothing-here", "application/json"),
        ("/static/forms.js", "text/javascript; charset=utf-8"),
        ("/static/bench.css", "text/css; charset=utf-8"),
        ("/static/all.js", "text/javascript; charset=utf-8"),
        ("/static/all.css", "text/css; charset=utf-8"),
        ("/health/live", "text/plain; charset=utf-8"),
    ],
)
def test_an_answer_says_what_it_is_and_in_which_letters(cast: Cast, path: str, kind: str) -> None:
    assert cast.browser(None).get(path).headers["content-type"] == kind


def test_every_style_and_script_is_in_what_each_page_loads() -> None:
    there = {path.name for path in FOLDER.iterdir() if path.suffix in (".css", ".js")}
    assert there == {*STYLES, ON_PAPER, *SCRIPTS, "service-worker.js"}
    assert all((FOLDER / name).read_text("utf-8") in joined("all.js") for name in SCRIPTS)
