"""Customers: who they are, their jobs, and who reads for them."""

from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.errors import NotFound
from service.records import customers as customer_records
from service.records import imports, jobs
from service.records import job_progress as records
from service.records import people as persons
from service.records.job_progress import Progress
from service.records.job_stage import Stage, stage_of

PAGE_SIZE = 25


@dataclass(frozen=True)
class CustomerLine:
    """A customer as the list shows them."""

    id: UUID
    name: str
    contact: str | None
    jobs: int


@dataclass(frozen=True)
class Customers:
    """One page of customers."""

    lines: list[CustomerLine]
    total: int
    page: int
    pages: int


@dataclass(frozen=True)
class JobOfCustomer:
    """One of a customer's jobs."""

    id: UUID
    number: int
    site: str
    question: str
    stage: Stage


@dataclass(frozen=True)
class Reader:
    """Somebody who reads for a customer."""

    name: str
    email: str
    is_ended: bool


@dataclass(frozen=True)
class CustomerPage:
    """A customer with their jobs and people."""

    id: UUID
    name: str
    contact: str | None
    language: str | None
    jobs: list[JobOfCustomer]
    readers: list[Reader]
    page: int
    pages: int
    # How many of their older jobs were imported.
    imported: int


@look("customer.list", by=STAFF)
def customers(session: Session, caller: Caller, *, page: int = 1) -> Customers:
    """Return a page of customers, by name, with how many jobs each had."""
    page = max(1, min(page, 10_000))
    found, total = customer_records.page_of_customers(session, page=page, size=PAGE_SIZE)
    counts = jobs.count_by_customer(session, [one.id for one in found])
    lines = [CustomerLine(one.id, one.name, one.contact, counts.get(one.id, 0)) for one in found]
    return Customers(lines, total, page, max(1, -(-total // PAGE_SIZE)))


@look("customer.show", by=STAFF)
def customer(
    session: Session, caller: Caller, *, customer_id: UUID, page: int = 1, closed: bool = False
) -> CustomerPage:
    """Return a customer with a page of his open or his closed jobs."""
    found = customer_records.customer(session, customer_id)
    if found is None:
        raise NotFound("There is no such customer.")
    page = max(1, min(page, 10_000))
    own = records.page_of_jobs(
        session, seen_by=found.id, now=caller.stores.clock(), closed=closed, page=page, size=PAGE_SIZE
    )
    readers = [
        Reader(one.name, one.email, one.ended_at is not None) for one in persons.people_of_customer(session, found.id)
    ]
    return CustomerPage(
        found.id,
        found.name,
        found.contact,
        found.language,
        [_job(one) for one in own.jobs],
        readers,
        page,
        max(1, -(-own.total // PAGE_SIZE)),
        imports.jobs_of_customer(session, found.id, most=1)[1],
    )


def _job(progress: Progress) -> JobOfCustomer:
    job = progress.job
    return JobOfCustomer(job.id, job.number, job.site, job.question, stage_of(progress))
