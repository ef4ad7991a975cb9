"""The shop's tablets."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import update
from sqlmodel import Field, Session, col, select

from service.records.base import Row, finite, not_blank, not_negative


class Device(Row, table=True):
    """A tablet the owner enrolled; people switch on it by name and PIN."""

    __table_args__ = (*not_blank("name"), *not_negative("unsent"), *finite("clock_ahead_s"))

    name: str
    enrolled_by: UUID = Field(foreign_key="person.id")
    ended_at: datetime | None = None
    last_spoke_at: datetime | None = None
    unsent: int = 0
    clock_ahead_s: float | None = None


def devices(session: Session) -> list[Device]:
    """Return every tablet, those in use first, then by name."""
    return list(session.exec(select(Device).order_by(col(Device.ended_at).is_not(None), col(Device.name))))


def names(session: Session) -> dict[UUID, str]:
    """Return what every tablet is called."""
    return {device.id: device.name for device in session.exec(select(Device))}


def names_in_use(session: Session) -> set[str]:
    """Return the names of the tablets that were not ended."""
    return set(session.exec(select(Device.name).where(col(Device.ended_at).is_(None))))


def spoke(session: Session, device_id: UUID, *, at: datetime) -> None:
    """Note that a tablet was in use."""
    session.execute(update(Device).where(col(Device.id) == device_id).values(last_spoke_at=at))
