"""Whose turn it is among replicas, and when the shop was last archived."""

from datetime import datetime

from sqlmodel import Field

from service.records.base import Row, Sha256, Table, not_blank, now


class Turn(Table, table=True):
    """A piece of work that one replica at a time may do."""

    __table_args__ = (*not_blank("name", "holder"),)

    name: str = Field(primary_key=True)
    created_at: datetime = Field(default_factory=now)
    held_until: datetime
    holder: str


class ArchiveRun(Row, table=True):
    """One archive made, good or not."""

    at: datetime
    path: str
    sha256: str | None = Field(default=None, sa_type=Sha256)
    ok: bool
