"""Today over HTTP: the first page of a technician, entries of tablets, and what others have just recorded."""

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from sqlmodel import Session, col, select

from service.app import create_app
from service.desk.curing import acts
from service.records import audit_log
from service.records.blocks import Soak
from service.records.tokens import Ticket
from service.settings import Settings
from tests.bench_rows import pressed_job
from tests.cast import Browser, Cast
from tests.mixes import a_ready_job

SOAKED = {"condition": "soaked", "soak_hours": 24.0}


@pytest.fixture
def wet(cast: Cast) -> dict[str, Any]:
    """Return the ids of three blocks that are to be put to soak now."""
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    return ids


def entry(
    cast: Cast, name: str = "tess", *, minutes: float, ahead_s: float = 0.0, known: bool = True
) -> dict[str, str]:
    """Return what a tablet says of an entry typed so many minutes ago, with a clock so far ahead."""
    off = timedelta(seconds=ahead_s)

    def ms(at: Any) -> str:
        return str(round((at + off).timestamp() * 1000))

    return {
        "Entry-Key": "k" * 32,
        "Entry-Person": str(cast.ids[name]),
        "Entry-At": ms(cast.clock.now - timedelta(minutes=minutes)),
        "Entry-Clock": str(round(ahead_s * 1000)) if known else "",
        "Entry-Sent": ms(cast.clock.now),
        "HX-Request": "true",
    }


def soak(browser: Browser, ids: dict[str, Any], headers: dict[str, str]) -> Any:
    data = {"request_key": "k" * 32, "block_ids": str(ids["1-A1-1"]), "back": "today"}
    return browser.post("/curing/soaks", data, headers=headers)


def test_a_technician_begins_with_what_is_to_be_done_now(cast: Cast, wet: dict[str, Any]) -> None:
    tess = cast.browser("tess")
    page = tess.get("/")
    assert page.url.path == "/today"
    assert "Soak 3 blocks of job 1" in page.text
    assert cast.browser("olu").get("/").url.path == "/"


def test_one_tap_does_it_and_one_more_undoes_it(cast: Cast, wet: dict[str, Any]) -> None:
    tess = cast.browser("tess")
    data = {"block_ids": [str(wet[f"1-A1-{n}"]) for n in (1, 2, 3)], "back": "today"}
    answer = tess.post("/curing/soaks", data)
    assert answer.headers["location"] == "/today"
    page = tess.get("/today").text
    assert "Nothing is to be done now" in page and "Put to soak" in page
    position = page.split("/today/undo/")[1].split('"')[0]
    assert tess.post(f"/today/undo/{position}").headers["location"] == "/today"
    assert "Soak 3 blocks of job 1" in tess.get("/today").text


def test_an_entry_is_acknowledged_by_its_key_however_often_it_comes(cast: Cast, wet: dict[str, Any]) -> None:
    tess = cast.browser("tess")
    told = []
    for _ in range(3):
        told.append(soak(tess, wet, entry(cast, minutes=30)).json())
        cast.clock.forward(seconds=20)
    assert told == [{"acknowledged": "k" * 32, "see": "/today"}] * 3
    with Session(cast.stores.read) as session:
        assert len(session.exec(select(Soak)).all()) == 1


@pytest.mark.parametrize(("ahead_s", "known"), [(0.0, True), (420.0, True), (-3600.0, True), (86400.0, False)])
def test_an_entry_is_of_when_it_was_typed_by_the_shops_clock(
    cast: Cast, wet: dict[str, Any], ahead_s: float, known: bool
) -> None:
    typed_at = cast.clock.now - timedelta(minutes=30)
    assert soak(cast.browser("tess"), wet, entry(cast, minutes=30, ahead_s=ahead_s, known=known)).status_code == 200
    with Session(cast.stores.read) as session:
        assert abs(session.exec(select(Soak.started_at)).one() - typed_at) < timedelta(seconds=1)
        told = audit_log.entries(session, limit=1)[0]
    # Both are kept: when it was typed, and when it arrived; and how wrong the clock of the tablet was.
    assert (told.at, f'"tablet_ahead_s":{round(ahead_s)}' in told.details) == (cast.clock.now, True)


def test_an_entry_of_somebody_else_waits_for_them(cast: Cast, wet: dict[str, Any]) -> None:
    answer = soak(cast.browser("olu"), wet, entry(cast, "tess", minutes=5))
    assert answer.status_code == 401
    with Session(cast.stores.read) as session:
        assert session.exec(select(Soak)).all() == []


def test_a_refused_entry_says_why_and_what_the_shop_holds(cast: Cast, wet: dict[str, Any]) -> None:
    acts.put_to_soak(cast.olu, block_ids=[wet["1-A1-1"]])
    tess = cast.browser("tess")
    answer = soak(tess, wet, entry(cast, minutes=5))
    assert answer.status_code == 409 and "Olu put 1-A1-1 into the water" in answer.json()["error"]
    held = tess.get(f"/unsent/shop?action=/curing/soaks&blocks={wet['1-A1-1']}").json()
    assert any("Olu" in text for word, text in held["lines"] if word == "In the water")


def test_a_form_finds_out_by_its_key_whether_it_arrived(cast: Cast, wet: dict[str, Any]) -> None:
    tess, key = cast.browser("tess"), uuid4().hex
    assert tess.get(f"/sent/{key}").json() == {"saved": False, "see": None}
    tess.post("/curing/soaks", {"request_key": key, "block_ids": str(wet["1-A1-1"])})
    batch = f"/batches/{wet['batch']}"
    assert tess.get(f"/sent/{key}").json() == {"saved": True, "see": batch}
    # Another person's key is another key; staff may ask for theirs.
    olu = cast.browser("olu")
    assert olu.get(f"/sent/{key}").json()["saved"] is False
    assert olu.get(f"/sent/{key}?person={cast.ids['tess']}").json()["saved"] is True
    assert cast.browser("cy").get(f"/sent/{key}?person={cast.ids['tess']}").status_code == 403


def test_what_one_tablet_records_another_is_told_by_another_replica(cast: Cast, wet: dict[str, Any]) -> None:
    other = create_app(Settings(database_url=str(cast.stores.read.url), address="http://localhost"), cast.stores)
    olu = cast.browser("olu")
    olu.client.app = other
    position = olu.get("/live?since=0").json()["position"]
    assert olu.get(f"/live?since={position}").json() == {"position": position, "changed": False}
    soak(cast.browser("tess"), wet, {})
    assert olu.get(f"/live?since={position}").json()["changed"] is True


def test_a_page_left_open_does_not_keep_its_person_signed_in(cast: Cast, wet: dict[str, Any]) -> None:
    tess = cast.browser("tess")
    tess.get("/today")

    def used() -> Any:
        with Session(cast.stores.read) as session:
            newest = select(Ticket.uses, Ticket.last_used_at).order_by(col(Ticket.created_at).desc()).limit(1)
            return session.exec(newest).one()

    before = used()
    cast.clock.forward(minutes=30)
    assert tess.get("/live?since=1").status_code == 200
    assert used() == before


def test_a_typed_label_leads_to_its_act_and_one_that_is_unknown_stays_in_its_field(
    cast: Cast, wet: dict[str, Any]
) -> None:
    tess = cast.browser("tess")
    assert tess.get("/find?label=1-a1-1").url.path == "/today"
    assert "Soak 1 block of job 1" in tess.get("/find?label=1-a1-1").text
    page = tess.get("/find?label=9-Z1-1")
    assert "Nothing carries this label" in page.text and 'value="9-Z1-1"' in page.text
    assert tess.get(f"/at/{wet['1-A1-1']}").url.path == "/today"
    assert tess.get(f"/find?label=https://bench.example/at/{wet['1-A1-1']}").url.params["block"]


def test_every_page_of_the_bench_follows_what_others_record(cast: Cast) -> None:
    job = a_ready_job(cast)
    batch = job.mix(job.plan(batches=1))
    block = job.press(batch, 1)
    paths = ("/today", "/curing", "/crushing", f"/batches/{batch}", f"/batches/{batch}/press", f"/blocks/{block}")
    more = (f"/jobs/{job.job_id}/mixing", f"/blocks/{block}/tests", f"/blocks/{block}/tests/absorption")
    tess = cast.browser("tess")
    assert [path for path in (*paths, *more) if tess.get(path).text.count("data-live") != 1] == []


def test_the_first_page_of_a_tablet_is_under_150_kb_over_the_wire(cast: Cast, wet: dict[str, Any]) -> None:
    client = cast.browser("tess").client

    def weight(path: str) -> int:
        with client.stream("GET", path, headers={"accept-encoding": "gzip"}) as answer:
            head = sum(len(name) + len(value) + 4 for name, value in answer.headers.raw)
            return head + len(b"".join(answer.iter_raw()))

    needed = re.findall(r'(?:href|src)="(/(?:static|vendor|manifest)[^"]+)"', client.get("/today").text)
    assert {"/vendor/htmx-2.min.js", "/static/all.js", "/static/all.css"} <= set(needed)
    assert sum(map(weight, ["/today", *dict.fromkeys(needed)])) < 150_000
