"""`jar`: layers in a settling jar to rough shares."""

from typing import Any

from service.trade.soil.settling_jar import layers_in_jar
from service.work.calculation import Calculation, Given, NotNegative

ROUGH = (
    "Rough: layers separated by eye, shares by height and not by mass, and the clay still swollen. "
    "A hydrometer or washed sieves say more."
)


class JarGiven(Given):
    """The thickness of each layer, bottom to top."""

    gravel_mm: NotNegative = 0.0
    sand_mm: NotNegative
    silt_mm: NotNegative
    clay_mm: NotNegative


def calculate(given: JarGiven) -> dict[str, Any]:
    """Return the shares, the rough curve and that it is rough."""
    found = layers_in_jar(
        gravel_mm=given.gravel_mm, sand_mm=given.sand_mm, silt_mm=given.silt_mm, clay_mm=given.clay_mm
    )
    return {
        "gravel_share": found.gravel_share,
        "sand_share": found.sand_share,
        "silt_share": found.silt_share,
        "clay_share": found.clay_share,
        "passing": [{"size_mm": point.size_mm, "share": point.share} for point in found.curve.points],
        "rough": True,
        "remark": ROUGH,
    }


CALCULATION = Calculation(
    model=JarGiven,
    run=calculate,
    formula="share = thickness of the layer / thickness of all layers",
    source_keys=("jar",),
)
