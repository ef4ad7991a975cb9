"""How dense a block came out of the mould."""

from service.records.blocks import Block
from service.trade.block.measurements import block_volume_m3, density_kg_m3, dry_density_kg_m3


def densities(
    block: Block, height_mm: float | None, *, moisture: float | None = None
) -> tuple[float | None, float | None]:
    """Return wet and dry density in kg/m3, as far as the block was weighed and measured and its moisture is known.

    ``height_mm`` is the mean of its heights, ``moisture`` water over dry mix.
    """
    if block.wet_mass_kg is None or height_mm is None:
        return None, None
    volume = block_volume_m3(length_mm=block.length_mm, width_mm=block.width_mm, heights_mm=[height_mm])
    wet = density_kg_m3(mass_kg=block.wet_mass_kg, volume_m3=volume)
    if moisture is None:
        return wet, None
    return wet, dry_density_kg_m3(wet_mass_kg=block.wet_mass_kg, moisture=moisture, volume_m3=volume)
