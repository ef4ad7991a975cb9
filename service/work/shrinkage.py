"""`shrinkage`: linear shrinkage of a soil in the box."""

from typing import Any

from service.trade.soil.plasticity import linear_shrinkage
from service.work.calculation import Calculation, Given, NotNegative, Positive


class ShrinkageGiven(Given):
    """The box and what the soil left free in it."""

    box_length_mm: Positive
    shrinkage_mm: NotNegative


def calculate(given: ShrinkageGiven) -> dict[str, Any]:
    """Return the shrinkage over the length of the box."""
    return {"shrinkage": linear_shrinkage(box_length_mm=given.box_length_mm, shrinkage_mm=given.shrinkage_mm)}


CALCULATION = Calculation(
    model=ShrinkageGiven,
    run=calculate,
    formula="shrinkage = gaps and cracks together / length of the box",
    source_keys=("shrinkage-box",),
)
