"""The owner's page of archives, the health of the service, its log and its counts."""

import json
import logging
from collections.abc import Iterator
from io import StringIO
from pathlib import Path
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

from service.app import create_app, open_stores
from service.desk import backups
from service.records import archive_file
from service.records.database import migrating
from service.settings import Settings
from service.web.request_log import JsonLines
from tests.cast import Cast
from tests.postgres import free_port


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: archives read whole tables."""
    return cast_on_either


def made(cast: Cast) -> list[Path]:
    return sorted(cast.app.state.archives.glob("*"))


def test_the_owner_makes_an_archive_and_takes_it_away(cast: Cast, tmp_path: Path) -> None:
    olu = cast.browser("olu")
    assert "no backup yet" in olu.get("/backups").text
    assert olu.post("/backups/archives").status_code == 303
    (archive,) = made(cast)
    page = olu.get("/backups").text
    assert "in order" in page and archive.name in page
    answer = olu.post(f"/backups/archives/{archive.name}")
    assert answer.headers["content-disposition"] == f'attachment; filename="{archive.name}"'
    (tmp_path / "taken.zip").write_bytes(answer.content)
    with archive_file.opened(tmp_path / "taken.zip") as (_, manifest):
        assert manifest.is_whole
    assert [entry.act for entry in trail_of(cast)][-1] == "archive.hand_out"


def trail_of(cast: Cast) -> list[backups.Entry]:
    return backups.entries(cast.olu, last=3)


@pytest.mark.parametrize("name", ["tess", "cy"])
def test_nobody_but_the_owner_comes_near_an_archive(cast: Cast, name: str) -> None:
    cast.browser("olu").post("/backups/archives")
    other, (archive,) = cast.browser(name), made(cast)
    answers = [other.get("/backups"), other.post("/backups/archives"), other.post(f"/backups/archives/{archive.name}")]
    assert [answer.status_code for answer in answers] == [403, 403, 403]
    assert len(made(cast)) == 1


def test_a_stranger_is_sent_to_sign_in(cast: Cast) -> None:
    answer = cast.browser(None).get("/backups", follow_redirects=False)
    assert answer.headers["location"] == "/sign-in?then=/backups"


def test_the_page_keeps_to_its_statements(cast: Cast, statements: list[str]) -> None:
    olu = cast.browser("olu")
    olu.post("/backups/archives")
    statements.clear()
    assert olu.get("/backups").status_code == 200
    assert len(statements) <= 12


def test_a_second_click_makes_no_second_archive(cast: Cast) -> None:
    olu, key = cast.browser("olu"), {"request_key": uuid4().hex}
    for _ in range(2):
        assert olu.post("/backups/archives", key).status_code == 303
        cast.clock.forward(minutes=1)
    assert len(made(cast)) == 1


def test_an_archive_that_cannot_be_written_is_told_on_the_page_and_to_htmx(cast: Cast) -> None:
    cast.app.state.archives.write_text("in the way")
    olu = cast.browser("olu")
    plain = olu.post("/backups/archives")
    assert plain.status_code == 409 and "could not be written" in plain.text and "not written" in plain.text
    cast.clock.forward(minutes=1)
    told = olu.post("/backups/archives", headers={"hx-request": "true"}).json()
    assert told["error"].startswith("The archive could not be written")


@pytest.mark.parametrize("name", ["..%2Fshop.sqlite", "loambook-20270301T160000Z.zip", "letter.txt"])
def test_only_archives_are_handed_out(cast: Cast, name: str) -> None:
    assert cast.browser("olu").post(f"/backups/archives/{name}").status_code == 404


def test_the_service_is_ready_with_a_database_of_its_version_only(cast: Cast) -> None:
    client = TestClient(cast.app, base_url="http://localhost")
    assert (client.get("/health/live").text, client.get("/health/ready").text) == ("alive", "ready")
    answers = []
    for revision in ("0018", "9999"):
        with migrating(cast.stores.write.url.render_as_string(hide_password=False)) as connection:
            connection.exec_driver_sql(f"UPDATE alembic_version SET version_num = '{revision}'")
        answers.append(client.get("/health/ready"))
    assert [answer.status_code for answer in answers] == [503, 503]
    assert "older version" in answers[0].text and "newer version" in answers[1].text


def test_without_its_database_the_service_lives_but_is_not_ready(tmp_path: Path) -> None:
    url = f"postgresql://nobody@127.0.0.1:{free_port()}/nothing"
    settings = Settings(database_url=url, data=tmp_path, address="http://localhost")
    client = TestClient(create_app(settings, open_stores(settings)), base_url="http://localhost")
    assert client.get("/health/live").status_code == 200
    ready = client.get("/health/ready")
    assert (ready.status_code, ready.text) == (503, "The database does not answer.")


@pytest.fixture
def lines() -> Iterator[StringIO]:
    """Yield what the service writes into its log."""
    written, root = StringIO(), logging.getLogger("service")
    handler = logging.StreamHandler(written)
    handler.setFormatter(JsonLines())
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    yield written
    root.removeHandler(handler)
    root.setLevel(logging.NOTSET)


def test_the_log_tells_of_every_request_and_of_no_secret(cast: Cast, lines: StringIO) -> None:
    stranger = cast.browser(None)
    stranger.get("/sign-in/sekret-token-1")
    stranger.get("/shared/sekret-token-2/pdf?x=sekret")
    stranger.get("/Shared/sekret-token-3")
    stranger.post("/sign-in", {"email": "sekret@shop.example", "password": "sekret password"})
    job = uuid4()
    answer = cast.browser("tess").get(f"/jobs/{job}/plan")
    told = [one for one in map(json.loads, lines.getvalue().splitlines()) if one["said"] == "request"]
    assert "sekret" not in lines.getvalue()
    assert [line["path"] for line in told] == [
        "/sign-in/{token}",
        "/shared/{token}/pdf",
        "(no address of ours)",
        "/sign-in",
        f"/jobs/{job}/plan",
    ]
    assert told[-1]["status"] == 404 and told[-1]["person"] == str(cast.ids["tess"])
    # The number on the refusal page is the one in the log.
    assert told[-1]["request_id"] in answer.text


def test_an_error_is_logged_by_kind_and_place_without_its_words(
    cast: Cast, lines: StringIO, monkeypatch: pytest.MonkeyPatch
) -> None:
    from service.desk import jobs_in_hand

    def broken(*_given: object, **_more: object) -> None:
        raise ValueError("cy@shop.example")

    monkeypatch.setattr(jobs_in_hand, "jobs", broken)
    client = cast.browser("tess").client
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    assert client.get("/jobs").status_code == 500
    assert "builtins.ValueError" in lines.getvalue() and "test_backups.py" in lines.getvalue()
    assert "cy@shop.example" not in lines.getvalue()


def test_counts_are_for_the_monitor_alone(cast: Cast, tmp_path: Path) -> None:
    settings = Settings(
        database_url=cast.stores.read.url.render_as_string(),
        data=tmp_path,
        address="http://localhost",
        metrics_token="drawn for the monitor",
    )
    client = TestClient(create_app(settings, cast.stores), base_url="http://localhost")
    client.get("/sign-in/sekret")
    assert client.get("/metrics").status_code == 404
    assert client.get("/metrics", headers={"authorization": "Bearer "}).status_code == 404
    told = client.get("/metrics", headers={"authorization": "Bearer drawn for the monitor"}).text
    assert 'loambook_requests_total{method="GET",route="/sign-in/{token}",status="404"} 1.0' in told
    assert "loambook_trail_entries" in told and "sekret" not in told


def test_without_a_monitors_token_there_are_no_counts(cast: Cast) -> None:
    client = TestClient(cast.app, base_url="http://localhost")
    assert client.get("/metrics", headers={"authorization": "Bearer "}).status_code == 404


def test_a_full_disk_is_told_and_what_was_typed_is_stored_once_there_is_room(cast_on_sqlite: Cast) -> None:
    # On SQLite, where the limit of a database's pages stands for a disk; PostgreSQL has no such limit to set.
    cast = cast_on_sqlite
    tess = cast.browser("tess")

    def let_it_grow_to(pages: int) -> None:
        with cast.stores.write.connect() as connection:
            connection.exec_driver_sql(f"PRAGMA max_page_count={pages}")

    def add() -> tuple[dict[str, str], int]:
        form = {"request_key": uuid4().hex, "name": uuid4().hex, "contact": "", "language": "en"}
        return form, tess.post("/customers", form).status_code

    # Below what is there it means: no page more.
    let_it_grow_to(1)
    sent = next(form for form, status in (add() for _ in range(500)) if status != 303)
    refused = tess.post("/customers", sent, headers={"hx-request": "true"})
    assert refused.status_code == 503 and "The disk of the records is full" in refused.json()["error"]
    let_it_grow_to(1_000_000)
    assert [tess.post("/customers", sent).status_code for _ in range(2)] == [303, 303]
    assert backups.verify(cast.olu).broken_at is None
    assert len([e for e in backups.entries(cast.olu, last=1) if e.details["name"] == sent["name"]]) == 1
