"""The pot a batch is mixed in, and the blocks pressed to find the best moisture before a recipe is planned."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field, Session, col, select

from service.records.base import Raw, Versioned, positive
from service.records.versions import versions


class Pot(Raw, table=True):
    """The most a pot or a mixer takes of a damp mix; a larger batch is split over several fillings."""

    __table_args__ = (*positive("pot_kg"),)

    batch_id: UUID = Field(foreign_key="batch.id", unique=True)
    pot_kg: float


class MoistureTrial(Versioned, table=True):
    """A block pressed at one moisture, over the dry mix: its mass and sides tell how dense it became."""

    __table_args__ = (
        *positive("moisture", "wet_mass_kg", "length_mm", "width_mm", "height_mm"),
        *versions("moisture_trial"),
    )

    job_id: UUID = Field(foreign_key="job.id", index=True)
    moisture: float
    wet_mass_kg: float
    length_mm: float
    width_mm: float
    height_mm: float
    made_at: datetime
    made_by: UUID = Field(foreign_key="person.id")


def pot_of(session: Session, batch_id: UUID) -> Pot | None:
    """Return the pot of a batch, if one was named."""
    return session.exec(select(Pot).where(Pot.batch_id == batch_id)).one_or_none()


def newest_pot(session: Session) -> Pot | None:
    """Return the pot that was named last in the shop: what was used once is offered again."""
    return session.exec(select(Pot).order_by(col(Pot.created_at).desc()).limit(1)).one_or_none()


def moisture_trials(session: Session, job_id: UUID) -> list[MoistureTrial]:
    """Return every block of a job's moisture trial, those set aside too, drier first."""
    question = select(MoistureTrial).where(MoistureTrial.job_id == job_id)
    return list(session.exec(question.order_by(col(MoistureTrial.moisture), col(MoistureTrial.created_at))))
