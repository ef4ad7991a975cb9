"""Answers kept, so that a request sent twice is done once and answered the same."""

from typing import NamedTuple
from uuid import uuid4

from sqlalchemy import BigInteger, UniqueConstraint, bindparam, insert
from sqlmodel import Field, Session, select

from service.records.base import Row, Sha256, not_blank, now


class Replay(Row, table=True):
    """One answer: whose request, under which key, for which act on which input."""

    __table_args__ = (UniqueConstraint("caller_key", "request_key"), *not_blank("caller_key", "request_key", "act"))

    caller_key: str = Field(max_length=80)
    request_key: str = Field(max_length=64)
    act: str
    input_sha256: str = Field(sa_type=Sha256)
    answer: str
    trail_position: int = Field(sa_type=BigInteger, foreign_key="trail.position")


class Answer(NamedTuple):
    """What is kept of an answer: for which act, on which input, what it said, and its place in the log."""

    act: str
    input_sha256: str
    answer: str
    trail_position: int


# Every act passes here twice, so both statements are written once and without an object.
_INSERT = insert(Replay)
_FIND = select(Replay.act, Replay.input_sha256, Replay.answer, Replay.trail_position).where(
    Replay.caller_key == bindparam("caller"), Replay.request_key == bindparam("key")
)


def find(session: Session, caller_key: str, request_key: str) -> Answer | None:
    """Return the answer a caller was given under a key."""
    given = {"caller": caller_key, "key": request_key}
    found = session.connection().execute(_FIND, given).one_or_none()
    return None if found is None else Answer(*found)


def keep(
    session: Session,
    *,
    caller_key: str,
    request_key: str,
    act: str,
    input_sha256: str,
    answer: str,
    trail_position: int,
) -> None:
    """Keep an answer; a second one under the same key clashes on its UNIQUE."""
    told = {
        "id": uuid4(),
        "created_at": now(),
        "caller_key": caller_key,
        "request_key": request_key,
        "act": act,
        "input_sha256": input_sha256,
        "answer": answer,
        "trail_position": trail_position,
    }
    session.connection().execute(_INSERT, told)
