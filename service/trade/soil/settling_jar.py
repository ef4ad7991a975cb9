"""Layers in a settling jar -> rough shares of gravel, sand, silt and clay."""

from dataclasses import dataclass

from service.trade.soil.grading import FINES_BELOW_MM, GRAVEL_ABOVE_MM, Curve, Passing
from service.trade.validation import refuse, require

CLAY_BELOW_MM = 0.002


@dataclass(frozen=True)
class Layers:
    """Shares by height, and the rough curve that they make."""

    gravel_share: float
    sand_share: float
    silt_share: float
    clay_share: float
    curve: Curve


def layers_in_jar(*, sand_mm: float, silt_mm: float, clay_mm: float, gravel_mm: float = 0.0) -> Layers:
    """Return the rough composition of a soil from the layers it settles in.

    Parameters
    ----------
    sand_mm : float
        Thickness of the layer of sand, in mm; 0 or more.
    silt_mm : float
        Of silt; 0 or more.
    clay_mm : float
        Of clay; 0 or more.
    gravel_mm : float
        Of gravel; 0 or more.

    Returns
    -------
    Layers
        Thickness over all thicknesses, unrounded. Rough: shares by volume, the clay still swollen, the layers
        told apart by eye.

    Raises
    ------
    Invalid
        If a thickness is negative, or there is no layer.

    Source
    ------
    jar : common practice, no published source.

    Examples
    --------
    >>> layers_in_jar(sand_mm=65, silt_mm=15, clay_mm=20).clay_share
    0.2
    """
    require(not_negative={"gravel_mm": gravel_mm, "sand_mm": sand_mm, "silt_mm": silt_mm, "clay_mm": clay_mm})
    height_mm = gravel_mm + sand_mm + silt_mm + clay_mm
    if height_mm <= 0:
        refuse({"sand_mm": "At least one layer is needed."})
    curve = Curve(
        (
            Passing(GRAVEL_ABOVE_MM, (sand_mm + silt_mm + clay_mm) / height_mm),
            Passing(FINES_BELOW_MM, (silt_mm + clay_mm) / height_mm),
            Passing(CLAY_BELOW_MM, clay_mm / height_mm),
        )
    )
    return Layers(
        gravel_share=gravel_mm / height_mm,
        sand_share=sand_mm / height_mm,
        silt_share=silt_mm / height_mm,
        clay_share=clay_mm / height_mm,
        curve=curve,
    )
