"""A block as it leaves the mould: volume, densities, and how many a batch gives."""

import math
from collections.abc import Sequence

from service.trade.bounds import refuse, require


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


def blocks_from_batch(*, dry_mix_kg: float, dry_mass_per_block_kg: float, waste: float = 0.0) -> int:
    """Return how many whole blocks a batch gives.

    Parameters
    ----------
    dry_mix_kg : float
        Dry mass of the whole mix, in kg; 0 or more.
    dry_mass_per_block_kg : float
        Dry mass of one block, in kg; above 0.
    waste : float
        What is lost, as a share of what the blocks hold; 0 or more.

    Returns
    -------
    int
        Whole blocks, rounded down.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    mass-balance

    Examples
    --------
    7.35 kg at 1.40 kg a block and 5 % waste:

    >>> blocks_from_batch(dry_mix_kg=7.35, dry_mass_per_block_kg=1.40, waste=0.05)
    5
    """
    require(
        positive={"dry_mass_per_block_kg": dry_mass_per_block_kg},
        not_negative={"dry_mix_kg": dry_mix_kg, "waste": waste},
    )
    # Exactly five blocks' worth is five blocks, whatever the last binary digit says.
    return math.floor(round(dry_mix_kg / (dry_mass_per_block_kg * (1 + waste)), 9))
