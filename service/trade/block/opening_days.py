"""When the shop is open, and whether what is due with a block falls on an open hour."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

from service.trade.block.soak_and_crush_steps import Do, Meant

A_DAY = timedelta(days=1)


class Span(NamedTuple):
    """From one moment to another, both in UTC so that they can be taken from each other over a change of clocks."""

    start: datetime
    end: datetime


@dataclass(frozen=True)
class Closed:
    """Why the end of a span cannot be used, and the last open moment in it; ``day`` is None where only the hour is."""

    day: date | None
    name: str
    do_by: datetime | None


@dataclass(frozen=True)
class OpeningDays:
    """The shop's week (Monday is 1), its hours, and single days on which it is closed, each with its name."""

    zone: ZoneInfo
    closed_weekdays: frozenset[int] = frozenset()
    opens: time = time.min
    closes: time = time.max
    closed_days: Mapping[date, str] = field(default_factory=dict)

    @property
    def never_closed(self) -> bool:
        """Whether nothing was said of closed days and hours."""
        hours = (self.opens, self.closes) == (time.min, time.max)
        return hours and not self.closed_weekdays and not self.closed_days

    def is_closed(self, day: date) -> bool:
        """Return whether the shop is closed all of that day."""
        return day.isoweekday() in self.closed_weekdays or day in self.closed_days

    def is_closed_around(self, at: datetime) -> bool:
        """Return whether the shop is closed all of the day of that moment."""
        return self.is_closed(at.astimezone(self.zone).date())

    def is_open(self, at: datetime) -> bool:
        """Return whether the shop is open at that moment."""
        local = at.astimezone(self.zone)
        return not self.is_closed(local.date()) and self.opens <= local.time() <= self.closes

    def midday(self, day: date) -> datetime:
        """Return the middle of the opening hours of a day, taken for the hour at which its blocks are pressed."""
        start, end = self._hours(day)
        return start + (end - start) / 2

    def spans(self, start: datetime, end: datetime) -> Iterator[Span]:
        """Yield the open hours from one moment to another, the last ones first."""
        day, first = end.astimezone(self.zone).date(), start.astimezone(self.zone).date()
        while day >= first:
            if not self.is_closed(day):
                opens, closes = self._hours(day)
                span = Span(max(opens, start.astimezone(UTC)), min(closes, end.astimezone(UTC)))
                if span.start <= span.end:
                    yield span
            day -= A_DAY

    def closed_at_end(self, *, start: datetime, end: datetime) -> Closed | None:
        """Return what is to be said of a span that ends while the shop is closed, None of one that does not."""
        if self.is_open(end):
            return None
        last = next(self.spans(start, end), None)
        day = self._closed_day(end)
        name = self.closed_days.get(day, "") if day else ""
        return Closed(day, name, last.end.astimezone(self.zone) if last else None)

    def _closed_day(self, at: datetime) -> date | None:
        """Return the closed day that a moment falls on, or that lies just before its early hour."""
        local = at.astimezone(self.zone)
        day = local.date()
        if not self.is_closed(day) and local.time() < self.opens:
            day -= A_DAY
        return day if self.is_closed(day) else None

    def _hours(self, day: date) -> Span:
        start, end = (datetime.combine(day, hour, self.zone).astimezone(UTC) for hour in (self.opens, self.closes))
        return Span(start, end)


@dataclass(frozen=True)
class FallsClosed:
    """An act whose own moment falls on closed hours, and the open moments before and after it that still count."""

    do: Do
    at: datetime
    closed: Closed
    before: datetime | None
    after: datetime | None

    @property
    def still_counts(self) -> bool:
        """Whether the act can be done while the shop is open."""
        return self.before is not None or self.after is not None


def falls_closed(meant: Meant, *, pressed_at: datetime, opening: OpeningDays) -> tuple[FallsClosed, ...]:
    """Return which acts with a block fall on hours when the shop is closed.

    Parameters
    ----------
    meant : Meant
        The condition that the block is planned for.
    pressed_at : datetime
        When it is pressed; with an offset.
    opening : OpeningDays
        When the shop is open.

    Returns
    -------
    tuple[FallsClosed, ...]
        Putting to soak at the shortest soak before the due moment, and crushing at the due moment, each with the
        last open moment before it and the first one after it that still count. Where both can be done while the
        shop is open, and never one after the other, taking out of the water stands in it. Empty: all fall well.

    Raises
    ------
    Invalid
        If a number of the plan is out of range or `pressed_at` has no offset.

    Source
    ------
    age : days of 24 hours from pressing.

    Examples
    --------
    A block pressed at noon on a Sunday in a shop that is closed on Sundays is due on a Sunday again.

    >>> from datetime import timezone
    >>> opening = OpeningDays(ZoneInfo("UTC"), frozenset({7}), time(8), time(17))
    >>> pressed = datetime(2027, 3, 7, 12, 0, tzinfo=timezone.utc)
    >>> (falls,) = falls_closed(Meant("air-dry", 7, 6), pressed_at=pressed, opening=opening)
    >>> falls.do, falls.still_counts
    ('crush', False)
    """
    window = meant.window(pressed_at)
    found = [_falls("crush", window.due_at, window.window_from, window.window_to, opening)]
    if meant.soak_hours is not None and window.soak_from is not None and window.soak_until is not None:
        wet_at = window.due_at - timedelta(hours=meant.soak_hours)
        found.insert(0, _falls("soak", wet_at, window.soak_from, window.soak_until, opening))
    falls = tuple(one for one in found if one is not None)
    if all(one.still_counts for one in falls) and not _in_turn(meant, pressed_at, opening):
        out = Closed(None, "", None)
        return (*falls, FallsClosed("take out", window.due_at.astimezone(opening.zone), out, None, None))
    return falls


def _falls(do: Do, at: datetime, start: datetime, end: datetime, opening: OpeningDays) -> FallsClosed | None:
    if opening.is_open(at) or (do == "soak" and _is_of_the_hour_alone(at, start, end, opening)):
        return None
    closed = opening.closed_at_end(start=start, end=at)
    before = next(opening.spans(start, at), None)
    after = min(opening.spans(at, end), default=None)
    assert closed is not None
    return FallsClosed(
        do, at.astimezone(opening.zone), closed, before.end.astimezone(opening.zone) if before else None,
        after.start.astimezone(opening.zone) if after else None,
    )  # fmt: skip


def _is_of_the_hour_alone(at: datetime, start: datetime, end: datetime, opening: OpeningDays) -> bool:
    """A soak may begin over many hours: that its middle falls on a night says nothing while some of them are open."""
    is_night = not opening.is_closed_around(at)
    return is_night and any(opening.spans(start, end))


def _in_turn(meant: Meant, pressed_at: datetime, opening: OpeningDays) -> bool:
    """Whether a soak of the planned length leads from one open moment to another."""
    window, longest = meant.window(pressed_at), meant.longest_soak_hours
    if window.soak_from is None or window.soak_until is None or longest is None or meant.soak_hours is None:
        return True
    dry = list(opening.spans(window.window_from, window.window_to))
    return any(
        (out.end - wet.start) / timedelta(hours=1) >= meant.soak_hours
        and (out.start - wet.end) / timedelta(hours=1) <= longest
        for wet in opening.spans(window.soak_from, window.soak_until)
        for out in dry
    )
