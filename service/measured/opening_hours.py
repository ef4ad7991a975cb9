"""When the shop is open, from what its owner set."""

from datetime import time, timedelta

from sqlmodel import Session

from service.records import closed_days as records
from service.shop_clock import ShopClock
from service.trade.block.opening_days import OpeningDays

# What is late is looked at for so long still; older single days say nothing of what is due.
LOOKED_BACK = timedelta(days=60)


def opening_days(session: Session, clock: ShopClock) -> OpeningDays:
    """Return the shop's week, hours and closed days; a shop that set nothing is never closed."""
    kept, named = records.in_force(session, since=clock.today - LOOKED_BACK)
    return OpeningDays(
        zone=clock.zone,
        closed_weekdays=frozenset(int(digit) for digit in kept.closed_weekdays) if kept else frozenset(),
        opens=time.fromisoformat(kept.opens_at) if kept and kept.opens_at else time.min,
        closes=time.fromisoformat(kept.closes_at) if kept and kept.closes_at else time.max,
        closed_days={one.day: one.name for one in named},
    )
