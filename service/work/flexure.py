"""`flexure`: modulus of rupture of a block broken at midspan."""

from typing import Any

from service.trade.block.measurements import modulus_of_rupture_mpa
from service.work.calculation import Calculation, Given, Positive


class FlexureGiven(Given):
    """The force, the span and the section."""

    force_kn: Positive
    span_mm: Positive
    width_mm: Positive
    thickness_mm: Positive


def calculate(given: FlexureGiven) -> dict[str, Any]:
    """Return the modulus of rupture."""
    modulus = modulus_of_rupture_mpa(
        force_kn=given.force_kn, span_mm=given.span_mm, width_mm=given.width_mm, thickness_mm=given.thickness_mm
    )
    return {"modulus_of_rupture_mpa": modulus}


CALCULATION = Calculation(
    model=FlexureGiven,
    run=calculate,
    formula="modulus of rupture = 3 P L / (2 b t^2)",
    source_keys=("780-cmr-2109.3.1",),
)
