"""`moisture`: water content from can masses."""

from typing import Any

from pydantic import ConfigDict

from service.trade.soil.moisture import Can, moisture_of_can, moisture_of_cans
from service.work.calculation import Calculation, Given, NotNegative, Positive, Way, either, first_way_taken

CANS = Way(("cans",))
ONE_CAN = Way(("wet_kg", "dry_kg"), ("can_kg",))


class CanGiven(Given):
    """The masses of one can."""

    wet_kg: Positive
    dry_kg: Positive
    can_kg: NotNegative = 0.0


class MoistureGiven(Given):
    """One can, or several."""

    model_config = ConfigDict(json_schema_extra=either(CANS, ONE_CAN))

    wet_kg: Positive | None = None
    dry_kg: Positive | None = None
    can_kg: NotNegative = 0.0
    cans: list[CanGiven] | None = None


def calculate(given: MoistureGiven) -> dict[str, Any]:
    """Return the mean moisture, each can's, and highest less lowest."""
    first_way_taken(given, first=CANS, second=ONE_CAN)
    if given.cans is not None:
        read = moisture_of_cans([Can(can.wet_kg, can.dry_kg, can.can_kg) for can in given.cans])
        return {"moisture": read.moisture, "moistures": list(read.moistures), "range": read.range}
    assert given.wet_kg is not None and given.dry_kg is not None
    share = moisture_of_can(wet_kg=given.wet_kg, dry_kg=given.dry_kg, can_kg=given.can_kg)
    return {"moisture": share, "moistures": [share], "range": 0.0}


CALCULATION = Calculation(
    model=MoistureGiven,
    run=calculate,
    formula="moisture = (wet - dry) / (dry - can)",
    source_keys=("d2216",),
)
