"""The one standing row of a versioned table: how it is kept single, ended and replaced."""

from datetime import datetime
from typing import Any, TypeVar
from uuid import UUID

from sqlalchemy import CheckConstraint, CursorResult, ForeignKeyConstraint, Index, inspect, text, update
from sqlalchemy.schema import SchemaItem
from sqlmodel import Session

from service.errors import Conflict
from service.records.base import Versioned, together
from service.records.corrections import noted

Reading = TypeVar("Reading", bound=Versioned)


def versions(table: str, *, once: str | tuple[str, ...] | None = None) -> list[SchemaItem]:
    """Return what holds for a versioned table; with ``once`` one row at most stands for a value of those columns."""
    rules: list[SchemaItem] = [
        together("ended_at", "ended_by", "ended_because"),
        CheckConstraint("replaces_id <> id", name="replaces_other"),
        ForeignKeyConstraint(["replaces_id"], [f"{table}.id"]),
    ]
    if once is not None:
        rules.append(one_where(f"uq_{table}_standing", once, "ended_at IS NULL"))
    return rules


def one_where(name: str, columns: str | tuple[str, ...], condition: str) -> Index:
    """Return the index that lets values stand once among the rows that meet a condition, on both databases."""
    rows = text(condition)
    each = (columns,) if isinstance(columns, str) else columns
    return Index(name, *each, unique=True, sqlite_where=rows, postgresql_where=rows)


def end(session: Session, row: Versioned, *, at: datetime, by: UUID, because: str) -> None:
    """End a standing row; the second of two who end it at once gets a Conflict."""
    table: Any = inspect(row).mapper.local_table
    ended: CursorResult[Any] = session.connection().execute(
        update(table)
        .where(table.c.id == row.id, table.c.ended_at.is_(None))
        .values(ended_at=at, ended_by=by, ended_because=because)
    )
    if ended.rowcount != 1:
        raise Conflict("Somebody has corrected this meanwhile. Look at it again before changing it.")
    session.refresh(row)
    noted(session).versions.append((table.name, row.id, None))


def replace(session: Session, old: Reading, new: Reading, *, at: datetime, by: UUID, because: str) -> Reading:
    """Put a corrected row in the place of a standing one and return it."""
    end(session, old, at=at, by=by, because=because)
    new.replaces_id = old.id
    session.add(new)
    session.flush()
    ended = noted(session).versions
    ended[-1] = (*ended[-1][:2], new.id)
    return new
