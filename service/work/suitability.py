"""`suitability`: is this soil fit for pressed blocks, why, and from which recipes to start."""

from dataclasses import asdict
from typing import Annotated, Any, Literal

from pydantic import Field

from service.trade.soil.grading import Curve, Passing, curve_of, describe
from service.trade.soil.grading_envelopes import distance_outside, published_envelopes
from service.trade.soil.plasticity import linear_shrinkage
from service.trade.soil.settling_jar import CLAY_BELOW_MM
from service.trade.soil.starting_recipes import Box, BulkDensities, start_for
from service.trade.soil.suitability import Measure, judge
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, NotNegative, Positive
from service.work.grading import PassingGiven

Share = Annotated[float, Field(ge=0, le=1)]
Sign = Literal["organics", "sulfates", "pollution", "black cotton"]
SHARES: tuple[Measure, ...] = ("clay_share", "silt_share", "sand_share", "gravel_share", "fines_share")


class BoxGiven(Given):
    """The shrinkage box and what the soil left free in it."""

    length_mm: Positive
    width_mm: Positive
    depth_mm: Positive
    shrinkage_mm: NotNegative


class DensitiesGiven(Given):
    """Measured loose bulk densities."""

    cement: Positive
    soil: Positive


class SuitabilityGiven(Given):
    """What was measured: the box, a curve or shares, the limits; and the signs seen or smelt."""

    box: BoxGiven | None = None
    passing: list[PassingGiven] | None = None
    clay_share: Share | None = None
    silt_share: Share | None = None
    sand_share: Share | None = None
    gravel_share: Share | None = None
    fines_share: Share | None = None
    plasticity_index: NotNegative | None = None
    signs: list[Sign] = Field(default_factory=list)
    bulk_density_kg_l: DensitiesGiven | None = None


def calculate(given: SuitabilityGiven) -> dict[str, Any]:
    """Return the verdict, its reasons, starting recipes and how far each envelope is missed."""
    curve = _curve(given)
    judged = judge(_measured(given, curve), signs=given.signs)
    start = start_for(
        judged,
        plasticity_index=given.plasticity_index,
        box=None if given.box is None else Box(**given.box.model_dump()),
        densities=_densities(given),
    )
    return {
        "verdict": judged.verdict,
        "reasons": [asdict(reason) for reason in judged.reasons],
        "not_measured": list(judged.not_measured),
        "recipes": [asdict(recipe) | {"basis": "dry soil"} for recipe in start.recipes],
        "remarks": list(start.remarks),
        "envelopes": _envelopes(curve),
    }


def _curve(given: SuitabilityGiven) -> Curve | None:
    if given.passing is None:
        return None
    twice = [name for name in SHARES if getattr(given, name) is not None]
    if twice:
        refuse(dict.fromkeys(twice, "The curve already says this."))
    return curve_of([Passing(point.size_mm, point.share) for point in given.passing])


def _measured(given: SuitabilityGiven, curve: Curve | None) -> dict[Measure, float]:
    found: dict[Measure, float | None] = {name: getattr(given, name) for name in SHARES}
    found["plasticity_index"] = given.plasticity_index
    if given.box is not None:
        if given.box.shrinkage_mm >= given.box.length_mm:
            refuse({"box.shrinkage_mm": "The soil cannot shrink by the whole length of the box."})
        found["shrinkage"] = linear_shrinkage(box_length_mm=given.box.length_mm, shrinkage_mm=given.box.shrinkage_mm)
    if curve is not None:
        read, clay = describe(curve), curve.share_at(CLAY_BELOW_MM)
        found |= {"gravel_share": read.gravel_share, "sand_share": read.sand_share, "fines_share": read.fines_share}
        if clay is not None and read.fines_share is not None:
            found |= {"clay_share": clay, "silt_share": read.fines_share - clay}
    return {name: value for name, value in found.items() if value is not None}


def _densities(given: SuitabilityGiven) -> BulkDensities | None:
    bulk = given.bulk_density_kg_l
    return None if bulk is None else BulkDensities(stabiliser_kg_l=bulk.cement, soil_kg_l=bulk.soil)


def _envelopes(curve: Curve | None) -> list[dict[str, Any]]:
    if curve is None:
        return []
    return [
        {
            "key": envelope.key,
            "name": envelope.name,
            "worst_excess": distance_outside(curve, envelope.bounds),
            "source": envelope.source,
            "standing": envelope.standing,
        }
        for envelope in published_envelopes()
    ]


CALCULATION = Calculation(
    model=SuitabilityGiven,
    run=calculate,
    formula=(
        "each measure against each threshold; outside one that was read: amend; a sign of organics, pollution or "
        "black cotton soil: not for blocks; any sign: no recipe with cement or lime"
    ),
    source_keys=("soil-selection", "bru-1974", "kenya-housing", "extension-mix", "shrinkage-bands", "qjeg-1986"),
)
