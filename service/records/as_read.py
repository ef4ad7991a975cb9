"""Typed quantities on their way into raw rows: SI in the columns, and beside them what was typed."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.errors import Invalid
from service.records.base import Raw
from service.records.corrections import Correction, amend
from service.typed import Typed

Quantities = Mapping[str, Typed | None]


def as_read(given: Quantities) -> dict[str, dict[str, str]]:
    """Return what the raw tables keep of quantities, word for word."""
    return {name: typed.as_read() for name, typed in given.items() if typed is not None}


def columns_of(given: Quantities) -> dict[str, Any]:
    """Return the columns of a raw row; a quantity left out keeps the column's default."""
    return {name: typed.value for name, typed in given.items() if typed is not None} | {"as_read": as_read(given)}


def fill(row: Raw, given: Quantities) -> None:
    """Fill columns of a row that are still empty; what stands in one already is corrected, never filled."""
    for name, typed in given.items():
        if typed is not None:
            setattr(row, name, typed.value)
    row.as_read = {**row.as_read, **as_read(given)}


def corrected(
    session: Session,
    row: Raw,
    *,
    typed: Quantities,
    words: Mapping[str, Any],
    at: datetime,
    by: UUID,
    because: str,
) -> Correction | None:
    """Give a row the values that differ from its own, the old ones kept beside the reason; None if none differs."""
    wanted = {**words, **{name: one.value if one is not None else None for name, one in typed.items()}}
    changes = {name: value for name, value in wanted.items() if getattr(row, name) != value}
    if not because.strip():
        raise Invalid("Give a reason.", {"because": "Give a reason."})
    if not changes:
        return None
    read = {name: text for name, text in as_read(typed).items() if name in changes}
    return amend(session, row, changes, as_read=read, at=at, by=by, because=because.strip())
