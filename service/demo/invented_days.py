"""What the demo's tellers share: a clock they move, its people as callers, and the data file's texts as quantities."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from service.desk import materials
from service.desk.doorway import Caller, Stores
from service.typed import Typed, TypedPrice
from service.words.text_to_numbers import read_quantity


@dataclass
class Clock:
    """The clock of the story: it stands where the teller put it."""

    now: datetime

    def __call__(self) -> datetime:
        """Return the time of the story."""
        return self.now


@dataclass
class Teller:
    """Tells the story through the desks, each act by one of its people at its own time."""

    stores: Stores
    clock: Clock
    today: datetime
    zone: ZoneInfo
    callers: dict[str, Caller] = field(default_factory=dict)
    ids: dict[str, UUID] = field(default_factory=dict)

    def at(self, day: float, hour: float = 9.0) -> datetime:
        """Move the clock to an hour of a day, counted from today, and return that moment; never past now."""
        local = self.today.astimezone(self.zone).replace(hour=0, minute=0, second=0, microsecond=0)
        moment = (local + timedelta(days=day, hours=hour)).astimezone(UTC)
        self.clock.now = min(moment, self.today)
        return self.clock.now

    def go_to(self, moment: datetime) -> datetime:
        """Move the clock to a moment, never past now."""
        self.clock.now = min(moment, self.today)
        return self.clock.now

    def _who(self, name: str) -> Caller:
        return replace(self.callers[name], request_key=uuid4().hex)

    @property
    def owner(self) -> Caller:
        """Return the owner with a fresh key."""
        return self._who("owner")

    @property
    def technician(self) -> Caller:
        """Return the technician with a fresh key."""
        return self._who("technician")


KINDS = {
    "mass_kg": "mass",
    "depth_m": "height",
    "wall_height_m": "height",
    "roof_line_load_kn_m": "line_load",
    "wall_thickness_mm": "length",
    "machine_pressure_mpa": "pressure",
    "machine_length_mm": "length",
    "machine_width_mm": "length",
    "machine_height_mm": "length",
}


def typed(text: str, kind: str) -> Typed:
    """Return a text of the data file as somebody would have typed it."""
    return read_quantity(text, field="demo", kind=kind)


def quantities(told: Mapping[str, Any], names: Iterable[str]) -> dict[str, Typed]:
    """Return those of the named quantities that the data file gives."""
    return {name: typed(told[name], KINDS[name]) for name in names if name in told}


def set_price(teller: Teller, material_id: UUID, told: Mapping[str, Any]) -> None:
    """Keep a price of the data file, from its day on."""
    materials.set_price(
        teller.owner,
        material_id=material_id,
        valid_from=teller.at(told["day"]).date(),
        price=TypedPrice(Decimal(told["per_kg"]), told["per_kg"], "kg"),
        carbon_kg_per_kg=told.get("carbon"),
        carbon_low=told.get("low"),
        carbon_high=told.get("high"),
        bag_kg=Typed(told["bag"], f"{told['bag']:g}", "kg") if "bag" in told else None,
        source=told["source"],
    )
