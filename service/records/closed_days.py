"""When the shop is open: its week, its hours, and the single days on which it is closed."""

from datetime import date
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import CheckConstraint, UniqueConstraint, bindparam
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, select

from service.records.base import Row, not_blank, together
from service.records.shop import Shop


class OpeningHours(Row, table=True):
    """The days of the week on which the shop is closed, each by its digit (Monday is 1), and its hours.

    The newest row counts.
    """

    __table_args__ = (
        together("opens_at", "closes_at"),
        CheckConstraint("opens_at < closes_at", name="closes_after_it_opens"),
    )

    closed_weekdays: str
    # As 07:30, so that text sorts as the hours do.
    opens_at: str | None = None
    closes_at: str | None = None
    chosen_by: UUID = Field(foreign_key="person.id")


class ClosedDay(Row, table=True):
    """A single day on which the shop is closed, and what it is called."""

    __table_args__ = (UniqueConstraint("day"), *not_blank("name"))

    day: date
    name: str
    entered_by: UUID = Field(foreign_key="person.id")


def in_force(session: Session, *, since: date) -> tuple[OpeningHours | None, list[ClosedDay]]:
    """Return the week and hours in force, None before they were chosen, and the closed days from a day on, in order."""
    rows = list(session.execute(_in_force(), {"since": since}))
    return rows[0][0] if rows else None, [day for _, day in rows if day is not None]


@cache
def _in_force() -> Any:
    newest = select(OpeningHours.id).order_by(col(OpeningHours.created_at).desc()).limit(1).scalar_subquery()
    return (
        select_many(OpeningHours, ClosedDay)
        .select_from(Shop)
        .outerjoin(OpeningHours, col(OpeningHours.id) == newest)
        .outerjoin(ClosedDay, col(ClosedDay.day) >= bindparam("since"))
        .where(col(Shop.id) == 1)
        .order_by(col(ClosedDay.day))
    )


def closed_days(session: Session, *, since: date) -> list[ClosedDay]:
    """Return the single days on which the shop is closed from a day on, in order."""
    return list(session.exec(select(ClosedDay).where(col(ClosedDay.day) >= since).order_by(col(ClosedDay.day))))
