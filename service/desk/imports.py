"""Readings of older jobs out of a file: taken in whole or not at all, and taken out of the count again."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID, uuid4

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act, look
from service.errors import Conflict, Invalid, NotFound
from service.records import files, imports, presses
from service.records.as_read import as_read
from service.records.customers import Customer
from service.records.imports import ImportedJob, ImportFile
from service.typed import Typed

SHOWN = 50
MOST_READINGS = 50_000


@dataclass(frozen=True)
class GivenReading:
    """One row of a file, read: of stress, force and gauge one is given where the block was loaded."""

    row: int
    job: str
    customer: str | None
    site: str | None
    block: str
    recipe: str
    batch: str
    condition: str
    outcome: str
    age_days: Typed
    soak_hours: Typed | None
    stress_mpa: Typed | None
    force_kn: Typed | None
    gauge_mpa: Typed | None
    step: float | None
    length_mm: Typed | None
    width_mm: Typed | None
    height_mm: Typed | None
    mass_kg: Typed | None
    crushed_on: date | None
    crushed_by: str | None
    remark: str | None


QUANTITIES = (
    *("age_days", "soak_hours", "stress_mpa", "force_kn", "gauge_mpa"),
    *("length_mm", "width_mm", "height_mm", "mass_kg"),
)
WORDS = ("row", "block", "recipe", "batch", "condition", "outcome", "step", "crushed_on", "crushed_by", "remark")


@dataclass(frozen=True)
class ImportView:
    """A file: who brought it and when, and whether its readings count."""

    id: UUID
    name: str
    sha256: str
    begun_at: datetime
    by: str | None
    imported_at: datetime | None
    readings: int | None
    ended_at: datetime | None
    ended_because: str | None


@dataclass(frozen=True)
class ImportedJobView:
    """A job of a file as its page lists it."""

    name: str
    customer: str | None
    site: str | None
    readings: int
    recipes: int


@dataclass(frozen=True)
class GaugeOffered:
    """A gauge of the shop, by which a file's gauge readings may have been taken."""

    id: UUID
    name: str


@look("import.list", by=OWNERS)
def brought(session: Session, caller: Caller) -> list[ImportView]:
    """Return the newest files that were brought."""
    return [_view(one, who) for one, who in imports.newest(session, most=SHOWN)]


@look("import.show", by=OWNERS)
def show(session: Session, caller: Caller, *, file_id: UUID) -> ImportView:
    """Return one file."""
    return _view(_file(session, file_id), None)


@look("import.content", by=OWNERS)
def content(session: Session, caller: Caller, *, file_id: UUID) -> bytes:
    """Return a file as it was brought."""
    return caller.stores.files.get(_file(session, file_id).sha256)


@look("import.jobs", by=OWNERS)
def jobs_of(session: Session, caller: Caller, *, file_id: UUID) -> list[ImportedJobView]:
    """Return the jobs that a file held."""
    return [
        ImportedJobView(
            one.job.name,
            one.customer.name if one.customer else None,
            one.job.site,
            len(one.readings),
            len({each.recipe for each in one.readings}),
        )
        for one in imports.whole(session, file_id=file_id)
    ]


@look("import.gauges", by=OWNERS)
def gauges(session: Session, caller: Caller) -> list[GaugeOffered]:
    """Return the gauges of the shop's presses in use."""
    return [GaugeOffered(gauge.id, f"{press.name}, {gauge.name}") for press, gauge in presses.presses(session) if gauge]


@act("import.begin", by=OWNERS)
def begin(session: Session, caller: Caller, *, name: str, sha256: str, size: int, media_type: str) -> Done:
    """Keep a file that is in the store, so that its columns can be matched; nothing of it counts yet."""
    _refuse_twice(session, sha256)
    files.note(session, sha256=sha256, media_type=media_type, size=size)
    file = ImportFile(name=name, sha256=sha256, begun_by=caller.person_id)
    session.add(file)
    session.flush()
    return Done("import_file", file.id, {"name": name, "sha256": sha256})


@act("import.take_in", by=OWNERS)
def take_in(
    session: Session,
    caller: Caller,
    *,
    file_id: UUID,
    choices: str,
    gauge_id: UUID | None,
    readings: Sequence[GivenReading],
) -> Done:
    """Let the readings of a file count, all of them; customers who are not known yet are added."""
    file = _file(session, file_id)
    if file.imported_at is not None:
        raise Conflict("This file was imported already.")
    _refuse_twice(session, file.sha256)
    if not 0 < len(readings) <= MOST_READINGS:
        raise Invalid(f"A file holds 1 to {MOST_READINGS} readings.")
    customers = _customers(session, readings)
    jobs: dict[tuple[str, str], ImportedJob] = {}
    rows = []
    for one in readings:
        key = (one.customer or "").casefold(), one.job.casefold()
        job = jobs.get(key)
        if job is None:
            whose = customers.get(key[0])
            job = jobs[key] = ImportedJob(import_file_id=file.id, name=one.job, customer_id=whose, site=one.site)
        rows.append(_row(one, job.id, gauge_id, at=caller.stores.clock()))
    imports.put_in(session, list(jobs.values()), rows)
    file.imported_at, file.imported_by = caller.stores.clock(), caller.person_id
    file.choices, file.readings = choices, len(rows)
    session.add(file)
    details = {"name": file.name, "sha256": file.sha256, "jobs": len(jobs), "readings": len(rows)}
    return Done("import_file", file.id, details)


@act("import.end", by=OWNERS)
def end(session: Session, caller: Caller, *, file_id: UUID, because: str) -> Done:
    """Let the readings of a file count no longer; they stay where they are."""
    file = _file(session, file_id)
    if file.ended_at is not None:
        raise Conflict("This file does not count already.")
    file.ended_at, file.ended_because = caller.stores.clock(), because
    session.add(file)
    return Done("import_file", file.id, {"because": because})


def _row(one: GivenReading, job_id: UUID, gauge_id: UUID | None, *, at: datetime) -> dict[str, object]:
    typed = {name: getattr(one, name) for name in QUANTITIES}
    return {
        "id": uuid4(),
        "created_at": at,
        "imported_job_id": job_id,
        "gauge_id": gauge_id if one.gauge_mpa else None,
        "as_read": as_read(typed),
        **{name: getattr(one, name) for name in WORDS},
        **{name: quantity.value if quantity else None for name, quantity in typed.items()},
    }


def _customers(session: Session, readings: Sequence[GivenReading]) -> dict[str, UUID]:
    """Return the customers of a file by their name in small letters; new ones are added."""
    named = {one.customer.casefold(): one.customer for one in readings if one.customer}
    known = imports.customers_named(session, list(named.values()))
    for small, name in named.items():
        if small not in known:
            customer = Customer(name=name)
            session.add(customer)
            known[small] = customer.id
    session.flush()
    return known


def _file(session: Session, file_id: UUID) -> ImportFile:
    found = session.get(ImportFile, file_id)
    if found is None:
        raise NotFound("There is no such file.")
    return found


def _refuse_twice(session: Session, sha256: str) -> None:
    before = imports.counting(session, sha256)
    if before is not None:
        raise Conflict(f"This very file was imported already, as {before.name}.")


def _view(one: ImportFile, who: str | None) -> ImportView:
    return ImportView(
        *(one.id, one.name, one.sha256, one.created_at, who),
        *(one.imported_at, one.readings, one.ended_at, one.ended_because),
    )
