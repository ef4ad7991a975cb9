"""The shop's clock: this moment, the day it is in the shop, and times as people of that shop say and type them."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from service.errors import Invalid

# The clock of a tablet and that of the server need not agree to the minute.
CLOCKS_APART = timedelta(minutes=10)
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class ShopClock:
    """One moment, and the time zone in which the shop keeps its days."""

    now: datetime
    zone: ZoneInfo
    # When something was typed that arrives only now.
    typed_at: datetime | None = None

    @property
    def today(self) -> date:
        """Return the day it is in the shop."""
        return self.day(self.now)

    def day(self, at: datetime) -> date:
        """Return the shop's day of a moment."""
        return at.astimezone(self.zone).date()

    def said(self, at: datetime) -> str:
        """Return a moment as the people of the shop say it, and as their pages show it."""
        local = at.astimezone(self.zone)
        return f"{local.day} {MONTHS[local.month - 1]} {local:%Y, %H:%M}"

    def past(self, given: datetime | None, *, field: str) -> datetime:
        """Return when something happened: as typed if it is past, else when it was entered."""
        if given is not None and given > self.now + CLOCKS_APART:
            raise Invalid("This time is still to come.", {field: "Write a time that is past."})
        return given or self.typed_at or self.now


def as_kept(kept: datetime | None, given: datetime | None) -> datetime | None:
    """Return the kept time where the given one is what a form shows of it, which is whole minutes."""
    if kept is None or given is None:
        return given
    return kept if timedelta(0) <= kept - given < timedelta(minutes=1) else given
