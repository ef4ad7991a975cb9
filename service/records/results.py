"""Issued results, frozen to the byte, and the calibrations each rests on."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import Index, UniqueConstraint
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Field, Session, col, func, select

from service.errors import NotFound
from service.records.base import Row, Sha256, not_blank, one_of, positive, together
from service.records.customers import LANGUAGES
from service.records.jobs import Job
from service.records.presses import Calibration, Gauge
from service.records.shop import PAPERS


class IssuedResult(Row, table=True):
    """One numbered result of a job; the database lets nothing of it change but its withdrawal."""

    __table_args__ = (
        UniqueConstraint("job_id", "number"),
        *positive("number"),
        *not_blank("data", "engine"),
        one_of("language", LANGUAGES),
        one_of("paper", PAPERS),
        together("withdrawn_at", "withdrawn_because"),
        Index(None, "issued_at"),
    )

    job_id: UUID = Field(foreign_key="job.id")
    number: int
    issued_at: datetime
    issued_by: UUID = Field(foreign_key="person.id")
    remark: str
    data: str
    data_sha256: str = Field(sa_type=Sha256)
    engine: str
    page_sha256: str = Field(sa_type=Sha256, foreign_key="file.sha256")
    pdf_sha256: str = Field(sa_type=Sha256, foreign_key="file.sha256")
    language: str
    paper: str
    changes: str
    withdrawn_at: datetime | None = None
    withdrawn_because: str | None = None


class IssuedCalibration(Row, table=True):
    """A calibration that an issued result rests on."""

    __table_args__ = (UniqueConstraint("issued_result_id", "calibration_id"),)

    issued_result_id: UUID = Field(foreign_key="issued_result.id")
    calibration_id: UUID = Field(foreign_key="calibration.id", index=True)


def issued_of_job(session: Session, job_id: UUID) -> list[IssuedResult]:
    """Return the issued results of a job, newest first; whoever asks has looked the job up with ``jobs.visible``."""
    question = select(IssuedResult).where(IssuedResult.job_id == job_id)
    return list(session.exec(question.order_by(col(IssuedResult.number).desc())))


def issued_of_jobs(session: Session, job_ids: list[UUID]) -> dict[UUID, list[IssuedResult]]:
    """Return the issued results of several jobs, newest first; whoever asks may see all of these jobs."""
    question = select(IssuedResult).where(col(IssuedResult.job_id).in_(job_ids))
    by_job: dict[UUID, list[IssuedResult]] = {}
    for issued in session.exec(question.order_by(col(IssuedResult.number).desc())):
        by_job.setdefault(issued.job_id, []).append(issued)
    return by_job


def visible(session: Session, issued_result_id: UUID, *, seen_by: UUID | None) -> tuple[IssuedResult, Job]:
    """Return an issued result and its job, or the same NotFound for a missing one and another customer's."""
    question = select(IssuedResult, Job).join(Job, col(Job.id) == col(IssuedResult.job_id))
    found = session.exec(question.where(IssuedResult.id == issued_result_id)).one_or_none()
    if found is None or seen_by not in (None, found[1].customer_id):
        raise NotFound("There is no such result.")
    return found[0], found[1]


def by_number(session: Session, *, job_number: int, number: int) -> IssuedResult | None:
    """Return an issued result by the two numbers that stand on its paper."""
    question = select(IssuedResult).join(Job, col(Job.id) == col(IssuedResult.job_id))
    return session.exec(question.where(Job.number == job_number, IssuedResult.number == number)).one_or_none()


def job_number(session: Session, job_id: UUID) -> int:
    """Return the number of a job, which stands on its papers."""
    return session.exec(select(Job.number).where(Job.id == job_id)).one()


def next_number(session: Session, job_id: UUID) -> int:
    """Return the number of a job's next result; two issued at once clash on their UNIQUE."""
    question = select(func.max(IssuedResult.number)).where(IssuedResult.job_id == job_id)
    return (session.exec(question).one() or 0) + 1


def touched_by(session: Session, calibration_ids: Iterable[UUID]) -> list[tuple[IssuedResult, Job]]:
    """Return the issued results that rest on any of these calibrations, withdrawn ones left out."""
    resting = select(col(IssuedCalibration.issued_result_id)).where(
        col(IssuedCalibration.calibration_id).in_(set(calibration_ids))
    )
    question = (
        select(IssuedResult, Job)
        .join(Job, col(Job.id) == col(IssuedResult.job_id))
        .where(col(IssuedResult.id).in_(resting), col(IssuedResult.withdrawn_at).is_(None))
        .order_by(col(Job.number), col(IssuedResult.number))
    )
    return [(issued, job) for issued, job in session.exec(question)]


class Resting(NamedTuple):
    """An issued result that rests on a calibration, and the number of the newest of its job."""

    calibration_id: UUID
    issued_id: UUID
    number: int
    job_id: UUID
    job_number: int
    newest: int


def resting_on(session: Session, calibration_ids: Iterable[UUID]) -> list[Resting]:
    """Return the issued results that rest on calibrations, withdrawn ones left out, without their data."""
    later = aliased(IssuedResult)
    newest = (
        select(func.max(later.number))
        .where(col(later.job_id) == col(IssuedResult.job_id), col(later.withdrawn_at).is_(None))
        .correlate(IssuedResult)
        .scalar_subquery()
    )
    question: Any = (
        select_many(
            *(col(IssuedCalibration.calibration_id), col(IssuedResult.id), col(IssuedResult.number)),
            *(col(Job.id), col(Job.number), newest),
        )
        .join(IssuedResult, col(IssuedResult.id) == col(IssuedCalibration.issued_result_id))
        .join(Job, col(Job.id) == col(IssuedResult.job_id))
        .where(
            col(IssuedCalibration.calibration_id).in_(set(calibration_ids)),
            col(IssuedResult.withdrawn_at).is_(None),
        )
        .order_by(col(Job.number), col(IssuedResult.number))
    )
    return [Resting(*row) for row in session.exec(question)]


class Replaced(NamedTuple):
    """A calibration that another took the place of, the other, and the gauge of both."""

    old: Calibration
    new: Calibration
    gauge: Gauge


def replaced_under(session: Session, issued_result_id: UUID) -> list[Replaced]:
    """Return the calibrations an issued result rests on that were replaced since, oldest first."""
    new = aliased(Calibration)
    question: Any = (
        select_many(Calibration, new, Gauge)
        .join(IssuedCalibration, col(IssuedCalibration.calibration_id) == col(Calibration.id))
        .join(new, col(new.replaces_id) == col(Calibration.id))
        .join(Gauge, col(Gauge.id) == col(Calibration.gauge_id))
        .where(col(IssuedCalibration.issued_result_id) == issued_result_id)
        .order_by(col(Calibration.valid_from))
    )
    return [Replaced(*row) for row in session.exec(question)]
