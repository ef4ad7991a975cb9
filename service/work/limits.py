"""`limits`: liquid and plastic limit, the index, and the lines of the plasticity chart."""

from dataclasses import asdict
from typing import Any

from pydantic import ConfigDict

from service.trade.soil.plasticity import FlowPoint, limits_of
from service.trade.validation import refuse
from service.work.calculation import Calculation, Count, Given, Positive


class FlowGiven(Given):
    """One closing of the groove."""

    blows: Count
    water: Positive


class LimitsGiven(Given):
    """The flow points, and the threads or that there are none."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["plastic"]}, {"required": ["non_plastic"]}]})

    flow: list[FlowGiven]
    plastic: list[Positive] | None = None
    non_plastic: bool = False


def calculate(given: LimitsGiven) -> dict[str, Any]:
    """Return the limits, unrounded and as reported, and where they lie on the chart."""
    if given.non_plastic and given.plastic is not None:
        refuse({"plastic": "A soil that gives no thread has no plastic limit."})
    if not given.non_plastic and given.plastic is None:
        refuse({"plastic": "This is required."})
    flow = [FlowPoint(point.blows, point.water) for point in given.flow]
    return asdict(limits_of(flow=flow, plastic=given.plastic))


CALCULATION = Calculation(
    model=LimitsGiven,
    run=calculate,
    formula=(
        "liquid limit: water at 25 blows on the line over log10 blows, or water (blows / 25)^0.121; "
        "A-line 0.73 (LL - 0.20); U-line 0.9 (LL - 0.08)"
    ),
    source_keys=("d4318", "d2487"),
)
