"""What a customer sees: his own jobs, where each stands, and what was issued to him."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import CUSTOMERS, Caller, look
from service.records import job_progress, results
from service.records.job_progress import Progress
from service.records.job_stage import Stage, Step, stage_of, way_of
from service.records.results import IssuedResult


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
    return OwnJobs(tuple(_job(one, issued.get(one.job.id, [])) for one in found.jobs), found.total)


def _job(one: Progress, issued: list[IssuedResult]) -> OwnJob:
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
        issued=tuple(
            OwnIssued(result.id, result.number, result.issued_at, result.withdrawn_at, result.id == counts)
            for result in issued
        ),
    )
