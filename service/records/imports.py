"""Readings of older jobs that came in a file: the file, its jobs, and each reading as it was typed there.

They are no blocks of ours: nobody here weighed or pressed them, and nothing is made up for what a file does not say.
"""

from collections.abc import Collection, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, UniqueConstraint, insert
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, func, select

from service.records.base import Raw, Row, Sha256, not_blank, not_negative, one_of, positive, together
from service.records.crushings import OUTCOMES
from service.records.customers import Customer
from service.records.people import Person
from service.records.recipes import CONDITIONS
from service.records.versions import one_where

LOADED = "outcome IN ('broke', 'held')"
COUNTS = "imported_at IS NOT NULL AND ended_at IS NULL"
AT_ONCE = 1000


class ImportFile(Row, table=True):
    """A file of older readings; until it is imported it waits for its columns to be matched."""

    __table_args__ = (
        *not_blank("name"),
        *positive("readings"),
        together("imported_at", "choices", "readings"),
        together("ended_at", "ended_because"),
        one_where("uq_import_file_once", "sha256", COUNTS),
    )

    name: str
    sha256: str = Field(sa_type=Sha256, foreign_key="file.sha256")
    begun_by: UUID | None = Field(default=None, foreign_key="person.id")
    imported_at: datetime | None = None
    imported_by: UUID | None = Field(default=None, foreign_key="person.id")
    choices: str | None = None
    readings: int | None = None
    ended_at: datetime | None = None
    ended_because: str | None = None


class ImportedJob(Row, table=True):
    """A job of such a file, by the name that it has there."""

    __table_args__ = (*not_blank("name"),)

    import_file_id: UUID = Field(foreign_key="import_file.id", index=True)
    name: str
    customer_id: UUID | None = Field(default=None, foreign_key="customer.id", index=True)
    site: str | None = None


class ImportedReading(Raw, table=True):
    """One block of such a job: a stress, or a force or a gauge with its face; ``step`` is the last digit written down.

    ``step`` has the unit of the one that was read.
    """

    __table_args__ = (
        UniqueConstraint("imported_job_id", "block"),
        *positive("age_days", "soak_hours", "step", "length_mm", "width_mm", "height_mm", "mass_kg", "row"),
        *not_negative("stress_mpa", "force_kn", "gauge_mpa"),
        *not_blank("block", "recipe", "batch"),
        one_of("condition", CONDITIONS),
        one_of("outcome", OUTCOMES),
        CheckConstraint("(condition = 'soaked') = (soak_hours IS NOT NULL)", name="soaked_has_hours"),
        CheckConstraint(
            "CASE WHEN stress_mpa IS NULL THEN 0 ELSE 1 END + CASE WHEN force_kn IS NULL THEN 0 ELSE 1 END"
            f" + CASE WHEN gauge_mpa IS NULL THEN 0 ELSE 1 END = CASE WHEN {LOADED} THEN 1 ELSE 0 END",
            name="loaded_has_one",
        ),
        CheckConstraint(
            "stress_mpa IS NOT NULL OR outcome NOT IN ('broke', 'held')"
            " OR (length_mm IS NOT NULL AND width_mm IS NOT NULL)",
            name="force_has_face",
        ),
        CheckConstraint("gauge_mpa IS NULL OR (gauge_id IS NOT NULL AND crushed_on IS NOT NULL)", name="gauge_has_day"),
    )

    imported_job_id: UUID = Field(foreign_key="imported_job.id")
    row: int
    block: str
    recipe: str
    batch: str
    condition: str
    age_days: float
    soak_hours: float | None = None
    outcome: str
    stress_mpa: float | None = None
    force_kn: float | None = None
    gauge_mpa: float | None = None
    gauge_id: UUID | None = Field(default=None, foreign_key="gauge.id", index=True)
    step: float | None = None
    length_mm: float | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    mass_kg: float | None = None
    crushed_on: date | None = None
    crushed_by: str | None = None
    remark: str | None = None


class ImportedWhole(NamedTuple):
    """A job out of a file that counts, with its readings in the order of the file."""

    job: ImportedJob
    file: ImportFile
    customer: Customer | None
    readings: list[ImportedReading]


def put_in(session: Session, jobs: Sequence[ImportedJob], readings: Sequence[dict[str, Any]]) -> None:
    """Write the jobs and readings of a file, many rows at a time."""
    session.add_all(jobs)
    session.flush()
    for first in range(0, len(readings), AT_ONCE):
        session.execute(insert(ImportedReading), readings[first : first + AT_ONCE])


def newest(session: Session, *, most: int) -> list[tuple[ImportFile, str | None]]:
    """Return the newest files, each with who imported it, or who began."""
    question = select(ImportFile, Person.name).outerjoin(
        Person, col(Person.id) == func.coalesce(col(ImportFile.imported_by), col(ImportFile.begun_by))
    )
    return [(one, who) for one, who in session.exec(question.order_by(col(ImportFile.created_at).desc()).limit(most))]


def counting(session: Session, sha256: str) -> ImportFile | None:
    """Return the import by which a content counts already."""
    question = select(ImportFile).where(ImportFile.sha256 == sha256, col(ImportFile.imported_at).is_not(None))
    return session.exec(question.where(col(ImportFile.ended_at).is_(None))).one_or_none()


def customers_named(session: Session, names: Collection[str]) -> dict[str, UUID]:
    """Return the customers of some names, written alike but for capitals, by the name in small letters."""
    small = {name.casefold() for name in names}
    found = session.exec(select(Customer.id, Customer.name))
    return {name.casefold(): customer_id for customer_id, name in found if name.casefold() in small}


def whole(
    session: Session, *, file_id: UUID | None = None, job_ids: Collection[UUID] | None = None
) -> list[ImportedWhole]:
    """Return the jobs of one file, some jobs, or of all files that count, with their readings, in one statement."""
    question: Any = (
        select_many(ImportedReading, ImportedJob, ImportFile, Customer)
        .join(ImportedJob, col(ImportedJob.id) == col(ImportedReading.imported_job_id))
        .join(ImportFile, col(ImportFile.id) == col(ImportedJob.import_file_id))
        .outerjoin(Customer, col(Customer.id) == col(ImportedJob.customer_id))
        .order_by(col(ImportFile.created_at), col(ImportedJob.name), col(ImportedReading.row))
    )
    if file_id is not None:
        question = question.where(col(ImportedJob.import_file_id) == file_id)
    elif job_ids is not None:
        question = question.where(col(ImportedJob.id).in_(job_ids))
    else:
        question = question.where(col(ImportFile.ended_at).is_(None))
    found: dict[UUID, ImportedWhole] = {}
    for reading, job, file, customer in session.execute(question):
        found.setdefault(job.id, ImportedWhole(job, file, customer, [])).readings.append(reading)
    return list(found.values())


def counting_jobs(session: Session, *, most: int) -> list[tuple[UUID, str]]:
    """Return the jobs of files that count, in the order in which they came: which, and their names."""
    question = (
        select(ImportedJob.id, ImportedJob.name)
        .join(ImportFile, col(ImportFile.id) == col(ImportedJob.import_file_id))
        .where(col(ImportFile.ended_at).is_(None))
        .order_by(col(ImportFile.created_at), col(ImportedJob.name))
    )
    return list(session.exec(question.limit(most)))


def jobs_of_customer(session: Session, customer_id: UUID, *, most: int) -> tuple[list[UUID], int]:
    """Return the newest imported jobs of a customer whose files count, and how many there are."""
    total = func.count().over()
    question: Any = (
        select_many(col(ImportedJob.id), total)
        .join(ImportFile, col(ImportFile.id) == col(ImportedJob.import_file_id))
        .where(col(ImportedJob.customer_id) == customer_id)
        .where(col(ImportFile.imported_at).is_not(None), col(ImportFile.ended_at).is_(None))
        .order_by(col(ImportedJob.created_at).desc(), col(ImportedJob.name))
    )
    found = session.execute(question.limit(most)).all()
    return [job_id for job_id, _ in found], found[0][1] if found else 0


def counting_files(session: Session) -> list[UUID]:
    """Return the files whose readings count, in the order in which they came."""
    question = select(ImportFile.id).where(col(ImportFile.imported_at).is_not(None), col(ImportFile.ended_at).is_(None))
    return list(session.exec(question.order_by(col(ImportFile.created_at))))
