"""From the readings of a soil to what may be said of it: one curve, class, verdict and recipes to start from."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.errors import Invalid
from service.measured.curve import curve_of
from service.records.criteria import OwnBand
from service.records.materials import SackOfMaterial
from service.records.soil_tests import BulkDensity, ShrinkageTest, WholeTest
from service.trade.soil.classification import Classification, classify
from service.trade.soil.grading import Curve
from service.trade.soil.grading_envelopes import Envelope, distance_outside
from service.trade.soil.joined_curve import Graded, Oversize
from service.trade.soil.plasticity import Limits
from service.trade.soil.settling_jar import CLAY_BELOW_MM
from service.trade.soil.soil_limits import SoilLimits, bands_with
from service.trade.soil.starting_recipes import Box, BulkDensities, Start, start_for
from service.trade.soil.suitability import Measure, Sign, Suitability, judge

CUE_OF_KIND: dict[str, Sign] = {"organic": "organics", "salts": "sulfates"}


@dataclass(frozen=True)
class ClassLine:
    """The class of a soil and of which curve it is; without a class, why there is none."""

    found: Classification | None
    of_soil_as_dug: bool
    missing: str


@dataclass(frozen=True)
class EnvelopeLine:
    """An envelope and how far the soil is outside; None where its curve does not reach."""

    envelope: Envelope
    outside: float | None


@dataclass(frozen=True)
class Judged:
    """The verdict with its reasons and where trials may start; without a verdict, what is missing for one."""

    verdict: Suitability | None
    start: Start | None
    missing: str


def bands_of(own: Sequence[OwnBand]) -> SoilLimits:
    """Return what the shop holds soils against, its newest copies first in rank."""
    return bands_with({one.key: json.loads(one.values) for one in own})


def grade(sieved: WholeTest | None, settled: WholeTest | None, sacks: Sequence[SackOfMaterial]) -> Graded | None:
    """Return the joined curve, with the oversize of the sack that was sieved."""
    return curve_of(sieved, settled, _oversize(sieved, sacks) if sieved is not None else None)


def _oversize(sieved: WholeTest, sacks: Sequence[SackOfMaterial]) -> Oversize | None:
    # A sieving that names no sack is of the only one, if there is only one.
    mine = [one for one in sacks if one.receipt.id == sieved.test.receipt_id]
    if sieved.test.receipt_id is None and len(sacks) == 1:
        mine = list(sacks)
    done = mine[0].preparation if mine else None
    if done is None or not done.oversize_mm or not done.oversize_kg or done.oversize_kg >= mine[0].receipt.mass_kg:
        return None
    return Oversize(done.oversize_mm, done.oversize_kg / mine[0].receipt.mass_kg)


LIMITS_MISSING = "A class needs the liquid limit and the plastic limit. Enter the cup and the threads."


def _missing(fields: Mapping[str, str]) -> str:
    """Return what a class is still waiting for, in whole sentences: here is no field for them."""
    if fields.keys() & {"liquid_limit", "plastic_limit", "non_plastic"}:
        return LIMITS_MISSING
    return " ".join(dict.fromkeys(fields.values()))


def classed(
    found: Graded | None, limits: Limits | None, *, non_plastic: bool, oven_dried_limit: float | None
) -> ClassLine:
    """Return the class of the soil as dug where its curve tells it, else of the soil as prepared."""
    if found is None:
        return ClassLine(None, False, "A class needs a sieving.")
    curves = [(found.as_dug, True)] if found.as_dug else []
    missing = ""
    for curve, as_dug in [*curves, (found.curve, False)]:
        try:
            class_ = _classified(curve, limits, non_plastic=non_plastic, oven_dried_limit=oven_dried_limit)
            return ClassLine(class_, as_dug, "")
        except Invalid as fault:
            missing = _missing(fault.fields)
    return ClassLine(None, False, missing)


def _classified(
    curve: Curve, limits: Limits | None, *, non_plastic: bool, oven_dried_limit: float | None
) -> Classification:
    if non_plastic or (limits is not None and limits.non_plastic):
        return classify(curve, non_plastic=True)
    if limits is None:
        return classify(curve)
    return classify(
        curve,
        liquid_limit=limits.liquid_limit,
        plastic_limit=limits.plastic_limit,
        liquid_limit_oven_dried=oven_dried_limit,
    )


def held_against(found: Graded | None, bands: SoilLimits) -> list[EnvelopeLine]:
    """Return every envelope with the distance of the soil as prepared."""
    return [EnvelopeLine(one, distance_outside(found.curve, one.bounds) if found else None) for one in bands.envelopes]


def measured(found: Graded | None, shrinkage: float | None, index: float | None) -> dict[Measure, float]:
    """Return what was measured of the soil as prepared; a jar is too rough to be among it."""
    said: dict[Measure, float | None] = {"shrinkage": shrinkage, "plasticity_index": index}
    if found is not None:
        clay, fines, sand = (found.curve.share_at(size) for size in (CLAY_BELOW_MM, 0.075, 4.75))
        said["clay_share"], said["fines_share"] = clay, fines
        said["silt_share"] = fines - clay if fines is not None and clay is not None else None
        said["sand_share"] = sand - fines if sand is not None and fines is not None else None
        said["gravel_share"] = 1 - sand if sand is not None else None
    return {name: value for name, value in said.items() if value is not None}


def signs_of(standing: Sequence[WholeTest]) -> list[Sign]:
    """Return of what signs were found."""
    found = [one for one in standing if one.sign is not None and one.sign.positive]
    return [one.sign.cue or CUE_OF_KIND[one.test.kind] for one in found]  # type: ignore[union-attr,misc]


def judged(
    said: Mapping[Measure, float],
    signs: Sequence[Sign],
    bands: SoilLimits,
    box: ShrinkageTest | None,
    densities: BulkDensities | None,
) -> Judged:
    """Return verdict and starting recipes, or what is missing for them."""
    try:
        verdict = judge(said, signs=signs, thresholds=bands.thresholds)
    except Invalid as fault:
        return Judged(None, None, " ".join(fault.fields.values()))
    start = start_for(
        verdict,
        plasticity_index=said.get("plasticity_index"),
        box=Box(box.box_length_mm, box.box_width_mm, box.box_depth_mm, box.shrinkage_mm) if box else None,
        densities=densities,
        bands=bands.shrinkage,
    )
    return Judged(verdict, start, "")


def dry_densities(known: Sequence[BulkDensity], *, soil: WholeTest | None) -> BulkDensities | None:
    """Return how heavily dry cement and this dry soil lie, if both were measured."""
    cement = [one.kg_l for one in known if one.kind == "cement" and not one.damp]
    if not cement or soil is None or soil.bulk is None:
        return None
    return BulkDensities(stabiliser_kg_l=cement[-1], soil_kg_l=soil.bulk.kg_l)
