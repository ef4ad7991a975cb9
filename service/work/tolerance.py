"""`tolerance`: the one-sided tolerance factor, and the lower value of readings made with it."""

from typing import Annotated, Any, Literal

from pydantic import Field

from service.trade.strength.odd_readings import outlier_of
from service.trade.strength.statistics import lower_value_mpa, spread_of, tolerance_factor
from service.trade.validation import refuse
from service.work.calculation import Calculation, Count, Given, Positive

Share = Annotated[float, Field(gt=0, lt=1)]


class ToleranceGiven(Given):
    """A number of readings, or the readings themselves; coverage and confidence."""

    n: Count | None = None
    coverage: Share
    confidence: Share
    values_mpa: list[Positive] | None = None
    distribution: Literal["normal", "lognormal"] = "normal"


def calculate(given: ToleranceGiven) -> dict[str, Any]:
    """Return the factor and, from readings, their lower value and the one farthest out."""
    values = given.values_mpa
    n = _count(given)
    factor = tolerance_factor(n=n, coverage=given.coverage, confidence=given.confidence)
    answer: dict[str, Any] = {"n": n, "factor": factor, "mean_mpa": None, "sd_mpa": None, "lower_mpa": None}
    if values is None:
        return answer | {"farthest": None}
    plain = spread_of(values)
    low = lower_value_mpa(spread_of(values, distribution=given.distribution), factor=factor)
    return answer | {"mean_mpa": plain.mean, "sd_mpa": plain.sd, "lower_mpa": low, "farthest": farthest(values)}


def farthest(values: list[float]) -> dict[str, Any] | None:
    """Return the reading farthest from the mean and whether it strays, ready for JSON."""
    found = outlier_of(values)
    if found is None:
        return None
    return {
        "place": found.place,
        "distance": found.distance,
        "critical": found.critical,
        "strays": found.strays,
    }


def _count(given: ToleranceGiven) -> int:
    if given.values_mpa is None:
        if given.n is None:
            refuse({"n": "This is required without readings."})
        return given.n
    if given.n not in (None, len(given.values_mpa)):
        refuse({"n": f"{len(given.values_mpa)} readings are given."})
    if len(given.values_mpa) < 2:
        refuse({"values_mpa": "At least 2 readings are needed."})
    return len(given.values_mpa)


CALCULATION = Calculation(
    model=ToleranceGiven,
    run=calculate,
    formula="k = t'(confidence; n - 1, z sqrt n) / sqrt n; lower value = mean - k s, or exp of it on logarithms",
    source_keys=("iso-16269-6", "grubbs"),
)
