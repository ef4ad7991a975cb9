"""The shop's own criteria and bands, and who checked a published text."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field, Session, col, select

from service.records.base import Row, Sha256, not_blank
from service.records.people import Person


class OwnCriterion(Row, table=True):
    """A rule the shop wrote itself, as canonical JSON."""

    __table_args__ = (*not_blank("name", "rules"),)

    name: str
    rules: str
    ended_at: datetime | None = None


class CriterionCheck(Row, table=True):
    """Who compared a criterion from memory with its published text; without one the criterion stays off."""

    __table_args__ = (*not_blank("key", "edition"),)

    key: str
    edition: str
    file_sha256: str = Field(sa_type=Sha256)
    checked_by: UUID = Field(foreign_key="person.id")
    checked_at: datetime
    note: str


class OwnBand(Row, table=True):
    """The shop's copy of an envelope or a band, as canonical JSON."""

    __table_args__ = (*not_blank("key"),)

    key: str
    values: str
    ended_at: datetime | None = None


def own_criteria(session: Session) -> list[OwnCriterion]:
    """Return the shop's own rules in force, by name."""
    question = select(OwnCriterion).where(col(OwnCriterion.ended_at).is_(None))
    return list(session.exec(question.order_by(col(OwnCriterion.name))))


def criterion_checks(session: Session) -> list[CriterionCheck]:
    """Return every check of a published text, newest first."""
    return list(session.exec(select(CriterionCheck).order_by(col(CriterionCheck.checked_at).desc())))


def checks_with_people(session: Session) -> list[tuple[CriterionCheck, Person]]:
    """Return every check of a published text with who made it, newest first."""
    question = select(CriterionCheck, Person).join(Person, col(Person.id) == col(CriterionCheck.checked_by))
    return [(check, by) for check, by in session.exec(question.order_by(col(CriterionCheck.checked_at).desc()))]


def own_bands(session: Session) -> list[OwnBand]:
    """Return the shop's own copies in force, oldest first."""
    question = select(OwnBand).where(col(OwnBand.ended_at).is_(None))
    return list(session.exec(question.order_by(col(OwnBand.created_at))))
