"""The trail: who did what and when, each entry holding the digest of the one before it.

The database refuses to change or delete an entry (triggers of the first migrations); ``verify`` finds
one that was changed behind its back.
"""

import hashlib
from collections.abc import Callable, Mapping
from contextlib import closing
from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import BigInteger, insert, or_, text
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, func, select

from service.records.base import Sha256, Table, canonical, not_blank, one_of, positive
from service.records.corrections import noted
from service.records.idempotency import Replay

VIAS = ("page", "api", "command", "round")

# The advisory lock that a PostgreSQL writer holds from its entry to its commit; any number no other lock of ours uses.
HEAD_LOCK = 7_240_311
BEFORE_THE_FIRST = "0" * 64


class Trail(Table, table=True):
    """One entry. Positions run from 1 without gaps."""

    __table_args__ = (*positive("position"), one_of("via", VIAS), *not_blank("act", "subject_kind"))

    position: int = Field(primary_key=True, sa_type=BigInteger, sa_column_kwargs={"autoincrement": False})
    at: datetime
    person_id: UUID | None = Field(default=None, foreign_key="person.id")
    device_id: UUID | None = Field(default=None, foreign_key="device.id")
    via: str
    request_id: str
    act: str
    subject_kind: str
    subject_id: str = Field(index=True)
    details: str
    previous_sha256: str = Field(sa_type=Sha256, unique=True)
    sha256: str = Field(sa_type=Sha256, unique=True)


_INSERT = insert(Trail)
_HEAD = select(Trail.position, Trail.sha256).order_by(col(Trail.position).desc()).limit(1)


def append(
    session: Session,
    *,
    at: datetime,
    person_id: UUID | None,
    device_id: UUID | None,
    via: str,
    request_id: str,
    act: str,
    subject_kind: str,
    subject_id: UUID | str | int,
    details: Mapping[str, Any],
) -> int:
    """Add an entry at the head and return its position; call it last, for it holds the head's lock until the commit."""
    _lock_head(session)
    position, previous_sha256 = head(session)
    told: dict[str, Any] = {
        "position": position + 1,
        "at": at.astimezone(UTC),
        "person_id": person_id,
        "device_id": device_id,
        "via": via,
        "request_id": request_id,
        "act": act,
        "subject_kind": subject_kind,
        "subject_id": str(subject_id),
        # What the act corrected stands beside, so that it can be taken back.
        "details": canonical({**details, **noted(session).told()}),
        "previous_sha256": previous_sha256,
    }
    # Every act passes here, so the row is written without an object.
    session.connection().execute(_INSERT, {**told, "sha256": _digest(told)})
    return position + 1


def _lock_head(session: Session) -> None:
    # SQLite has its one writer since BEGIN IMMEDIATE; PostgreSQL writers queue here and see what the last committed.
    if session.get_bind().dialect.name == "postgresql":
        session.connection().execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": HEAD_LOCK})


def head(session: Session) -> tuple[int, str]:
    """Return the position and digest of the newest entry; the first one follows position 0."""
    found = session.connection().execute(_HEAD).one_or_none()
    return (0, BEFORE_THE_FIRST) if found is None else (found[0], found[1])


def head_and(session: Session, position: int) -> tuple[tuple[int, str], str | None]:
    """Return position and digest of the newest entry, and the digest of the one at a position, in one statement."""
    newest = select(func.max(Trail.position)).scalar_subquery()
    question = select(Trail.position, Trail.sha256).where(col(Trail.position).in_([newest, position]))
    found = dict(session.exec(question).all())
    head = max(found.items(), default=(0, BEFORE_THE_FIRST))
    return head, found.get(position)


def subjects_since(session: Session, position: int, *, most: int) -> dict[str, set[UUID]] | None:
    """Return what was acted on after a position: ids by kind. None where there were more acts than ``most``."""
    question = select(Trail.subject_kind, Trail.subject_id).where(col(Trail.position) > position).distinct()
    found: dict[str, set[UUID]] = {}
    for number, (kind, subject) in enumerate(session.exec(question.limit(most + 1))):
        if number == most:
            return None
        found.setdefault(kind, set()).add(UUID(subject))
    return found


def _digest(told: Mapping[str, Any]) -> str:
    return hashlib.sha256(canonical(told).encode()).hexdigest()


def verify(session: Session, *, told: Callable[[int], None] | None = None) -> int | None:
    """Return the first position that is missing, moved or changed, or None when the chain is whole."""
    expected, previous = 1, BEFORE_THE_FIRST
    question = select_many(*Trail.__table__.c).order_by(col(Trail.position))  # type: ignore[attr-defined]
    with closing(session.connection().execute(question, execution_options={"yield_per": 1000})) as rows:
        for row in rows:
            entry = dict(row._mapping)
            sha256 = entry.pop("sha256")
            if entry["position"] != expected or entry["previous_sha256"] != previous or sha256 != _digest(entry):
                return expected
            if told is not None:
                told(expected)
            expected, previous = expected + 1, sha256
    # A chain cut off at its end is whole in itself; the answers kept beside it still know how far it went.
    answered = session.exec(select(func.max(Replay.trail_position))).one() or 0
    return expected if answered >= expected else None


def entries(session: Session, *, about: str = "", limit: int) -> list[Trail]:
    """Return the newest entries first, those about one subject when its id or kind is given."""
    question = select(Trail).order_by(col(Trail.position).desc()).limit(limit)
    if about:
        question = question.where(or_(col(Trail.subject_id) == about, col(Trail.subject_kind) == about))
    return list(session.exec(question))


def newest_at(session: Session) -> datetime | None:
    """Return the time of the newest entry."""
    return session.exec(select(Trail.at).order_by(col(Trail.position).desc()).limit(1)).one_or_none()
