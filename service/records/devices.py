"""The shop's tablets."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field

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
