"""`grading`: sieve readings, or shares passing, to a curve and what describes it."""

from dataclasses import asdict
from typing import Annotated, Any

from pydantic import ConfigDict, Field

from service.trade.soil.grading import Curve, Passing, Sieve, curve_of, describe, sieve_curve
from service.work.calculation import Calculation, Given, NotNegative, Positive, Way, either, first_way_taken

FROM_PASSING = Way(("passing",))
FROM_SIEVES = Way(("sieves", "pan_g", "dry_mass_g"), ("washed_dry_mass_g",))


class SieveGiven(Given):
    """What one sieve kept."""

    size_mm: Positive
    retained_g: NotNegative


class PassingGiven(Given):
    """The share finer than a size."""

    size_mm: Positive
    share: Annotated[float, Field(ge=0, le=1)]


class GradingGiven(Given):
    """A sieving, or a curve."""

    model_config = ConfigDict(json_schema_extra=either(FROM_PASSING, FROM_SIEVES))

    sieves: list[SieveGiven] | None = None
    pan_g: NotNegative | None = None
    dry_mass_g: Positive | None = None
    washed_dry_mass_g: NotNegative | None = None
    passing: list[PassingGiven] | None = None


def calculate(given: GradingGiven) -> dict[str, Any]:
    """Return the curve, the loss, the sizes and coefficients, and gravel, sand and fines."""
    curve, loss_share = _curve(given)
    passing = [{"size_mm": point.size_mm, "share": point.share} for point in curve.points]
    return {"passing": passing, "loss_share": loss_share} | asdict(describe(curve))


def _curve(given: GradingGiven) -> tuple[Curve, float | None]:
    first_way_taken(given, first=FROM_PASSING, second=FROM_SIEVES)
    if given.passing is not None:
        return curve_of([Passing(point.size_mm, point.share) for point in given.passing]), None
    assert given.sieves is not None and given.pan_g is not None and given.dry_mass_g is not None
    done = sieve_curve(
        sieves=[Sieve(sieve.size_mm, sieve.retained_g) for sieve in given.sieves],
        pan_g=given.pan_g,
        dry_mass_g=given.dry_mass_g,
        washed_dry_mass_g=given.washed_dry_mass_g,
    )
    return done.curve, done.loss_share


CALCULATION = Calculation(
    model=GradingGiven,
    run=calculate,
    formula="share retained = kept / (kept + pan + washed out); Cu = D60 / D10; Cc = D30^2 / (D10 D60)",
    source_keys=("d6913", "d2487"),
)
