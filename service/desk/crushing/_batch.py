"""A block beside the others of its batch: how far its density lies from the middle of theirs."""

from collections.abc import Sequence
from uuid import UUID

from service.records.blocks import Block
from service.trade.block.measurements import block_volume_m3, densities_against_others, density_kg_m3


def density_off(measured: Sequence[tuple[Block, float | None]], block_id: UUID) -> float | None:
    """Return the wet density of a block over the median of the others of its batch, less 1; None where not known.

    A batch has one moisture, so that the dry densities lie as far apart as the wet ones.
    """
    off = densities_against_others([_wet_density(block, height) for block, height in measured])
    return next((one for (block, _), one in zip(measured, off, strict=True) if block.id == block_id), None)


def _wet_density(block: Block, height_mm: float | None) -> float | None:
    if block.wet_mass_kg is None or height_mm is None:
        return None
    volume = block_volume_m3(length_mm=block.length_mm, width_mm=block.width_mm, heights_mm=[height_mm])
    return density_kg_m3(mass_kg=block.wet_mass_kg, volume_m3=volume)
