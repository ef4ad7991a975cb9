"""The shop's closed days and hours, which its owner sets: what is due then is told in time."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, time
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, Caller, Done, act, look
from service.errors import Conflict, Invalid, NotFound
from service.records import closed_days as records
from service.records.closed_days import ClosedDay, OpeningHours

WEEKDAYS = ("1", "2", "3", "4", "5", "6", "7")


@dataclass(frozen=True)
class DayLine:
    """A single day on which the shop is closed."""

    id: UUID
    day: date
    name: str


@dataclass(frozen=True)
class Opening:
    """Days of the week on which the shop is closed (Monday is "1"), its hours as 07:30, and single days to come."""

    closed_weekdays: tuple[str, ...]
    opens_at: str | None
    closes_at: str | None
    days: list[DayLine]


@look("shop.opening", by=OWNERS)
def opening(session: Session, caller: Caller) -> Opening:
    """Return when the shop is closed."""
    kept, days = records.in_force(session, since=caller.clock.today)
    return Opening(
        tuple(kept.closed_weekdays) if kept else (),
        kept.opens_at if kept else None,
        kept.closes_at if kept else None,
        [DayLine(one.id, one.day, one.name) for one in days],
    )


@act("shop.set_hours", by=OWNERS)
def set_hours(
    session: Session, caller: Caller, *, closed_weekdays: Sequence[str], opens_at: time | None, closes_at: time | None
) -> Done:
    """Set on which days of the week the shop is closed, and its hours."""
    closed = "".join(sorted(set(closed_weekdays)))
    faults = {}
    if not set(closed) <= set(WEEKDAYS):
        faults["closed_weekdays"] = "Choose days of the week."
    if len(closed) == len(WEEKDAYS):
        faults["closed_weekdays"] = "Leave one day on which the shop is open."
    if (opens_at is None) != (closes_at is None):
        faults["closes_at" if closes_at is None else "opens_at"] = "Give both times, or neither."
    if opens_at is not None and closes_at is not None and opens_at >= closes_at:
        faults["closes_at"] = "The shop closes after it opens."
    if faults:
        raise Invalid("Check the marked fields.", faults)
    opens, closes = (f"{hour:%H:%M}" if hour else None for hour in (opens_at, closes_at))
    row = OpeningHours(closed_weekdays=closed, opens_at=opens, closes_at=closes, chosen_by=caller.doer)
    session.add(row)
    session.flush()
    return Done("opening_hours", row.id, {"closed_weekdays": closed, "opens_at": opens, "closes_at": closes})


@act("shop.close_on", by=OWNERS)
def close_on(session: Session, caller: Caller, *, day: date, name: str) -> Done:
    """Close the shop on a single day."""
    if day < caller.clock.today:
        raise Invalid("This day is past.", {"day": "Choose a day that is still to come."})
    if any(one.day == day for one in records.closed_days(session, since=day)):
        raise Conflict("The shop is closed on this day already.")
    row = ClosedDay(day=day, name=name.strip(), entered_by=caller.doer)
    session.add(row)
    session.flush()
    return Done("closed_day", row.id, {"day": day, "name": row.name})


@act("shop.open_on", by=OWNERS)
def open_on(session: Session, caller: Caller, *, closed_day_id: UUID) -> Done:
    """Open the shop again on a day that was to be closed."""
    row = session.get(ClosedDay, closed_day_id)
    if row is None:
        raise NotFound("There is no such closed day.")
    details = {"day": row.day, "name": row.name}
    session.delete(row)
    return Done("closed_day", closed_day_id, details)
