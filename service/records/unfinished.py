"""Forms that are half filled in: a can weighed damp today and dried tomorrow, a jar whose clay settles overnight."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import JSON, UniqueConstraint, delete
from sqlmodel import Field, Session, col, select

from service.records.base import Row, not_blank
from service.records.people import Person


class Unfinished(Row, table=True):
    """What was typed so far into one form of a sack or a soil; it goes when the form is sent whole."""

    __table_args__ = (UniqueConstraint("subject_id", "form"), *not_blank("form"))

    subject_id: UUID
    form: str
    typed: dict[str, str] = Field(sa_type=JSON)
    kept_at: datetime
    kept_by: UUID = Field(foreign_key="person.id")


def of_subject(session: Session, subject_id: UUID) -> list[tuple[Unfinished, Person]]:
    """Return the half-filled forms of a sack or a soil, each with who typed last."""
    question = select(Unfinished, Person).join(Person, col(Person.id) == col(Unfinished.kept_by))
    return list(session.exec(question.where(Unfinished.subject_id == subject_id)))


def end(session: Session, subject_id: UUID, form: str) -> None:
    """Forget a half-filled form, if there is one."""
    session.exec(delete(Unfinished).where(col(Unfinished.subject_id) == subject_id, col(Unfinished.form) == form))
