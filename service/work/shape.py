"""`shape`: what each published shape factor makes of a strength, beside the strength as measured."""

from typing import Any

from pydantic import ConfigDict

from service.trade.block.shape_factors import (
    cylinder_strength_at_other_ratio_mpa,
    en_772_1_factor,
    heathcote_jankulovski_factor,
    krefeld_factor,
)
from service.trade.sources import SOURCES
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, NotNegative, Positive, Way, either, first_way_taken

BLOCK = Way(("thickness_mm",))
CYLINDER = Way(("diameter_mm",))


class ShapeGiven(Given):
    """A strength as measured, and the block or the cylinder it was measured on."""

    model_config = ConfigDict(json_schema_extra=either(BLOCK, CYLINDER))

    strength_mpa: NotNegative
    height_mm: Positive
    thickness_mm: Positive | None = None
    diameter_mm: Positive | None = None


def calculate(given: ShapeGiven) -> dict[str, Any]:
    """Return the raw strength and, each by itself, what the tables for that shape make of it."""
    if given.thickness_mm is None and given.diameter_mm is None:
        needed = "Give the thickness of a block, or the diameter of a cylinder."
        refuse({"thickness_mm": needed, "diameter_mm": needed})
    first_way_taken(given, first=BLOCK, second=CYLINDER)
    answer: dict[str, Any] = {"strength_mpa": given.strength_mpa}
    if given.diameter_mm is not None:
        ratio = given.height_mm / given.diameter_mm
        return answer | {"height_over_diameter": ratio, "astm_d1633": _cylinder(given, given.diameter_mm)}
    assert given.thickness_mm is not None
    height, thickness = given.height_mm, given.thickness_mm
    krefeld = krefeld_factor(height_mm=height, thickness_mm=thickness)
    heathcote = heathcote_jankulovski_factor(height_mm=height, thickness_mm=thickness)
    european = en_772_1_factor(height_mm=height, width_mm=thickness)
    return answer | {
        "height_over_thickness": height / thickness,
        "krefeld": _one(given.strength_mpa, krefeld, "krefeld"),
        "heathcote_jankulovski": _one(given.strength_mpa, heathcote, "heathcote-jankulovski"),
        "en_772_1": _one(given.strength_mpa, european, "en-772-1"),
    }


def _one(strength_mpa: float, factor: float | None, source: str) -> dict[str, Any]:
    return {
        "factor": factor,
        "strength_mpa": None if factor is None else strength_mpa * factor,
        "standing": SOURCES[source].standing,
    }


def _cylinder(given: ShapeGiven, diameter_mm: float) -> dict[str, Any]:
    other = cylinder_strength_at_other_ratio_mpa(
        strength_mpa=given.strength_mpa, height_mm=given.height_mm, diameter_mm=diameter_mm
    )
    ratio, strength = other or (None, None)
    return {"other_ratio": ratio, "strength_mpa": strength, "standing": SOURCES["d1633"].standing}


CALCULATION = Calculation(
    model=ShapeGiven,
    run=calculate,
    formula="strength x factor, each table by itself; cylinders: strength at h/d 1.15 = 1.10 x strength at 2.00",
    source_keys=("krefeld", "heathcote-jankulovski", "en-772-1", "d1633"),
)
