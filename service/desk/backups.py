"""Keeping: the trail, the archives, and what tells an owner that both are in order."""

import json
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session

from service.desk.doorway import ANYONE, OWNERS, Caller, Done, act, look
from service.errors import Conflict, NotFound
from service.records import ahead, archive_file, archive_runs, audit_log, database, files, idempotency, people, shop
from service.records import tablets as devices
from service.records.base import CLOCKS_DIFFER_BY
from service.shop_clock import ShopClock

# A nightly archive that somebody stopped half-way is somebody else's turn after this.
TURN_LASTS = timedelta(hours=1)
# A day and the time that a night's archive may take.
ARCHIVE_IS_OLD = timedelta(hours=36)
NIGHTLY = "nightly archive"


@dataclass(frozen=True)
class Entry:
    """One entry of the trail, with the name of whoever did it."""

    position: int
    at: datetime
    person: str
    device: str
    via: str
    act: str
    subject_kind: str
    subject_id: str
    details: dict[str, Any]
    request_id: str
    sha256: str


@look("trail.show", by=OWNERS)
def entries(session: Session, caller: Caller, *, last: int, about: str = "") -> list[Entry]:
    """Return the newest entries, oldest of them first, of everything or of one subject's id or kind."""
    names, tablets = {person.id: person.name for person in people.people(session)}, devices.names(session)
    return [
        Entry(
            one.position,
            one.at,
            names.get(one.person_id, "") if one.person_id else "",
            tablets.get(one.device_id, "") if one.device_id else "",
            one.via,
            one.act,
            one.subject_kind,
            one.subject_id,
            json.loads(one.details),
            one.request_id,
            one.sha256,
        )
        for one in reversed(audit_log.entries(session, about=about, limit=last))
    ]


@dataclass(frozen=True)
class Chain:
    """How long the trail is, and its first position that is not as it was written, if there is one."""

    length: int
    broken_at: int | None


@look("trail.verify", by=OWNERS)
def verify(session: Session, caller: Caller, *, told: archive_file.Told = archive_file.nobody) -> Chain:
    """Follow the whole trail and return what was found."""
    return Chain(audit_log.head(session)[0], audit_log.verify(session, told=lambda done: told("log", done)))


@dataclass(frozen=True)
class Taken:
    """What an archive holds."""

    name: str
    sha256: str
    rows: int
    files: int
    missing: list[str]
    broken_at: int | None

    @property
    def is_whole(self) -> bool:
        """Return whether nothing was lost before the archive was made."""
        return not self.missing and self.broken_at is None


@look("archive.take", by=OWNERS)
def take(session: Session, caller: Caller, *, path: Path, told: archive_file.Told = archive_file.nobody) -> Taken:
    """Write the shop as it is at this one moment to a file, while people go on working; a damaged one is refused."""
    if found := database.damage(caller.stores.read):
        raise Conflict(found)
    at = caller.stores.clock()
    manifest, sha256 = archive_file.write(session.connection(), caller.stores.files, path, at=at, told=told)
    rows, files = manifest.rows, len(manifest.files)
    return Taken(path.name, sha256, rows, files, manifest.missing, manifest.trail.broken_at)


@act("archive.note", by=OWNERS)
def note(session: Session, caller: Caller, *, name: str, sha256: str | None, ok: bool) -> Done:
    """Write down that an archive was made, or that one could not be."""
    run = archive_runs.ArchiveRun(at=caller.stores.clock(), path=name, sha256=sha256, ok=ok)
    session.add(run)
    session.flush()
    return Done("archive_run", run.id, {"name": name, "sha256": sha256, "ok": ok})


@look("archive.answered", by=OWNERS)
def answered(session: Session, caller: Caller) -> bool:
    """Return whether this very form made its archive already."""
    if caller.request_key is None:
        return False
    kept = idempotency.find(session, caller.caller_key, caller.request_key)
    return kept is not None and kept.act == "archive.note"


@act("archive.hand_out", by=OWNERS, confirmed=True)
def hand_out(session: Session, caller: Caller, *, name: str) -> Done:
    """Let the owner take an archive away; the trail says who did."""
    run = archive_runs.run_of_file(session, name)
    if run is None or run.sha256 is None:
        raise NotFound("There is no such archive.")
    return Done("archive_run", run.id, {"name": name})


@act("archive.take_turn", by=OWNERS, trailed=False)
def take_turn(session: Session, caller: Caller) -> Done:
    """Hold the turn for the nightly archive, unless another replica holds it; the details say whether."""
    at = caller.stores.clock()
    got = archive_runs.take_turn(session, name=NIGHTLY, holder=caller.request_id, at=at, until=at + TURN_LASTS)
    return Done("turn", UUID(int=0), {"got": got})


@look("archive.is_due", by=OWNERS)
def is_due(session: Session, caller: Caller, *, nightly_at: time) -> bool:
    """Return whether no good archive was made since the last time of day at which one should have been."""
    facts = shop.shop(session)
    if facts is None:
        return False
    clock = ShopClock(caller.stores.clock(), ZoneInfo(facts.time_zone))
    due_at = datetime.combine(clock.today, nightly_at, clock.zone)
    if due_at > clock.now:
        due_at = datetime.combine(clock.today - timedelta(days=1), nightly_at, clock.zone)
    last = archive_runs.last_good_run(session, at=clock.now)
    return last is None or last.at < due_at


@dataclass(frozen=True)
class Run:
    """An archive that was made, or could not be."""

    at: datetime
    name: str
    ok: bool
    was_written: bool


@dataclass(frozen=True)
class Keeping:
    """What an owner needs to know about where the shop's records stand."""

    database: str
    schema_revision: str
    trail_length: int
    trail_sha256: str
    last_good_at: datetime | None
    is_old: bool
    runs: list[Run]


@look("backup.show", by=OWNERS)
def show(session: Session, caller: Caller) -> Keeping:
    """Return the state of the database, of the trail and of the archives."""
    connection = session.connection()
    position, sha256 = audit_log.head(session)
    last = archive_runs.last_good_run(session, at=caller.stores.clock())
    runs = [
        Run(one.at, one.path, one.ok, one.sha256 is not None) for one in archive_runs.newest_runs(session, limit=20)
    ]
    return Keeping(
        database=database.description_of(connection),
        schema_revision=database.revision_of(connection) or "",
        trail_length=position,
        trail_sha256=sha256,
        last_good_at=last.at if last else None,
        is_old=last is None or caller.stores.clock() - last.at > ARCHIVE_IS_OLD,
        runs=runs,
    )


@look("backup.damage", by=OWNERS)
def damage(session: Session, caller: Caller) -> str:
    """Return a sentence where the file of the database is damaged, or nothing; all of it is read."""
    return database.damage(caller.stores.read)


@look("backup.fault", by=ANYONE)
def fault(session: Session, caller: Caller) -> str:
    """Return why the database cannot be worked with just now, or nothing."""
    try:
        revision, writable = database.revision_of(session.connection()), database.can_be_written(session.connection())
    except SQLAlchemyError:
        return "The database does not answer."
    if revision == database.head_revision():
        return _closed(database=not writable, files=not caller.stores.files.takes_files())
    if revision in (None, *database.known_revisions()):
        return "The database is of an older version: run 'loambook migrate'."
    return "The database is of a newer version: install that version."


def _closed(*, database: bool, files: bool) -> str:
    if not database and not files:
        return ""
    what = "The database" if database else "The store of files"
    return f"{what} cannot be written to: its disk is full or read-only, or closed to this account. It can be read."


@look("backup.complaints", by=OWNERS)
def complaints(session: Session, caller: Caller) -> dict[str, str]:
    """Return, for the archive and for the clock, what is wrong and what to do, empty where nothing is."""
    now = caller.stores.clock()
    last, newest = archive_runs.last_good_run(session, at=now), audit_log.newest_at(session)
    early = ahead.dated_ahead(session, at=now)
    said = {"archive": "", "clock": ""}
    if shop.shop(session) is not None and (last is None or now - last.at > ARCHIVE_IS_OLD):
        found = f"the last good archive is of {_utc(last.at)}" if last else "no good archive was ever made"
        said["archive"] = f"{found}. Run 'loambook archive FILE', then find out why the night made none."
    if newest is not None and newest - now > CLOCKS_DIFFER_BY:
        said["clock"] = (
            f"this machine says {_utc(now)}, and the log was last written at {_utc(newest)}. "
            "Set the clock of this machine before anybody records more."
        )
    elif early:
        listed = ", ".join(f"{one.rows} in {one.table} (the last of {_utc(one.last_at)})" for one in early)
        said["clock"] = (
            f"a clock ran ahead once: rows are dated in the future, {listed}. Tries, archives, turns and sessions "
            "among them count as absent. Correct the readings among them on their pages."
        )
    return said


@look("backup.lost_files", by=OWNERS)
def lost_files(session: Session, caller: Caller) -> list[str]:
    """Return the digests of stored files that are missing or no longer what their name says."""
    return files.lost(session, caller.stores.files)


def _utc(moment: datetime) -> str:
    return f"{moment:%Y-%m-%d %H:%M} UTC"
