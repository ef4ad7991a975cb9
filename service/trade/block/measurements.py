"""A block as it leaves the mould and what is done to it: volume, densities, water taken up, bending."""

import math
from collections.abc import Sequence
from statistics import median

from service.trade.validation import refuse, require

# How far from the middle of its batch a block may lie before something is said of it.
DENSITY_REMARK_ABOVE = 0.03


def block_volume_m3(*, length_mm: float, width_mm: float, heights_mm: Sequence[float]) -> float:
    """Return the volume of a block from its plan and the heights of its corners.

    Parameters
    ----------
    length_mm, width_mm : float
        Sides of the bed face, in mm; above 0.
    heights_mm : Sequence[float]
        One height or more, in mm; each above 0. Their mean counts.

    Returns
    -------
    float
        Volume in m3, unrounded.

    Raises
    ------
    Invalid
        If a measure is not above 0 or no height is given.

    Source
    ------
    geometry

    Examples
    --------
    0.140 x 0.090 x 0.100 m:

    >>> round(block_volume_m3(length_mm=140, width_mm=90, heights_mm=[99, 101, 100, 100]), 9)
    0.00126
    """
    heights = {f"heights_mm.{index}": height for index, height in enumerate(heights_mm)}
    require(positive={"length_mm": length_mm, "width_mm": width_mm} | heights)
    if not heights_mm:
        refuse({"heights_mm": "At least one height is needed."})
    return length_mm * width_mm * math.fsum(heights_mm) / len(heights_mm) / 1e9


def density_kg_m3(*, mass_kg: float, volume_m3: float) -> float:
    """Return the density of a block as it was weighed.

    Parameters
    ----------
    mass_kg : float
        Mass, in kg; above 0.
    volume_m3 : float
        Volume, in m3; above 0.

    Returns
    -------
    float
        Density in kg/m3, unrounded; wet density when the block was weighed damp.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    mass-balance

    Examples
    --------
    >>> round(density_kg_m3(mass_kg=2.52, volume_m3=0.00126), 6)
    2000.0
    """
    require(positive={"mass_kg": mass_kg, "volume_m3": volume_m3})
    return mass_kg / volume_m3


def dry_density_kg_m3(*, wet_mass_kg: float, moisture: float, volume_m3: float) -> float:
    """Return the dry density of a block weighed damp.

    Parameters
    ----------
    wet_mass_kg : float
        Mass as weighed, in kg; above 0.
    moisture : float
        Water over dry mass in the block; 0 or more.
    volume_m3 : float
        Volume, in m3; above 0.

    Returns
    -------
    float
        Dry mass over volume in kg/m3, unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    mass-balance

    Examples
    --------
    2.52 kg at 5 % hold 2.4 kg dry, in 0.00126 m3:

    >>> round(dry_density_kg_m3(wet_mass_kg=2.52, moisture=0.05, volume_m3=0.00126), 2)
    1904.76
    """
    require(
        positive={"wet_mass_kg": wet_mass_kg, "volume_m3": volume_m3},
        not_negative={"moisture": moisture},
    )
    return wet_mass_kg / (1 + moisture) / volume_m3


def uptake(*, mass_before_kg: float, mass_after_kg: float) -> float:
    """Return the water a block took up, over its mass before.

    Parameters
    ----------
    mass_before_kg : float
        Mass before the water, in kg; above 0.
    mass_after_kg : float
        Mass after the water, in kg; above 0.

    Returns
    -------
    float
        Gain over the mass before, unrounded; negative where the block lost material. It is an absorption only
        over an oven-dry mass.

    Raises
    ------
    Invalid
        If a mass is not above 0.

    Source
    ------
    nmac-14.7.4 : 14.7.4.10 A, gain by mass.

    Examples
    --------
    >>> uptake(mass_before_kg=2.0, mass_after_kg=2.25)
    0.125
    """
    require(positive={"mass_before_kg": mass_before_kg, "mass_after_kg": mass_after_kg})
    return (mass_after_kg - mass_before_kg) / mass_before_kg


def modulus_of_rupture_mpa(*, force_kn: float, span_mm: float, width_mm: float, thickness_mm: float) -> float:
    """Return the bending strength of a block that broke under a load at midspan.

    Parameters
    ----------
    force_kn : float
        Force at which it broke, in kN; above 0.
    span_mm : float
        Distance between the middles of the supports, in mm; above 0.
    width_mm : float
        Width of the block across the span, in mm; above 0.
    thickness_mm : float
        Thickness in the direction of the force, in mm; above 0.

    Returns
    -------
    float
        3 P L / (2 b t^2) in MPa, unrounded.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    780-cmr-2109.3.1 : 2109.3.1.2.4, equation 21-2.

    Examples
    --------
    3 x 2000 N x 250 mm / (2 x 250 mm x 100^2 mm2):

    >>> modulus_of_rupture_mpa(force_kn=2.0, span_mm=250, width_mm=250, thickness_mm=100)
    0.3
    """
    require(positive={"force_kn": force_kn, "span_mm": span_mm, "width_mm": width_mm, "thickness_mm": thickness_mm})
    return 3 * force_kn * 1000 * span_mm / (2 * width_mm * thickness_mm**2)


def density_against_others(*, density_kg_m3: float, others_kg_m3: Sequence[float]) -> float:
    """Return how far a block's density lies from the middle of the other blocks of its batch.

    Parameters
    ----------
    density_kg_m3 : float
        The block's density, in kg/m3; above 0.
    others_kg_m3 : Sequence[float]
        Densities of the others, found the same way, in kg/m3; one or more, each above 0.

    Returns
    -------
    float
        Density over the median of the others, less 1; unrounded.

    Raises
    ------
    Invalid
        If a density is not above 0 or there is no other.

    Source
    ------
    computed-here : median of the other blocks.

    Examples
    --------
    >>> round(density_against_others(density_kg_m3=1838, others_kg_m3=[1895, 1900, 1910]), 4)
    -0.0326
    """
    others = {f"others_kg_m3.{index}": other for index, other in enumerate(others_kg_m3)}
    require(positive={"density_kg_m3": density_kg_m3} | others)
    if not others_kg_m3:
        refuse({"others_kg_m3": "At least one other block is needed."})
    return density_kg_m3 / median(others_kg_m3) - 1


def densities_against_others(densities_kg_m3: Sequence[float | None]) -> tuple[float | None, ...]:
    """Return how far the density of each block of a batch lies from the middle of all the others.

    Parameters
    ----------
    densities_kg_m3 : Sequence[float | None]
        One a block, found the same way, in kg/m3, each above 0; None where it was not weighed or measured.

    Returns
    -------
    tuple[float | None, ...]
        In order: density over the median of the others, less 1, unrounded; None where the block's own or every
        other is not known.

    Raises
    ------
    Invalid
        If a density is not above 0.

    Source
    ------
    computed-here : median of the other blocks.

    Examples
    --------
    >>> [round(off, 4) for off in densities_against_others([1900, 2000, 1900]) if off is not None]
    [-0.0256, 0.0526, -0.0256]
    """
    found = []
    for place, own in enumerate(densities_kg_m3):
        others = [one for n, one in enumerate(densities_kg_m3) if n != place and one is not None]
        known = own is not None and bool(others)
        found.append(density_against_others(density_kg_m3=own or 0.0, others_kg_m3=others) if known else None)
    return tuple(found)


def stands_out(off: float | None) -> bool:
    """Return whether a block's density is far enough from the others of its batch to be remarked on.

    Parameters
    ----------
    off : float or None
        Density over the median of the others, less 1; None where it is not known.

    Returns
    -------
    bool
        True above 3 % either way; nothing is left out for it.

    Source
    ------
    own-rule : common practice, no published source.

    Examples
    --------
    >>> stands_out(-0.031), stands_out(0.03), stands_out(None)
    (True, False, False)
    """
    return off is not None and abs(off) > DENSITY_REMARK_ABOVE
