"""Corrections of typed values on rows that others point at: a sack, a batch, a weighing, a block.

Such a row keeps its identity, so what it said before moves to a row of its own here, which the database
refuses to change afterwards.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Field, Session, col, select

from service.errors import Conflict, Invalid
from service.records.base import Raw, Row, canonical, not_blank


class Correction(Row, table=True):
    """What a row said before and after, who corrected it, when and why."""

    __table_args__ = (*not_blank("subject_kind", "because"),)

    subject_kind: str
    subject_id: UUID = Field(index=True)
    was: str
    became: str
    corrected_at: datetime
    corrected_by: UUID = Field(foreign_key="person.id")
    because: str


def amend(
    session: Session,
    row: Raw,
    changes: Mapping[str, Any],
    *,
    as_read: Mapping[str, Mapping[str, str]],
    at: datetime,
    by: UUID,
    because: str,
) -> Correction:
    """Give a row new values and keep the old ones, each with what was typed; the row is locked meanwhile."""
    if not because.strip():
        raise Invalid("Give a reason.", {"because": "Give a reason."})
    seen = {column: getattr(row, column) for column in changes}
    session.refresh(row, with_for_update=True)
    if any(getattr(row, column) != value for column, value in seen.items()):
        raise Conflict("Somebody has corrected this meanwhile. Look at it again before changing it.")
    was = _said(row, changes)
    for column, value in changes.items():
        setattr(row, column, value)
    kept = {column: typed for column, typed in row.as_read.items() if column not in changes}
    row.as_read = {**kept, **{column: dict(typed) for column, typed in as_read.items()}}
    correction = Correction(
        subject_kind=type(row).__name__,
        subject_id=row.id,
        was=canonical(was),
        became=canonical(_said(row, changes)),
        corrected_at=at,
        corrected_by=by,
        because=because,
    )
    session.add_all([row, correction])
    session.flush()
    noted(session).corrections.append(correction.id)
    return correction


def _said(row: Raw, columns: Mapping[str, Any]) -> dict[str, Any]:
    return {column: {"value": getattr(row, column), "typed": row.as_read.get(column)} for column in columns}


@dataclass
class Noted:
    """What the acts of a session corrected: rows of corrections; and of versions the table, the old and the new row."""

    corrections: list[UUID] = field(default_factory=list)
    versions: list[tuple[str, UUID, UUID | None]] = field(default_factory=list)

    def told(self) -> dict[str, Any]:
        """Return what the trail keeps of it, so that an act can be taken back."""
        return {name: value for name, value in vars(self).items() if value}


def noted(session: Session) -> Noted:
    """Return what was corrected in this session so far."""
    found: Noted = session.info.setdefault("noted", Noted())
    return found


def corrections_of(session: Session, subject_ids: list[UUID]) -> list[Correction]:
    """Return the corrections of rows, oldest first."""
    question = select(Correction).where(col(Correction.subject_id).in_(subject_ids))
    return list(session.exec(question.order_by(col(Correction.corrected_at), col(Correction.id))))


def before_and_after(correction: Correction) -> dict[str, tuple[Any, Any]]:
    """Return what each column said before and after, as ``{"value", "typed"}`` both times."""
    was, became = json.loads(correction.was), json.loads(correction.became)
    return {column: (was[column], became[column]) for column in was}
