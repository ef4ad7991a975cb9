"""`shares`: which shares of a stabiliser to press, and how many blocks, to settle the question soonest."""

from dataclasses import asdict
from typing import Annotated, Any, Literal

from pydantic import Field

from service.trade.strength.estimate_result import Limit
from service.trade.strength.shares_to_press import Believed, Plan, shares_to_press
from service.trade.strength.soil_level import soil_level
from service.work.calculation import Calculation, Count, Given, NotNegative, Positive
from service.work.strength import LimitGiven

Share = Annotated[float, Field(gt=0, lt=1)]


class SoilGiven(Given):
    """What was tested of the soil."""

    fines: Annotated[float, Field(ge=0, le=1)] | None = None
    liquid_limit: Annotated[float, Field(ge=0, le=2)] | None = None


class BelievedGiven(Given):
    """What is believed before the first block; strength and its spread come from the soil where it is given."""

    median_mpa: Positive | None = None
    log_sd: Positive | None = None
    conditions_sd: NotNegative = Believed.conditions_sd
    slope: float = Believed.slope
    slope_sd: NotNegative = Believed.slope_sd
    bend: float = Believed.bend
    bend_sd: NotNegative = Believed.bend_sd
    scatter: Positive = Believed.scatter
    scatter_log_sd: NotNegative = Believed.scatter_log_sd
    off_curve: NotNegative = Believed.off_curve
    own_way: NotNegative = Believed.own_way
    mixes: NotNegative = Believed.mixes


class SharesGiven(Given):
    """The shares that could be pressed, the limits, the numbers of blocks, and what is known of the soil."""

    shares: Annotated[list[Share], Field(min_length=2, max_length=8)]
    limits: Annotated[list[LimitGiven], Field(min_length=1)]
    blocks: Annotated[
        list[Annotated[Count, Field(le=20)]], Field(default_factory=lambda: [3, 5, 10], min_length=1, max_length=6)
    ]
    mixes: Annotated[Count, Field(le=12)] = 2
    aim: Literal["least", "passes"] = "least"
    assurance: Annotated[float, Field(gt=0.5, lt=1)] = 0.95
    scale_uncertainty: NotNegative = 0.0
    soil: SoilGiven | None = None
    prior: BelievedGiven = BelievedGiven()


def calculate(given: SharesGiven) -> dict[str, Any]:
    """Return the plan that settles the question soonest, and the likeliest for each number of blocks."""
    found = shares_to_press(
        given.shares,
        [Limit(**limit.model_dump()) for limit in given.limits],
        blocks=given.blocks,
        mixes=given.mixes,
        aim=given.aim,
        wanted=given.assurance,
        believed=_believed(given),
        scale_sd=given.scale_uncertainty,
    )
    return {"best": _plain(found.best), "plans": [_plain(one) for one in found.plans]}


def _plain(plan: Plan) -> dict[str, Any]:
    return asdict(plan) | {"shares": list(plan.shares)}


def _believed(given: SharesGiven) -> Believed:
    stated = given.prior.model_dump(exclude_none=True)
    if given.soil is not None:
        level = soil_level(fines=given.soil.fines, liquid_limit=given.soil.liquid_limit)
        ends = {"slope": given.prior.slope, "bend": given.prior.bend}
        median = level.at_middle_of(min(given.shares), max(given.shares), **ends)
        stated = {"median_mpa": median, "log_sd": level.log_sd} | stated
    return Believed(**stated)


CALCULATION = Calculation(
    model=SharesGiven,
    run=calculate,
    formula="400 futures of ln y = theta + slope x + bend x² + u + v + d + e; x = ln(share + 0.5 %)",
    source_keys=("strength-model", "content-slope", "own-rule"),
)
