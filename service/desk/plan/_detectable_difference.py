"""What so many blocks of each recipe could tell apart, before anything is mixed."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.records.recipes import WholeRecipe
from service.records.shop import Prior
from service.trade.strength.estimate_result import Settings
from service.trade.strength.more_blocks import least_ratio_told

BLOCKS = range(2, 13)
MIXES = (1, 2)


@dataclass(frozen=True)
class DetectableDifference:
    """The least difference that would probably be shown, by mixes and blocks, and what it is worked out with."""

    shares: dict[int, tuple[tuple[int, float], ...]]
    planned: tuple[int, ...]
    scatter: float
    batch_sd: float
    rests_on: str | None


def detectable_difference(planned: Sequence[WholeRecipe], adopted: Prior | None) -> DetectableDifference:
    """Return what numbers of blocks from one mix and from two can tell apart, by the scatter the shop assumes."""
    assumed = Settings()
    scatter = adopted.scatter if adopted else assumed.prior.scatter
    batch_sd = adopted.batch_sd if adopted else assumed.batch_sd
    return DetectableDifference(
        shares={
            mixes: tuple(
                (blocks, least_ratio_told(blocks=blocks, batches=mixes, scatter=scatter, batch_sd=batch_sd) - 1)
                for blocks in BLOCKS
                if blocks >= mixes
            )
            for mixes in MIXES
        },
        planned=tuple(sorted({group.blocks for one in planned for group in one.groups if group.test is None})),
        scatter=scatter,
        batch_sd=batch_sd,
        rests_on=adopted.rests_on if adopted else None,
    )
