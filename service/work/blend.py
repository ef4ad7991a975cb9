"""`blend`: the shares of several soils that lie least outside an envelope."""

from typing import Annotated, Any

from pydantic import Field

from service.errors import Invalid
from service.trade.soil.blend import Soil, best_blend
from service.trade.soil.grading import Curve, Passing, curve_of
from service.trade.soil.grading_envelopes import Bound
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, Name, Positive
from service.work.grading import PassingGiven


class SoilGiven(Given):
    """One soil and its curve."""

    name: Name
    passing: list[PassingGiven]


class BoundGiven(Given):
    """The least and the most that should be finer than a size."""

    size_mm: Positive
    low: Annotated[float, Field(ge=0, le=1)]
    high: Annotated[float, Field(ge=0, le=1)]


class BlendGiven(Given):
    """The soils, the first of them preferred, and the envelope."""

    soils: list[SoilGiven]
    envelope: list[BoundGiven]


def calculate(given: BlendGiven) -> dict[str, Any]:
    """Return shares, how far outside they lie, the range of each and the blend's curve."""
    found = best_blend(
        soils=[Soil(soil.name, _curve(place, soil)) for place, soil in enumerate(given.soils)],
        envelope=[Bound(bound.size_mm, bound.low, bound.high) for bound in given.envelope],
    )
    return {
        "shares": found.shares,
        "worst_excess": found.worst_excess,
        "feasible": found.feasible,
        "range": {name: list(ends) for name, ends in found.range.items()},
        "passing": [{"size_mm": point.size_mm, "share": point.share} for point in found.passing],
    }


def _curve(place: int, soil: SoilGiven) -> Curve:
    try:
        return curve_of([Passing(point.size_mm, point.share) for point in soil.passing])
    except Invalid as fault:
        refuse(fault.under(f"soils.{place}").fields)


CALCULATION = Calculation(
    model=BlendGiven,
    run=calculate,
    formula="least largest distance outside the envelope, then least sum of distances, then most of the first soil",
    source_keys=("mass-balance",),
)
