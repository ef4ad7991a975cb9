"""How the shop does: weeks behind and ahead, what is late, and what runs out."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from statistics import median
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.errors import Conflict, Invalid, NotFound
from service.records import overview as records
from service.records.materials import Material, Receipt

# So many weeks are shown; what comes due within the days below is told beforehand.
WEEKS_BACK, WEEKS_AHEAD = 8, 4
CALIBRATION_DAYS, SOIL_DAYS, SHELF_DAYS = 30, 7, 30
DAY_S = 86_400


@dataclass(frozen=True)
class Week:
    """A week from its Monday: what was done in it, and for the jobs answered in it how many days they took."""

    monday: date
    sacks: int
    pressed: int
    crushed: int
    answered: int
    median_days: float | None


@dataclass(frozen=True)
class LateJob:
    """A job that was promised for an earlier day."""

    id: UUID
    number: int
    customer: str
    promised_on: date
    days: int


@dataclass(frozen=True)
class Ending:
    """A gauge with the end of its calibration, None where it has none."""

    press: str
    gauge: str
    ends_on: date | None
    over: bool


@dataclass(frozen=True)
class KeptSoil:
    """A sack of which something is kept, and until when."""

    id: UUID
    label: str
    job_number: int
    retained: str
    until: date
    over: bool


@dataclass(frozen=True)
class OnShelf:
    """A material whose bags are good until a day."""

    id: UUID
    name: str
    until: date
    over: bool


@dataclass(frozen=True)
class Overview:
    """The whole page; ``coming`` is how many blocks are due in each of the next weeks, the late ones in the first."""

    weeks: list[Week]
    coming: list[tuple[date, int]]
    late_blocks: int
    answered: int
    median_days: float | None
    late: list[LateJob]
    endings: list[Ending]
    soils: list[KeptSoil]
    shelf: list[OnShelf]


@look("shop.overview", by=STAFF)
def overview(session: Session, caller: Caller) -> Overview:
    """Return how the shop does, in eight statements that never read its years."""
    today, zone = caller.clock.today, caller.clock.zone
    monday = today - timedelta(days=today.weekday())
    since = datetime.combine(monday - timedelta(weeks=WEEKS_BACK - 1), time(), zone)
    until = datetime.combine(monday + timedelta(weeks=1), time(), zone)
    came, made, broken = (
        count(session, since=since, until=until) for count in (records.sacks, records.pressed, records.crushed)
    )
    days: dict[int, list[float]] = {}
    for one in records.answered(session, since=since):
        week = int((one.issued_at - since).total_seconds() // (7 * DAY_S))
        days.setdefault(week, []).append((one.issued_at - one.received_at).total_seconds() / DAY_S)
    weeks = [
        Week(
            monday - timedelta(weeks=WEEKS_BACK - 1 - number),
            came.get(number, 0),
            made.get(number, 0),
            broken.get(number, 0),
            len(days.get(number, ())),
            median(days[number]) if number in days else None,
        )
        for number in range(WEEKS_BACK)
    ]
    every = [one for mine in days.values() for one in mine]
    coming, late = _coming(session, caller, monday)
    return Overview(
        weeks=weeks,
        coming=coming,
        late_blocks=late,
        answered=len(every),
        median_days=median(every) if every else None,
        late=[
            LateJob(job.id, job.number, customer.name, job.promised_on, (today - job.promised_on).days)
            for job, customer in records.late_jobs(session, today=today)
            if job.promised_on
        ],
        endings=[
            Ending(press.name, gauge.name, end, end is None or end < today)
            for press, gauge, end in records.calibrations_ending(session, by=today + timedelta(days=CALIBRATION_DAYS))
        ],
        soils=_soils(session, today),
        shelf=[
            OnShelf(one.id, one.name, one.good_until, one.good_until < today)
            for one in records.past_good(session, by=today + timedelta(days=SHELF_DAYS))
            if one.good_until
        ],
    )


def _soils(session: Session, today: date) -> list[KeptSoil]:
    found = records.to_discard(session, by=today + timedelta(days=SOIL_DAYS))
    return [
        KeptSoil(sack.id, sack.label, job.number, sack.retained or "", sack.retained_until, sack.retained_until < today)
        for sack, job in found
        if sack.retained_until
    ]


def _coming(session: Session, caller: Caller, monday: date) -> tuple[list[tuple[date, int]], int]:
    """Return how many blocks are due in each week ahead, and how many of the first were due before this week."""
    due = [0] * WEEKS_AHEAD
    late = 0
    for pressed_at, age_days in records.coming(session):
        on = caller.clock.day(pressed_at + timedelta(days=age_days))
        week = (on - monday).days // 7
        late += week < 0
        if week < WEEKS_AHEAD:
            due[max(0, week)] += 1
    return [(monday + timedelta(weeks=number), count) for number, count in enumerate(due)], late


@act("receipt.discard", by=STAFF)
def discard(session: Session, caller: Caller, *, receipt_id: UUID) -> Done:
    """Write down that what was kept of a sack was discarded."""
    sack = session.get(Receipt, receipt_id)
    if sack is None or sack.retained_until is None:
        raise NotFound("Nothing is kept of this sack.")
    if sack.discarded_at is not None:
        raise Conflict("This was discarded already.")
    sack.discarded_at = caller.stores.clock()
    session.add(sack)
    return Done("receipt", sack.id, {"retained": sack.retained, "until": sack.retained_until})


@act("material.shelf_day", by=STAFF)
def set_good_until(session: Session, caller: Caller, *, material_id: UUID, good_until: date | None) -> Done:
    """Keep until when the bags of a material on the shelf are good; empty when there are none."""
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound("There is no such material.")
    if material.customer_id is not None:
        raise Invalid("Only the shop's own materials stand on its shelf.")
    was, material.good_until = material.good_until, good_until
    session.add(material)
    return Done("material", material.id, {"was": was, "good_until": good_until})
