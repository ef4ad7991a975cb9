"""Attempts at a door, counted in the database so that every replica knows of them."""

from datetime import datetime

from sqlalchemy import Index
from sqlmodel import Session, col, func, select

from service.records.base import Row, not_blank


class Attempt(Row, table=True):
    """One try at a bucket: a door, and a digest of who tried."""

    __table_args__ = (*not_blank("bucket"), Index(None, "bucket", "at"))

    bucket: str
    at: datetime


def attempts_since(session: Session, *, bucket: str, since: datetime) -> int:
    """Return how often a bucket was tried since a moment."""
    question = select(func.count()).select_from(Attempt).where(Attempt.bucket == bucket, col(Attempt.at) >= since)
    return session.exec(question).one()
