"""`classify`: a curve and the limits to group symbol, name and the decisions."""

from typing import Any

from service.trade.soil.classification import classify
from service.trade.soil.grading import Passing, curve_of
from service.work.calculation import Calculation, Given, Positive
from service.work.grading import PassingGiven


class ClassifyGiven(Given):
    """The curve, and the limits or that there is no thread."""

    passing: list[PassingGiven]
    liquid_limit: Positive | None = None
    plastic_limit: Positive | None = None
    liquid_limit_oven_dried: Positive | None = None
    non_plastic: bool = False


def calculate(given: ClassifyGiven) -> dict[str, Any]:
    """Return symbol, name and steps."""
    found = classify(
        curve_of([Passing(point.size_mm, point.share) for point in given.passing]),
        liquid_limit=given.liquid_limit,
        plastic_limit=given.plastic_limit,
        liquid_limit_oven_dried=given.liquid_limit_oven_dried,
        non_plastic=given.non_plastic,
    )
    return {"symbol": found.symbol, "name": found.name, "steps": list(found.steps)}


CALCULATION = Calculation(
    model=ClassifyGiven,
    run=calculate,
    formula=(
        "half or more finer than 0.075 mm: fine-grained, by A-line 0.73 (LL - 20), index and LL 50; "
        "else gravel or sand, below 5 % fines by Cu and Cc, above 12 % by the fines, between by both"
    ),
    source_keys=("d2487", "d2487-names"),
)
