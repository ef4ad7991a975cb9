"""What is dated in the future, because a clock ran ahead once: it counts as absent, and a check-up reports it."""

from datetime import datetime
from typing import NamedTuple

from sqlmodel import Session, func, or_, select
from sqlmodel.sql.sqltypes import UTCDateTime

from service.records.base import CLOCKS_DIFFER_BY, Table

# What says until when something holds is to come by its nature.
ENDS = frozenset({"expires_at", "held_until", "claimed_until"})


class Ahead(NamedTuple):
    """How many rows of a table are dated in the future, and the last moment that one names."""

    table: str
    rows: int
    last_at: datetime


def dated_ahead(session: Session, *, at: datetime) -> list[Ahead]:
    """Return, for each table that has any, what is dated later than clocks of one shop may differ."""
    found = []
    for table in Table.metadata.sorted_tables:
        moments = [one for one in table.columns if isinstance(one.type, UTCDateTime) and one.name not in ENDS]
        if not moments:
            continue
        early = or_(*(one > at + CLOCKS_DIFFER_BY for one in moments))
        told = session.execute(select(func.count(), *(func.max(one) for one in moments)).where(early)).one()
        if told[0]:
            found.append(Ahead(table.name, told[0], max(one for one in told[1:] if one is not None)))
    return found
