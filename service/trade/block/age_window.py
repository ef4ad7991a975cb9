"""When a block is due at the press, and when it must go into the water for that."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import lru_cache

from service.trade.validation import refuse, require

# How early or late a block may be crushed where a plan says nothing else; common practice, no published source.
USUAL_TOLERANCE_HOURS = 6.0


@dataclass(frozen=True)
class AgeWindow:
    """The moment a block is due, the window in which its age counts, and when its soak may begin; ends included."""

    due_at: datetime
    window_from: datetime
    window_to: datetime
    soak_from: datetime | None
    soak_until: datetime | None


def age_window(
    *,
    pressed_at: datetime,
    age_days: float,
    tolerance_hours: float,
    soak_hours: float | None = None,
    soak_hours_max: float | None = None,
) -> AgeWindow:
    """Return when a block is due and when its soak may begin.

    Parameters
    ----------
    pressed_at : datetime
        When the block was pressed; with an offset.
    age_days : float
        Days of 24 hours from pressing to crushing; above 0.
    tolerance_hours : float
        How much earlier or later the age still counts, in hours; 0 or more.
    soak_hours : float or None
        Least time under water, in hours; above 0. None for a block that is not soaked.
    soak_hours_max : float or None
        Longest time under water, in hours; at least `soak_hours`, which it is when None.

    Returns
    -------
    AgeWindow
        Moments in the offset of `pressed_at`; the soak may begin from the window's start less the longest
        soak until the window's end less the shortest.

    Raises
    ------
    Invalid
        If a number is out of range, the offset is missing, or a longest soak stands without a soak.

    Source
    ------
    age : days of 24 hours from pressing.

    Examples
    --------
    >>> from datetime import timezone
    >>> pressed = datetime(2027, 3, 1, 15, 20, tzinfo=timezone.utc)
    >>> age_window(pressed_at=pressed, age_days=7, tolerance_hours=6).due_at.isoformat()
    '2027-03-08T15:20:00+00:00'
    """
    if pressed_at.tzinfo is None or pressed_at.utcoffset() is None:
        refuse({"pressed_at": "The time needs its offset, such as -07:00."})
    try:
        due, start, end, soak_from, soak_until = _after(age_days, tolerance_hours, soak_hours, soak_hours_max)
        return AgeWindow(
            due_at=pressed_at + due,
            window_from=pressed_at + start,
            window_to=pressed_at + end,
            soak_from=None if soak_from is None else pressed_at + soak_from,
            soak_until=None if soak_until is None else pressed_at + soak_until,
        )
    except OverflowError:
        refuse({"age_days": "This leads outside the calendar."})


# Blocks of a group differ in their day alone, and a shop has thousands that wait.
@lru_cache(maxsize=1000)
def _after(
    age_days: float, tolerance_hours: float, soak_hours: float | None, soak_hours_max: float | None
) -> tuple[timedelta, timedelta, timedelta, timedelta | None, timedelta | None]:
    """Return how long after pressing each moment of a window comes."""
    require(positive={"age_days": age_days}, not_negative={"tolerance_hours": tolerance_hours})
    shortest, longest = _soak(soak_hours, soak_hours_max)
    due, slack = timedelta(days=age_days), timedelta(hours=tolerance_hours)
    start, end = due - slack, due + slack
    return (
        due,
        start,
        end,
        None if longest is None else start - timedelta(hours=longest),
        None if shortest is None else end - timedelta(hours=shortest),
    )


def _soak(soak_hours: float | None, soak_hours_max: float | None) -> tuple[float | None, float | None]:
    if soak_hours is None:
        if soak_hours_max is not None:
            refuse({"soak_hours": "A longest soak needs a shortest one."})
        return None, None
    require(positive={"soak_hours": soak_hours})
    longest = soak_hours if soak_hours_max is None else soak_hours_max
    if not longest >= soak_hours:
        refuse({"soak_hours_max": "The longest soak must be at least the shortest."})
    require(positive={"soak_hours_max": longest})
    return soak_hours, longest
