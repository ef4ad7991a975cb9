"""`rule`: the characteristic value of readings by a published rule."""

from typing import Any, Literal

from service.trade.sources import SOURCES
from service.trade.strength.statistics import characteristic_en_1990, characteristic_nzs_4298, spread_of
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, Positive
from service.work.tolerance import farthest


class RuleGiven(Given):
    """The rule, the readings and, for EN 1990, the distribution and a variation known from before."""

    rule: Literal["EN 1990", "NZS 4298"]
    values_mpa: list[Positive]
    distribution: Literal["normal", "lognormal"] | None = None
    variation: Positive | None = None


def calculate(given: RuleGiven) -> dict[str, Any]:
    """Return the characteristic value, how it was made, the spread and the reading farthest out."""
    values = given.values_mpa
    found = _nzs(given) if given.rule == "NZS 4298" else _en(given)
    spread = spread_of(values)
    return found | {
        "mean_mpa": spread.mean,
        "sd_mpa": spread.sd,
        "variation": spread.sd / spread.mean,
        "lowest_mpa": min(values),
        "farthest": farthest(values),
    }


def _nzs(given: RuleGiven) -> dict[str, Any]:
    there = [key for key in ("distribution", "variation") if getattr(given, key) is not None]
    if there:
        refuse(dict.fromkeys(there, "This does not go with NZS 4298."))
    value = characteristic_nzs_4298(given.values_mpa)
    return {"value_mpa": value, "factor": None, "factor_from": None, "standing": SOURCES["nzs-4298"].standing}


def _en(given: RuleGiven) -> dict[str, Any]:
    found = characteristic_en_1990(
        given.values_mpa, distribution=given.distribution or "normal", variation=given.variation
    )
    return {
        "value_mpa": found.value_mpa,
        "factor": found.factor,
        "factor_from": found.factor_from,
        "standing": SOURCES["en-1990-d1"].standing,
    }


CALCULATION = Calculation(
    model=RuleGiven,
    run=calculate,
    formula="EN 1990: m (1 - k V) or exp(m_y - k s_y); NZS 4298: (1 - 1.5 s / mean) x lowest of five",
    source_keys=("en-1990-d1", "nzs-4298", "grubbs"),
)
