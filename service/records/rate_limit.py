"""Attempts at a door, counted in the database so that every replica knows of them."""

from collections.abc import Iterable
from datetime import datetime, timedelta

from sqlalchemy import Index, delete
from sqlmodel import Session, col, func, select

from service.records.base import CLOCKS_DIFFER_BY, Row, not_blank

# What is older counts no more and is deleted.
REMEMBERED = timedelta(minutes=15)


class Attempt(Row, table=True):
    """One try at a bucket: a door, and a digest of who tried."""

    __table_args__ = (*not_blank("bucket"), Index(None, "bucket", "at"))

    bucket: str
    at: datetime


def wait_turn(session: Session, buckets: Iterable[str]) -> None:
    """Let others who try at the same buckets go first or after, so that each sees what was counted before."""
    if session.get_bind().dialect.name != "postgresql":
        return
    # In one order for all, so that no two wait for each other. Fifteen of its signs make a bucket's number.
    for bucket in sorted(buckets):
        session.execute(select(func.pg_advisory_xact_lock(int(bucket[:15], 16))))


def attempts_of_late(session: Session, *, bucket: str, at: datetime) -> int:
    """Return how often a bucket was tried of late; what a clock that ran ahead dated in the future never counts."""
    question = select(func.count()).select_from(Attempt).where(Attempt.bucket == bucket)
    of_late = col(Attempt.at).between(at - REMEMBERED, at + CLOCKS_DIFFER_BY)
    return session.exec(question.where(of_late)).one()


def was_tried(session: Session, *, bucket: str) -> bool:
    """Return whether a bucket was tried, whatever the clock said then: for what may be spent once only."""
    return session.exec(select(Attempt.id).where(Attempt.bucket == bucket).limit(1)).first() is not None


def forget_before(session: Session, moment: datetime) -> None:
    """Delete the attempts that no longer count."""
    session.execute(delete(Attempt).where(col(Attempt.at) < moment))
