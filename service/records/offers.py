"""Requests and offers: what a customer asks for, what the shop offers, and what became of it; the newest row counts."""

from collections.abc import Collection
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import Literal
from uuid import UUID

from sqlalchemy import CheckConstraint, Select, UniqueConstraint, bindparam
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, select

from service.records.base import Money, Row, not_blank, one_of, positive, together
from service.records.people import Person

SETTLED = ("accepted", "declined", "started without")
State = Literal["asked", "offered", "accepted", "declined", "started without"]


class Offer(Row, table=True):
    """A request, which has no price yet, or an offer; another row takes its place when the shop offers anew."""

    __table_args__ = (
        CheckConstraint("price >= 0", name="price_not_negative"),
        *positive("position"),
        UniqueConstraint("job_id", "position"),
        *not_blank("settled_name"),
        one_of("settled_as", SETTLED),
        together("price", "expected_on"),
        together("settled_as", "settled_at", "settled_by"),
    )

    job_id: UUID = Field(foreign_key="job.id")
    position: int
    made_by: UUID = Field(foreign_key="person.id")
    price: Decimal | None = Field(default=None, sa_type=Money)
    expected_on: date | None = None
    # What a customer says of the pit, or what the shop says of the offer.
    remark: str | None = None
    settled_as: str | None = None
    settled_at: datetime | None = None
    settled_by: UUID | None = Field(default=None, foreign_key="person.id")
    # Who accepted, where somebody of the shop wrote it down.
    settled_name: str | None = None

    @property
    def state(self) -> State:
        """Return how far it is."""
        return self.settled_as or ("asked" if self.price is None else "offered")  # type: ignore[return-value]

    @property
    def holds_up(self) -> bool:
        """Return whether work waits for it."""
        return self.settled_as not in ("accepted", "started without")


def of_job(session: Session, job_id: UUID) -> list[tuple[Offer, Person]]:
    """Return the request and the offers of a job with who made each, the newest first."""
    question = select(Offer, Person).join(Person, col(Person.id) == col(Offer.made_by)).where(Offer.job_id == job_id)
    return list(session.exec(question.order_by(col(Offer.position).desc())))


def newest(session: Session, job_id: UUID) -> Offer | None:
    """Return the offer that counts, for this transaction alone to settle."""
    question = select(Offer).where(Offer.job_id == job_id).order_by(col(Offer.position).desc())
    return session.exec(question.limit(1).with_for_update()).first()


def of_jobs(session: Session, job_ids: Collection[UUID]) -> dict[UUID, Offer]:
    """Return the offer that counts of each of some jobs."""
    return {one.job_id: one for one in session.scalars(_of_jobs(), {"job_ids": list(job_ids)})}


@cache
def _of_jobs() -> Select[Offer]:
    wanted = col(Offer.job_id).in_(bindparam("job_ids", expanding=True))
    return select_many(Offer).where(wanted).order_by(col(Offer.position))


def made_by(session: Session, person_id: UUID) -> list[datetime]:
    """Return when somebody made their last requests or offers, the newest first."""
    question = select(Offer.created_at).where(Offer.made_by == person_id)
    return list(session.exec(question.order_by(col(Offer.created_at).desc()).limit(50)))
