"""Rows that a test puts straight into the records: a statement a table, for a session asks one for each row."""

from collections import defaultdict
from collections.abc import Iterable
from typing import Any

from sqlalchemy import Table, insert
from sqlmodel import Session

from service.desk.results import live
from service.records.base import Row
from service.records.database import METADATA

Told = dict[Table, list[dict[str, Any]]]


def told(rows: Iterable[Row]) -> Told:
    """Return what the rows hold, by table, a table that others name before them."""
    held = defaultdict[Any, list[dict[str, Any]]](list)
    for row in rows:
        held[type(row).__table__].append(row.model_dump())  # type: ignore[attr-defined]
    return {table: held[table] for table in METADATA.sorted_tables if table in held}


def put(session: Session, rows: Told) -> None:
    """Put them into the records."""
    for table, held in rows.items():
        session.connection().execute(insert(table), held)


def forget_results() -> None:
    """Keep no result ready: rows put in without an act leave the trail, under which results are kept, as it was."""
    live._STANDS = type(live._STANDS)(most=16)
