"""Photographs of a sack, a block or a job."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field

from service.records.base import Row, Sha256, exactly_one


class Photo(Row, table=True):
    """One picture and what it shows; a removed one is no longer shown, and its row stays."""

    __table_args__ = (exactly_one("receipt_id", "block_id", "job_id"),)

    sha256: str = Field(sa_type=Sha256, foreign_key="file.sha256")
    receipt_id: UUID | None = Field(default=None, foreign_key="receipt.id", index=True)
    block_id: UUID | None = Field(default=None, foreign_key="block.id", index=True)
    job_id: UUID | None = Field(default=None, foreign_key="job.id", index=True)
    taken_at: datetime
    taken_by: UUID = Field(foreign_key="person.id")
    shown: bool = False
    removed_at: datetime | None = None
