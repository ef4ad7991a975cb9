"""Answers kept, so that a request sent twice is done once and answered the same."""

from sqlalchemy import BigInteger, UniqueConstraint
from sqlmodel import Field, Session, select

from service.records.base import Row, Sha256, not_blank


class Replay(Row, table=True):
    """One answer: whose request, under which key, for which act on which input."""

    __table_args__ = (UniqueConstraint("caller_key", "request_key"), *not_blank("caller_key", "request_key", "act"))

    caller_key: str = Field(max_length=80)
    request_key: str = Field(max_length=64)
    act: str
    input_sha256: str = Field(sa_type=Sha256)
    answer: str
    trail_position: int = Field(sa_type=BigInteger, foreign_key="trail.position")


def find(session: Session, caller_key: str, request_key: str) -> Replay | None:
    """Return the answer a caller was given under a key."""
    question = select(Replay).where(Replay.caller_key == caller_key, Replay.request_key == request_key)
    return session.exec(question).one_or_none()


def keep(
    session: Session,
    *,
    caller_key: str,
    request_key: str,
    act: str,
    input_sha256: str,
    answer: str,
    trail_position: int,
) -> Replay:
    """Keep an answer; a second one under the same key clashes on its UNIQUE."""
    kept = Replay(
        caller_key=caller_key,
        request_key=request_key,
        act=act,
        input_sha256=input_sha256,
        answer=answer,
        trail_position=trail_position,
    )
    session.add(kept)
    session.flush()
    return kept
