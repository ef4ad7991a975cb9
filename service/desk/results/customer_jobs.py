"""What a customer sees: his own jobs, where each stands, and what was issued to him."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import ceil
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import CUSTOMERS, Caller, look
from service.records import job_progress, offers, recipes, results
from service.records.job_progress import Progress
from service.records.job_stage import Stage, Step, stage_of, way_of
from service.records.offers import Offer
from service.records.results import IssuedResult
from service.shop_clock import ShopClock


@dataclass(frozen=True)
class OwnIssued:
    """An issued result of one's own; the newest one that was not withdrawn counts."""

    id: UUID
    number: int
    issued_at: datetime
    withdrawn_at: datetime | None
    newest: bool


@dataclass(frozen=True)
class OwnJob:
    """A job of one's own, how far it is, and its results, newest first."""

    id: UUID
    number: int
    site: str
    question: str
    promised_on: date | None
    stage: Stage
    steps: tuple[Step, ...]
    planned: int
    crushed: int
    next_due_at: datetime | None
    offer: Offer | None
    # The day on which each stage to come is expected, where it is known.
    expected: dict[Stage, date]
    issued: tuple[OwnIssued, ...]


@dataclass(frozen=True)
class OwnJobs:
    """A page of one's own jobs out of all."""

    jobs: tuple[OwnJob, ...]
    total: int


@look("customer.own_jobs", by=CUSTOMERS)
def own_jobs(session: Session, caller: Caller, *, closed: bool, page: int, size: int) -> OwnJobs:
    """Return a customer's own jobs, newest first, and nothing of anybody else's."""
    if caller.customer_id is None:
        return OwnJobs((), 0)
    now = caller.stores.clock()
    found = job_progress.page_of_jobs(session, seen_by=caller.customer_id, now=now, closed=closed, page=page, size=size)
    issued = results.issued_of_jobs(session, [one.job.id for one in found.jobs])
    made = offers.of_jobs(session, [one.job.id for one in found.jobs])
    planned = recipes.planned_days(session, [one.job.id for one in found.jobs])
    own = tuple(
        _job(
            one,
            issued.get(one.job.id, []),
            made.get(one.job.id),
            _expected(one, planned.get(one.job.id, (None, 0.0)), caller.clock),
        )
        for one in found.jobs
    )
    return OwnJobs(own, found.total)


def _expected(one: Progress, planned: tuple[date | None, float], clock: ShopClock) -> dict[Stage, date]:
    """Return the days to come: when the last blocks are pressed and crushed by the plan, and the day promised."""
    mix_on, age_days = planned
    is_mixed = one.blocks >= one.planned
    pressed_on = clock.day(one.last_mixed_at) if is_mixed and one.last_mixed_at else mix_on
    crushed_on = pressed_on + timedelta(days=ceil(age_days)) if pressed_on and (one.waiting or not is_mixed) else None
    days = {
        Stage.MIXING: None if is_mixed else mix_on,
        Stage.CURING: crushed_on,
        Stage.CRUSHING: crushed_on,
        Stage.ISSUED: None if one.issued else one.job.promised_on,
    }
    # What was to be done by now and was not says no day: another one is not known.
    return {stage: day for stage, day in days.items() if day is not None and day >= clock.today}


def _job(one: Progress, issued: list[IssuedResult], offer: Offer | None, expected: dict[Stage, date]) -> OwnJob:
    counts = next((result.id for result in issued if result.withdrawn_at is None), None)
    return OwnJob(
        id=one.job.id,
        number=one.job.number,
        site=one.job.site,
        question=one.job.question,
        promised_on=one.job.promised_on,
        stage=stage_of(one),
        steps=tuple(way_of(one)),
        planned=one.planned,
        crushed=one.crushed,
        next_due_at=one.next_due_at,
        offer=offer,
        expected=expected,
        issued=tuple(
            OwnIssued(result.id, result.number, result.issued_at, result.withdrawn_at, result.id == counts)
            for result in issued
        ),
    )
