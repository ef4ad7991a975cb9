"""Jobs: whose soil, which question, what it is for, and the criteria that apply."""

from datetime import date, datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field, Session, col, func, select

from service.errors import NotFound
from service.records.base import Raw, Row, not_blank, one_of, positive, together
from service.records.customers import Customer

QUESTION_KINDS = ("addition", "least stabiliser", "which soil", "meets code")


class Job(Raw, table=True):
    """One customer's question about one soil. Its stage is worked out from its records and stands nowhere."""

    __table_args__ = (
        *positive("number", "wall_thickness_mm", "wall_height_m", "roof_line_load_kn_m"),
        *positive("machine_pressure_mpa", "machine_length_mm", "machine_width_mm", "machine_height_mm"),
        *positive("machine_density_kg_m3"),
        together("machine_length_mm", "machine_width_mm", "machine_height_mm"),
        *not_blank("site", "question"),
        one_of("question_kind", QUESTION_KINDS),
        CheckConstraint("closed_because IS NULL OR closed_at IS NOT NULL", name="closed_because_closed"),
        # The jobs in hand are found by it, and everything on the pages of the day by them.
        Index(None, "closed_at", "number"),
    )

    number: int = Field(unique=True)
    customer_id: UUID = Field(foreign_key="customer.id", index=True)
    site: str
    question: str
    question_kind: str
    wall_thickness_mm: float | None = None
    wall_height_m: float | None = None
    roof_line_load_kn_m: float | None = None
    machine_pressure_mpa: float | None = None
    machine_length_mm: float | None = None
    machine_width_mm: float | None = None
    machine_height_mm: float | None = None
    machine_density_kg_m3: float | None = None
    promised_on: date | None = None
    closed_at: datetime | None = None
    closed_because: str | None = None


class JobCriterion(Row, table=True):
    """A criterion that applies to a job, with its rules as they stood when it was chosen."""

    __table_args__ = (UniqueConstraint("job_id", "key", "edition"), *not_blank("key", "edition", "rules"))

    job_id: UUID = Field(foreign_key="job.id")
    key: str
    edition: str
    rules: str


def visible(session: Session, job_id: UUID, *, seen_by: UUID | None) -> Job:
    """Return a job, or the same NotFound for one that is missing and one that is another customer's."""
    job = session.get(Job, job_id)
    if job is None or seen_by not in (None, job.customer_id):
        raise NotFound("There is no such job.")
    return job


def with_customer(session: Session, job_id: UUID, *, seen_by: UUID | None) -> tuple[Job, Customer]:
    """Return a job and whose it is, in one statement."""
    question = select(Job, Customer).join(Customer, col(Customer.id) == col(Job.customer_id)).where(Job.id == job_id)
    found = session.exec(question).one_or_none()
    if found is None or seen_by not in (None, found[0].customer_id):
        raise NotFound("There is no such job.")
    return found[0], found[1]


def by_number(session: Session, number: int) -> Job | None:
    """Return the job of a number."""
    return session.exec(select(Job).where(Job.number == number)).one_or_none()


def after_number(session: Session, number: int, *, most: int) -> list[tuple[Job, Customer]]:
    """Return the next jobs after a number, with whose they are."""
    question = select(Job, Customer).join(Customer, col(Customer.id) == col(Job.customer_id))
    found = session.exec(question.where(Job.number > number).order_by(col(Job.number)).limit(most))
    return [(job, customer) for job, customer in found]


def next_number(session: Session) -> int:
    """Return the number of the next job; two who take it at once clash on its UNIQUE."""
    return (session.exec(select(func.max(Job.number))).one() or 0) + 1


def criteria_of(session: Session, job_id: UUID) -> list[JobCriterion]:
    """Return the criteria of a job, by key."""
    question = select(JobCriterion).where(JobCriterion.job_id == job_id)
    return list(session.exec(question.order_by(col(JobCriterion.key), col(JobCriterion.edition))))


def count_by_customer(session: Session, customer_ids: list[UUID]) -> dict[UUID, int]:
    """Return how many jobs each of some customers had."""
    question = select(Job.customer_id, func.count()).where(col(Job.customer_id).in_(customer_ids))
    return dict(session.exec(question.group_by(col(Job.customer_id))).all())
