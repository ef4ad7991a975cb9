"""What a customer sees: his own jobs, where each stands, and what was issued to him."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import CUSTOMERS, Caller, look
from service.records import progress, results
from service.records.progress import Progress
from service.records.results import IssuedResult


@dataclass(frozen=True)
class OwnIssued:
    """An issued result of one's own."""

    id: UUID
    number: int
    issued_at: datetime
    withdrawn_at: datetime | None
    withdrawn_because: str | None


@dataclass(frozen=True)
class OwnJob:
    """A job of one's own, how far it is, and its results, newest first."""

    progress: Progress
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
    found = progress.page_of_jobs(session, seen_by=caller.customer_id, now=now, closed=closed, page=page, size=size)
    issued = results.issued_of_jobs(session, [one.job.id for one in found.jobs])
    return OwnJobs(
        tuple(OwnJob(one, tuple(_view(result) for result in issued.get(one.job.id, []))) for one in found.jobs),
        found.total,
    )


def _view(issued: IssuedResult) -> OwnIssued:
    return OwnIssued(issued.id, issued.number, issued.issued_at, issued.withdrawn_at, issued.withdrawn_because)
