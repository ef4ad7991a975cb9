"""`hydrometer`: readings of a 152H to sizes and shares, joined to the sieves if they are given."""

from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import Field

from service.trade.soil.grading import Curve, Passing, curve_of
from service.trade.soil.hydrometer import Blank, Dimensions, Joined, Reading, Settled, join, settling
from service.trade.soil.settling_jar import CLAY_BELOW_MM
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, NotNegative, Positive
from service.work.grading import PassingGiven

USUAL = "Depths are those of a usual 152H; measure your own hydrometer and cylinder for better sizes."


class ReadingGiven(Given):
    """One reading in the suspension."""

    minutes: Positive
    reading: float
    temperature_c: float


class BlankGiven(Given):
    """One reading in water with dispersant."""

    reading: float
    temperature_c: float


class DimensionsGiven(Given):
    """Of the hydrometer and its cylinder."""

    depth_at_0_mm: Positive
    depth_at_50_mm: Positive
    bulb_length_mm: Positive
    bulb_volume_ml: Positive
    cylinder_area_cm2: Positive


class HydrometerGiven(Given):
    """The readings, the blanks, the specimen and, to join them, the sieves' curve."""

    readings: list[ReadingGiven]
    blanks: list[BlankGiven]
    dry_mass_g: Positive
    specific_gravity: Annotated[float, Field(gt=1)]
    meniscus: NotNegative = 0.0
    volume_ml: Positive = 1000.0
    hydrometer: DimensionsGiven | None = None
    passing: list[PassingGiven] | None = None
    separation_mm: Positive | None = None


def calculate(given: HydrometerGiven) -> dict[str, Any]:
    """Return size and share of each reading, the joined curve and the share of clay."""
    settled = settling(
        [Reading(one.minutes, one.reading, one.temperature_c) for one in given.readings],
        blanks=[Blank(one.reading, one.temperature_c) for one in given.blanks],
        dry_mass_g=given.dry_mass_g,
        specific_gravity=given.specific_gravity,
        meniscus=given.meniscus,
        volume_ml=given.volume_ml,
        dimensions=Dimensions(**given.hydrometer.model_dump()) if given.hydrometer else None,
    )
    if (given.passing is None) != (given.separation_mm is None):
        missing = "passing" if given.passing is None else "separation_mm"
        refuse({missing: "The sieves' curve and the size of separation go together."})
    joined = _alone(settled)
    if given.passing is not None and given.separation_mm is not None:
        sieved = curve_of([Passing(point.size_mm, point.share) for point in given.passing])
        joined = join(sieved, settled, separation_mm=given.separation_mm)
    return {
        "points": [{"minutes": one.minutes, "size_mm": one.size_mm, "share": one.share} for one in settled],
        "passing": [{"size_mm": point.size_mm, "share": point.share} for point in joined.curve.points],
        "clay_share": joined.curve.share_at(CLAY_BELOW_MM),
        "left_out": joined.left_out,
        "capped": joined.capped,
        "remark": None if given.hydrometer else USUAL,
    }


def _alone(settled: Sequence[Settled]) -> Joined:
    points = tuple(Passing(one.size_mm, min(one.share, 1.0)) for one in settled)
    return Joined(Curve(points), left_out=0, capped=any(one.share > 1 for one in settled))


CALCULATION = Calculation(
    model=HydrometerGiven,
    run=calculate,
    formula=(
        "D = sqrt(18 viscosity depth / (density g (Gs - 1) time)); "
        "share = 0.6226 Gs / (Gs - 1) x (reading - blank) x litres / dry mass"
    ),
    source_keys=("d7928", "kell-1975", "kestin-1978"),
)
