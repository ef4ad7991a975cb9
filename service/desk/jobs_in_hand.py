"""The office: jobs in hand by stage, what is due and late, and finding one by label or name."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import EVERYONE, STAFF, Caller, look
from service.records import blocks as block_records
from service.records import job_progress as records
from service.records import offers
from service.records.job_progress import Progress
from service.records.job_stage import Stage, Step, stage_of, way_of
from service.records.offers import Offer, State

PAGE_SIZE = 25


@dataclass(frozen=True)
class JobLine:
    """A job as the office lists it."""

    id: UUID
    number: int
    customer: str
    site: str
    question: str
    stage: Stage
    due: int
    late: int
    next_due_at: datetime | None
    crushed: int
    planned: int
    promised_on: date | None
    overdue: bool
    asked: bool
    # How far the request or the offer is, where there is one.
    offer: State | None


@dataclass(frozen=True)
class Jobs:
    """One page of jobs out of all that were asked for."""

    lines: list[JobLine]
    total: int
    page: int
    pages: int


@dataclass(frozen=True)
class JobCard:
    """One job: its customer, the question, its stage and what there is of it."""

    id: UUID
    number: int
    customer_id: UUID
    customer: str
    site: str
    question: str
    question_kind: str
    promised_on: date | None
    closed_at: datetime | None
    closed_because: str | None
    stage: Stage
    way: list[Step]
    receipts: int
    recipes: int
    blocks: int
    planned: int
    lost: int
    tested: int
    waiting: int
    due: int
    late: int
    crushed: int
    issued: int
    withdrawn: int
    asked: bool


@look("job.list", by=EVERYONE)
def jobs(session: Session, caller: Caller, *, page: int = 1, search: str = "", closed: bool = False) -> Jobs:
    """Return a page of jobs, those with late blocks plainly marked; a customer sees his own only."""
    page = max(1, min(page, 10_000))
    found = records.page_of_jobs(
        session,
        seen_by=caller.seen_by,
        now=caller.stores.clock(),
        closed=closed,
        search=search,
        page=page,
        size=PAGE_SIZE,
    )
    today = caller.clock.today
    pages = max(1, -(-found.total // PAGE_SIZE))
    made = offers.of_jobs(session, [one.job.id for one in found.jobs])
    lines = [_line(one, today, made.get(one.job.id)) for one in found.jobs]
    return Jobs(lines, found.total, page, pages)


def _line(progress: Progress, today: date, offer: Offer | None) -> JobLine:
    job, stage = progress.job, stage_of(progress)
    overdue = job.promised_on is not None and job.promised_on < today and stage is not Stage.ISSUED
    return JobLine(
        job.id,
        job.number,
        progress.customer.name,
        job.site,
        job.question,
        stage,
        progress.due,
        progress.late,
        progress.next_due_at,
        progress.crushed,
        progress.planned,
        job.promised_on,
        overdue,
        bool(progress.asked),
        offer.state if offer else None,
    )


@look("job.card", by=EVERYONE)
def card(session: Session, caller: Caller, *, job_id: UUID) -> JobCard:
    """Return one job and where it stands."""
    found = records.of_job(session, job_id, seen_by=caller.seen_by, now=caller.stores.clock())
    job = found.job
    return JobCard(
        job.id,
        job.number,
        found.customer.id,
        found.customer.name,
        job.site,
        job.question,
        job.question_kind,
        job.promised_on,
        job.closed_at,
        job.closed_because,
        stage_of(found),
        way_of(found),
        found.receipts,
        found.recipes,
        found.blocks,
        found.planned,
        found.lost,
        found.tested,
        found.waiting,
        found.due,
        found.late,
        found.crushed,
        found.issued,
        found.withdrawn,
        bool(found.asked),
    )


@look("block.by_label", by=STAFF)
def block_by_label(session: Session, caller: Caller, *, label: str) -> UUID | None:
    """Return the block that carries a label, so that a typed or scanned one leads straight to it."""
    block = block_records.block_by_label(session, label.strip().upper())
    return block.id if block is not None else None
