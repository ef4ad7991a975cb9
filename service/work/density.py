"""`density`: volume, wet and dry density of a block, and how it compares with the others of its batch."""

from typing import Any

from service.trade.block.measurements import (
    block_volume_m3,
    density_against_others,
    density_kg_m3,
    dry_density_kg_m3,
    stands_out,
)
from service.work.calculation import Calculation, Given, NotNegative, Positive


class DensityGiven(Given):
    """A block's measures and mass; its moisture and its siblings' densities when they are known."""

    length_mm: Positive
    width_mm: Positive
    heights_mm: list[Positive]
    wet_mass_kg: Positive
    moisture: NotNegative | None = None
    others_kg_m3: list[Positive] | None = None


def calculate(given: DensityGiven) -> dict[str, Any]:
    """Return volume and densities; the others are compared with the dry density, or the wet one without a moisture."""
    volume = block_volume_m3(length_mm=given.length_mm, width_mm=given.width_mm, heights_mm=given.heights_mm)
    wet = density_kg_m3(mass_kg=given.wet_mass_kg, volume_m3=volume)
    dry = None
    if given.moisture is not None:
        dry = dry_density_kg_m3(wet_mass_kg=given.wet_mass_kg, moisture=given.moisture, volume_m3=volume)
    off = None
    if given.others_kg_m3 is not None:
        off = density_against_others(density_kg_m3=wet if dry is None else dry, others_kg_m3=given.others_kg_m3)
    return {
        "volume_m3": volume,
        "wet_density_kg_m3": wet,
        "dry_density_kg_m3": dry,
        "against_others": off,
        "stands_out": None if off is None else stands_out(off),
    }


CALCULATION = Calculation(
    model=DensityGiven,
    run=calculate,
    formula="volume = length x width x mean height; dry density = wet mass / (1 + moisture) / volume",
    source_keys=("geometry", "mass-balance", "computed-here"),
)
