"""A block beside the others of its batch: how far its density lies from the middle of theirs."""

from collections.abc import Sequence
from uuid import UUID

from service.measured.density import densities
from service.records.blocks import Block
from service.trade.block.measurements import densities_against_others


def density_off(measured: Sequence[tuple[Block, float | None]], block_id: UUID) -> float | None:
    """Return the wet density of a block over the median of the others of its batch, less 1; None where not known.

    A batch has one moisture, so that the dry densities lie as far apart as the wet ones.
    """
    off = densities_against_others([densities(block, height)[0] for block, height in measured])
    return next((one for (block, _), one in zip(measured, off, strict=True) if block.id == block_id), None)
