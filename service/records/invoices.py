"""What a job is charged for beside its offer, and the day it was paid. A wrong line or mark ends, and stays."""

from collections.abc import Collection
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Literal
from uuid import UUID

from sqlalchemy import CheckConstraint, or_
from sqlmodel import Field, Session, col, select

from service.records.base import Money, Row, not_blank, together
from service.records.jobs import Job
from service.records.offers import Offer
from service.records.results import IssuedResult
from service.records.versions import one_where

Wanted = Literal["not paid", "paid", "all"]


class InvoiceLine(Row, table=True):
    """A line that the owner wrote: what was done, and its price."""

    __table_args__ = (
        *not_blank("words"),
        CheckConstraint("price >= 0", name="price_not_negative"),
        together("ended_at", "ended_by"),
    )

    job_id: UUID = Field(foreign_key="job.id", index=True)
    words: str
    price: Decimal = Field(sa_type=Money)
    written_by: UUID = Field(foreign_key="person.id")
    ended_at: datetime | None = None
    ended_by: UUID | None = Field(default=None, foreign_key="person.id")


class Payment(Row, table=True):
    """The mark that a job was paid, with the day."""

    __table_args__ = (one_where("uq_payment_standing", "job_id", "ended_at IS NULL"), together("ended_at", "ended_by"))

    job_id: UUID = Field(foreign_key="job.id")
    paid_on: date
    marked_by: UUID = Field(foreign_key="person.id")
    ended_at: datetime | None = None
    ended_by: UUID | None = Field(default=None, foreign_key="person.id")


def charged(session: Session, *, wanted: Wanted, before: int | None, after: int, most: int) -> list[UUID]:
    """Return the next jobs that there is something to charge for: an accepted offer, a line, or a result.

    With ``before`` the newest come first, below that number; without, the oldest come first, above ``after``.
    """
    this = col(Job.id)
    accepted = select(Offer.id).where(Offer.job_id == this, Offer.settled_as == "accepted").exists()
    line = select(InvoiceLine.id).where(InvoiceLine.job_id == this, col(InvoiceLine.ended_at).is_(None)).exists()
    told = select(IssuedResult.id).where(IssuedResult.job_id == this).exists()
    question: Any = select(Job.id).where(or_(accepted, line, told))
    if wanted != "all":
        paid = select(Payment.id).where(Payment.job_id == this, col(Payment.ended_at).is_(None)).exists()
        question = question.where(paid if wanted == "paid" else ~paid)
    if before is None:
        question = question.where(Job.number > after).order_by(col(Job.number))
    else:
        question = question.where(Job.number < before).order_by(col(Job.number).desc())
    return list(session.exec(question.limit(most)))


def lines_of(session: Session, job_ids: Collection[UUID]) -> dict[UUID, list[InvoiceLine]]:
    """Return the lines of some jobs, in the order in which they were written."""
    question = select(InvoiceLine).where(col(InvoiceLine.job_id).in_(job_ids), col(InvoiceLine.ended_at).is_(None))
    found: dict[UUID, list[InvoiceLine]] = {}
    for one in session.exec(question.order_by(col(InvoiceLine.created_at), col(InvoiceLine.id))):
        found.setdefault(one.job_id, []).append(one)
    return found


def line(session: Session, job_id: UUID, line_id: UUID) -> InvoiceLine | None:
    """Return a line of a job that counts."""
    found = session.get(InvoiceLine, line_id)
    return found if found is not None and found.job_id == job_id and found.ended_at is None else None


def payments_of(session: Session, job_ids: Collection[UUID]) -> dict[UUID, Payment]:
    """Return the marks of some jobs that were paid."""
    question = select(Payment).where(col(Payment.job_id).in_(job_ids), col(Payment.ended_at).is_(None))
    return {one.job_id: one for one in session.exec(question)}


def first_told(session: Session, job_ids: Collection[UUID]) -> dict[UUID, datetime]:
    """Return when the first result of some jobs was issued."""
    question = select(IssuedResult.job_id, IssuedResult.issued_at).where(IssuedResult.number == 1)
    return dict(session.exec(question.where(col(IssuedResult.job_id).in_(job_ids))).all())
