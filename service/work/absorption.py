"""`absorption`: water a block took up; an absorption only over an oven-dry mass."""

from typing import Any

from service.trade.block.measurements import uptake
from service.work.calculation import Calculation, Given, Positive


class AbsorptionGiven(Given):
    """Masses before and after the water, and whether the first was oven-dry."""

    mass_before_kg: Positive
    mass_after_kg: Positive
    oven_dry: bool


def calculate(given: AbsorptionGiven) -> dict[str, Any]:
    """Return the gain under the name it may bear, the other one null."""
    gain = uptake(mass_before_kg=given.mass_before_kg, mass_after_kg=given.mass_after_kg)
    return {"absorption": gain if given.oven_dry else None, "uptake": None if given.oven_dry else gain}


CALCULATION = Calculation(
    model=AbsorptionGiven,
    run=calculate,
    formula="absorption = (after - before) / before, over the oven-dry mass; over any other it is an uptake",
    source_keys=("nmac-14.7.4",),
)
