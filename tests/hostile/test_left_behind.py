"""What a refusal, a hang-up, a changed password, a wrong address or a forged archive leaves behind: nothing."""

import hashlib
import json
import logging
import time
import tracemalloc
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from sqlalchemy import create_engine, inspect
from sqlmodel import Session, select

from service.desk import backups, people, photos
from service.desk.results import live
from service.desk.signing_in import own_access
from service.errors import Conflict, Forbidden
from service.paper import issuing
from service.paper.photo_files import take_in
from service.paper.storing import storing
from service.records import archive_file
from service.records.archive_restore import restore
from service.records.blocks import Soak
from service.records.crushings import Crushing
from service.records.database import is_there
from service.records.files import FileStore
from service.records.people import Person
from service.records.recipes import Recipe
from service.records.results import IssuedResult
from service.records.tokens import Ticket
from service.web.authentication import sha256
from tests.cast import PASSWORD, Cast
from tests.hostile.serving import served
from tests.hostile.test_slow import connected
from tests.pixels import from_a_camera, jpeg
from tests.sealed import Parts, alter, replace_rows, rows_of
from tests.trials import a_tried_job


def stored(folder: Path) -> set[str]:
    return {path.name for path in (folder / "files").rglob("*") if path.is_file()}


def test_a_refused_photograph_leaves_no_file(cast: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    tried = a_tried_job(cast)
    monkeypatch.setattr(photos, "MOST_OF_ONE", 1)
    take_in(cast.tess, of="job", thing_id=tried.job_id, content=jpeg())
    before = stored(tmp_path)
    with pytest.raises(Conflict, match="photo is here already"):
        take_in(cast.tess, of="job", thing_id=tried.job_id, content=jpeg())
    assert stored(tmp_path) == before
    with pytest.raises(Conflict, match="Remove one first"):
        take_in(cast.tess, of="job", thing_id=tried.job_id, content=from_a_camera(6))
    assert stored(tmp_path) == before and len(before) == 1


def test_what_somebody_else_threw_away_meanwhile_is_stored_again(cast_on_sqlite: Cast) -> None:
    store = cast_on_sqlite.stores.files
    with storing(cast_on_sqlite.tess, b"a paper") as (digest,):
        store.forget(digest)
    assert store.get(digest) == b"a paper"
    with pytest.raises(Forbidden), storing(cast_on_sqlite.tess, b"another") as (other,):
        raise Forbidden("No.")
    assert store.holds(digest) and not store.holds(other)


def test_whoever_hangs_up_early_is_no_error_of_ours(
    cast_on_sqlite: Cast, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    head = b"POST %s HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 900\r\nContent-Type: %s\r\n\r\nhalf"
    kinds = ((b"/sign-in", b"application/x-www-form-urlencoded"), (b"/sign-in", b"multipart/form-data; boundary=x"))
    with served(cast_on_sqlite, tmp_path) as address, caplog.at_level(logging.INFO):
        for path, kind in kinds:
            with connected(address) as one:
                one.sendall(head % (path, kind))
                time.sleep(0.2)
        deadline = time.monotonic() + 10
        while sum(one.getMessage() == "request" for one in caplog.records) < 2 and time.monotonic() < deadline:
            time.sleep(0.05)
    told = [one.facts["status"] for one in caplog.records if one.getMessage() == "request"]  # type: ignore[attr-defined]
    assert told == [400, 400]
    assert not [one for one in caplog.records if one.levelno >= logging.ERROR or "broken" in one.getMessage()]


def ways_in(cast: Cast) -> dict[str, int]:
    """Count what still lets Tess in, by kind."""
    with Session(cast.stores.read) as session:
        hers = select(Ticket).where(Ticket.person_id == cast.ids["tess"])
        kinds = [one.kind for one in session.exec(hers) if one.ended_at is None]
        pin = session.get_one(Person, cast.ids["tess"]).pin_hash
    return {kind: kinds.count(kind) for kind in ("session", "sign_in", "invite", "api")} | {"pin": int(pin is not None)}


@pytest.mark.parametrize(("ticked", "left"), [({"others": "yes"}, 0), ({}, 1)], ids=["all", "not all"])
def test_a_changed_password_ends_addresses_and_asks_about_tokens_and_the_pin(
    cast: Cast, ticked: dict[str, str], left: int
) -> None:
    own_access.set_pin(cast.tess, password=PASSWORD, pin="482915")
    cast.program("tess")
    people.make_address(cast.olu, person_id=cast.ids["tess"], token_sha256=sha256("earlier"))
    tess = cast.browser("tess")
    assert "End my programs" in tess.get("/you").text
    form = {"password": PASSWORD, "new_password": "seven odd geese at dusk", **ticked}
    assert tess.post("/you/password", form).status_code == 303
    assert ways_in(cast) == {"session": 1, "sign_in": 0, "invite": 0, "api": left, "pin": left}


def test_a_password_chosen_anew_at_an_address_ends_the_other_addresses(cast: Cast) -> None:
    for name in ("one", "two"):
        people.make_address(cast.olu, person_id=cast.ids["tess"], token_sha256=sha256(name))
    assert cast.browser(None).post("/sign-in/one", {"new_password": "seven odd geese at dusk"}).status_code == 303
    assert ways_in(cast)["sign_in"] == 0
    assert cast.browser(None).post("/sign-in/two").status_code == 404


def test_a_thing_is_reached_only_below_what_it_belongs_to(cast: Cast) -> None:
    tried, olu, why = a_tried_job(cast), cast.browser("olu"), {"because": "The gauge was misread."}
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issued_id = issuing.issue(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    last_day = {"last_day": f"{cast.clock.now + timedelta(days=3):%Y-%m-%d}"}
    assert olu.post(f"/jobs/{tried.job_id}/issued/{issued_id}/shares", last_day).status_code == 200
    with Session(cast.stores.read) as session:
        crushing = session.exec(select(Crushing)).first()
        soak = session.exec(select(Soak)).first()
        recipe = session.exec(select(Recipe)).first()
        link = session.exec(select(Ticket).where(Ticket.kind == "share")).one()
    assert crushing is not None and soak is not None and recipe is not None
    elsewhere = uuid4()
    start = {"started_at": "2027-03-01T10:00", **why}
    paths: list[tuple[str, dict[str, str]]] = [
        (f"/jobs/{elsewhere}/issued/{issued_id}/withdraw", why),
        (f"/jobs/{elsewhere}/issued/{issued_id}/shares", last_day),
        (f"/jobs/{elsewhere}/shares/{link.id}/end", {}),
        (f"/jobs/{elsewhere}/plan/{recipe.id}/drop", why),
        (f"/blocks/{elsewhere}/crushings/{crushing.id}/withdrawals", why),
        (f"/blocks/{elsewhere}/soaks/{soak.id}/corrections", start),
    ]
    answers = {path: olu.post(path, form).status_code for path, form in paths}
    assert set(answers.values()) == {404}, answers
    with Session(cast.stores.read) as session:
        assert session.get_one(IssuedResult, issued_id).withdrawn_at is None
        assert session.get_one(Ticket, link.id).ended_at is None
    assert olu.post(f"/jobs/{tried.job_id}/issued/{issued_id}/withdraw", why).status_code == 303


def odd_word(manifest: dict[str, Any], parts: Parts) -> None:
    manifest["tables"][0]["columns"] = dict.fromkeys(manifest["tables"][0]["columns"], "nonsense")


def odd_table(manifest: dict[str, Any], parts: Parts) -> None:
    next(one for one in manifest["tables"] if one["name"] == "person")["name"] = "nowhere"
    parts["rows/nowhere.jsonl"] = parts.pop("rows/person.jsonl")


def no_rows(manifest: dict[str, Any], parts: Parts) -> None:
    replace_rows(manifest, parts, "person", [])
    parts["rows/person.jsonl"] = content = b'["no row"]\n'
    told = next(one for one in manifest["tables"] if one["name"] == "person")
    told.update(rows=1, sha256=hashlib.sha256(content).hexdigest())


def of(column: str, value: Any) -> Callable[[dict[str, Any], Parts], None]:
    def change(manifest: dict[str, Any], parts: Parts) -> None:
        rows = rows_of(parts, "person")
        rows[0][column] = value
        replace_rows(manifest, parts, "person", rows)

    change.__name__ = f"{column} {json.dumps(value)[:20]}"
    return change


def nested(manifest: dict[str, Any], parts: Parts) -> None:
    content = b"[" * 200_000 + b"]" * 200_000 + b"\n"
    parts["rows/person.jsonl"] = content
    next(one for one in manifest["tables"] if one["name"] == "person").update(
        rows=1, sha256=hashlib.sha256(content).hexdigest()
    )


FORGERIES = [odd_word, odd_table, no_rows, nested, of("id", 5), of("created_at", "soon"), of("name", None)]


@pytest.mark.parametrize("change", FORGERIES, ids=lambda change: str(change.__name__))
def test_an_archive_forged_with_a_right_seal_is_refused_in_a_sentence(
    cast_on_sqlite: Cast, tmp_path: Path, change: Callable[[dict[str, Any], Parts], None]
) -> None:
    backups.take(cast_on_sqlite.olu, path=tmp_path / "a.zip")
    forged = alter(tmp_path / "a.zip", change)
    url = f"sqlite:///{tmp_path / 'new.sqlite'}"
    with pytest.raises(Conflict):
        restore(forged, url=url, files=FileStore(str(tmp_path / "there")))
    assert not is_there(url) or not tables_in(url)


def tables_in(url: str) -> list[str]:
    engine = create_engine(url)
    try:
        return inspect(engine).get_table_names()
    finally:
        engine.dispose()


@pytest.mark.parametrize("what", ["row", "file", "manifest"])
def test_an_archive_that_unpacks_to_very_much_is_refused_before_it_is_in_memory(
    cast_on_sqlite: Cast, tmp_path: Path, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("MOST_ROW", "MOST_FILE", "MOST_MANIFEST"):
        monkeypatch.setattr(archive_file, name, 1 << 18)
    monkeypatch.setattr("service.records.archive_restore.MOST_ROW", 1 << 18)
    backups.take(cast_on_sqlite.olu, path=tmp_path / "a.zip")
    many = 1 << 25

    def blow_up(manifest: dict[str, Any], parts: Parts) -> None:
        if what == "row":
            replace_rows(manifest, parts, "customer", [{"name": "x" * many}])
        elif what == "file":
            content = b"\0" * many
            digest = hashlib.sha256(content).hexdigest()
            manifest["files"][digest] = many
            parts[f"files/{digest}"] = content
        else:
            manifest["missing"] = ["x" * many]

    bomb = alter(tmp_path / "a.zip", blow_up)
    tracemalloc.start()
    with pytest.raises(Conflict):
        restore(bomb, url=f"sqlite:///{tmp_path / 'new.sqlite'}", files=FileStore(str(tmp_path / "there")))
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 0.75 * many
