"""Time in the water: what the stays say, and what was typed only where no stay is recorded."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.records.blocks import Soak
from service.records.crushings import Crushing
from service.trade.block.time_in_water import time_in_water


@dataclass(frozen=True)
class InWater:
    """How long a block was in the water before it was crushed and how long out again; None where not known."""

    hours: float | None
    out_hours: float | None


def in_water(crushing: Crushing, stays: Sequence[Soak]) -> InWater:
    """Return the time in the water of a crushed block: measured where a stay is recorded, else as typed."""
    found = time_in_water([(one.started_at, one.ended_at) for one in stays], until=crushing.crushed_at)
    if found is None:
        return InWater(crushing.water_hours, None)
    return InWater(found.hours, found.out_hours)


def out_at(crushing: Crushing) -> datetime:
    """Return when a block that was crushed straight from the water came out of it."""
    return crushing.crushed_at - timedelta(minutes=crushing.out_of_water_min or 0.0)


def ended_by(crushing: Crushing, stays: Sequence[Soak]) -> Soak | None:
    """Return the stay in the water that a crushing ended, None where the block was taken out before or never in."""
    return next((one for one in stays if one.ended_at == out_at(crushing)), None)
