"""Invoice lines: what was done for a job, its price, and whether it was paid. They are no invoices and no books."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act, look
from service.errors import Conflict, Invalid, NotFound
from service.records import invoices as records
from service.records import job_progress, jobs, offers
from service.records.invoices import InvoiceLine
from service.records.invoices import Wanted as Wanted
from service.records.job_progress import Progress
from service.records.offers import Offer

PAGE_SIZE, AT_A_TIME, MOST_LINES = 25, 40, 50
# No job has this number: the newest jobs stand before it.
BEYOND = 10**9


@dataclass(frozen=True)
class LineSaid:
    """What is charged; the price of an accepted offer has the day of its acceptance and no id."""

    id: UUID | None
    words: str
    price: Decimal
    accepted_on: date | None


@dataclass(frozen=True)
class ChargedJob:
    """A job with what was done for it, its lines and their sum, and the day it was paid."""

    job_id: UUID
    number: int
    customer_id: UUID
    customer: str
    site: str
    issued_on: date | None
    sacks: int
    recipes: int
    blocks: int
    crushed: int
    other_tests: int
    lines: tuple[LineSaid, ...]
    total: Decimal | None
    paid_on: date | None


@dataclass(frozen=True)
class ChargedJobs:
    """Some jobs, the newest first, and the number before which there are more."""

    jobs: list[ChargedJob]
    older: int | None


@look("invoice.list", by=OWNERS)
def charged(session: Session, caller: Caller, *, wanted: Wanted = "not paid", before: int | None = None) -> ChargedJobs:
    """Return a page of the jobs that there is something to charge for."""
    found = records.charged(session, wanted=wanted, before=before or BEYOND, after=0, most=PAGE_SIZE + 1)
    shown = _of_jobs(session, caller, found[:PAGE_SIZE])
    return ChargedJobs(shown, shown[-1].number if len(found) > PAGE_SIZE else None)


@look("invoice.after", by=OWNERS)
def after(session: Session, caller: Caller, *, number: int) -> list[ChargedJob]:
    """Return the next such jobs after a number, paid or not; an empty list ends the shop."""
    found = records.charged(session, wanted="all", before=None, after=number, most=AT_A_TIME)
    return sorted(_of_jobs(session, caller, found), key=lambda one: one.number)


@look("invoice.show", by=OWNERS)
def show(session: Session, caller: Caller, *, job_id: UUID) -> ChargedJob:
    """Return what one job is charged for."""
    return _of_job(session, caller, job_id)


@act("invoice.add_line", by=OWNERS)
def add_line(session: Session, caller: Caller, *, job_id: UUID, words: str, price: Decimal) -> Done:
    """Write a line; one that should be otherwise is removed and written anew."""
    job = jobs.visible(session, job_id, seen_by=None)
    if not words.strip():
        raise Invalid("Something is missing.", {"words": "Fill this in."})
    if price < 0:
        raise Invalid("Check the price.", {"price": "0 or more."})
    if price != round(price, 2):
        raise Invalid("Check the price.", {"price": "At most two decimals."})
    _refuse_paid(session, job.id)
    if len(records.lines_of(session, [job.id]).get(job.id, ())) >= MOST_LINES:
        raise Conflict(f"A job has at most {MOST_LINES} lines.")
    line = InvoiceLine(
        job_id=job.id, words=words.strip(), price=price, written_by=caller.doer, created_at=caller.stores.clock()
    )
    session.add(line)
    return Done("job", job.id, {"line": line.id, "words": line.words, "price": price})


@act("invoice.remove_line", by=OWNERS)
def remove_line(session: Session, caller: Caller, *, job_id: UUID, line_id: UUID) -> Done:
    """Let a line count no longer; the log keeps it."""
    line = records.line(session, job_id, line_id)
    if line is None:
        raise NotFound("There is no such line.")
    _refuse_paid(session, job_id)
    line.ended_at, line.ended_by = caller.stores.clock(), caller.doer
    session.add(line)
    return Done("job", job_id, {"line": line.id, "words": line.words, "price": line.price})


@act("invoice.mark_paid", by=OWNERS)
def mark_paid(session: Session, caller: Caller, *, job_id: UUID, paid_on: date | None) -> Done:
    """Mark a job as paid, today if no day is said."""
    found = _of_job(session, caller, job_id)
    _refuse_paid(session, job_id)
    if found.total is None:
        raise Conflict("This job has no price yet. Add a line first.")
    day = paid_on or caller.clock.today
    if day > caller.clock.today:
        raise Invalid("This day is still to come.", {"paid_on": "Today or an earlier day."})
    session.add(records.Payment(job_id=job_id, paid_on=day, marked_by=caller.doer, created_at=caller.stores.clock()))
    return Done("job", job_id, {"paid_on": day, "total": found.total})


@act("invoice.unmark_paid", by=OWNERS)
def unmark_paid(session: Session, caller: Caller, *, job_id: UUID) -> Done:
    """Take the paid mark away again; the log keeps it."""
    payment = records.payments_of(session, [jobs.visible(session, job_id, seen_by=None).id]).get(job_id)
    if payment is None:
        raise Conflict("This job is not marked as paid.")
    payment.ended_at, payment.ended_by = caller.stores.clock(), caller.doer
    session.add(payment)
    return Done("job", job_id, {"was_paid_on": payment.paid_on})


def _refuse_paid(session: Session, job_id: UUID) -> None:
    if records.payments_of(session, [job_id]):
        raise Conflict("This job is marked as paid. Remove the mark first.")


def _of_job(session: Session, caller: Caller, job_id: UUID) -> ChargedJob:
    (found,) = _of_jobs(session, caller, [jobs.visible(session, job_id, seen_by=None).id])
    return found


def _of_jobs(session: Session, caller: Caller, job_ids: Sequence[UUID]) -> list[ChargedJob]:
    """Return some jobs as they are charged, the newest first, in five statements."""
    if not job_ids:
        return []
    done = job_progress.of_jobs(session, list(job_ids), now=caller.stores.clock())
    offered, written = offers.of_jobs(session, job_ids), records.lines_of(session, job_ids)
    paid, told = records.payments_of(session, job_ids), records.first_told(session, job_ids)
    found = []
    for one in done:
        job_id = one.job.id
        lines = (
            *_accepted(caller, offered.get(job_id)),
            *(LineSaid(line.id, line.words, line.price, None) for line in written.get(job_id, ())),
        )
        payment, issued_at = paid.get(job_id), told.get(job_id)
        issued_on = caller.clock.day(issued_at) if issued_at else None
        found.append(_charged(one, lines, issued_on, payment.paid_on if payment else None))
    return found


def _accepted(caller: Caller, offer: Offer | None) -> tuple[LineSaid, ...]:
    if offer is None or offer.price is None or offer.settled_at is None or offer.settled_as != "accepted":
        return ()
    return (LineSaid(None, "Test as offered", offer.price, caller.clock.day(offer.settled_at)),)


def _charged(done: Progress, lines: tuple[LineSaid, ...], issued_on: date | None, paid_on: date | None) -> ChargedJob:
    return ChargedJob(
        job_id=done.job.id,
        number=done.job.number,
        customer_id=done.customer.id,
        customer=done.customer.name,
        site=done.job.site,
        issued_on=issued_on,
        sacks=done.receipts,
        recipes=done.recipes,
        blocks=done.blocks,
        crushed=done.crushed,
        other_tests=done.tested,
        lines=lines,
        total=sum((one.price for one in lines), Decimal(0)) if lines else None,
        paid_on=paid_on,
    )
