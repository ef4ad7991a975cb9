"""Time in the water from the stays that were written down."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

# Out for so long to be looked at, measured or moved to another tub, a soaked block does not dry; common practice,
# no published source.
INTERRUPTED = timedelta(minutes=30)


@dataclass(frozen=True)
class TimeInWater:
    """Hours in the water in the last soak, and hours out of it from then to the moment asked for."""

    hours: float
    out_hours: float


def time_in_water(stays: Sequence[tuple[datetime, datetime | None]], *, until: datetime) -> TimeInWater | None:
    """Return how long a block was in the water in its last soak before a moment.

    A short break does not end a soak, and the time out is not counted; a longer one does, and what was soaked
    before it no longer counts.

    Parameters
    ----------
    stays : Sequence[tuple[datetime, datetime or None]]
        When it went in and came out, with offsets; oldest first. None: it is still in the water.
    until : datetime
        The moment asked for, with an offset: when it was crushed.

    Returns
    -------
    TimeInWater or None
        None where it was never in the water before that moment.

    Source
    ------
    own-rule

    Examples
    --------
    Ten minutes by mistake, two days later 24 hours with a break of a quarter of an hour, out for half an hour:

    >>> from datetime import timezone
    >>> noon = datetime(2027, 3, 1, 12, 0, tzinfo=timezone.utc)
    >>> hour = timedelta(hours=1)
    >>> stays = [(noon, noon + hour / 6), (noon + 48 * hour, noon + 60 * hour), (noon + 60.25 * hour, noon + 72 * hour)]
    >>> found = time_in_water(stays, until=noon + 72.5 * hour)
    >>> found.hours, found.out_hours
    (23.75, 0.5)
    """
    before = [(start, until if end is None else min(end, until)) for start, end in stays if start < until]
    if not before:
        return None
    start, last_end = before[-1]
    hours = last_end - start
    for earlier_start, end in reversed(before[:-1]):
        if start - end > INTERRUPTED:
            break
        hours += end - earlier_start
        start = earlier_start
    hour = timedelta(hours=1)
    return TimeInWater(hours / hour, (until - last_end) / hour)
