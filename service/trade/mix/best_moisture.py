"""The moisture at which blocks pressed alike became densest."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from service.trade.validation import require

LEAST_MOISTURES = 3


@dataclass(frozen=True)
class Tried:
    """The mean of the blocks pressed at one moisture."""

    moisture: float
    dry_density_kg_m3: float
    blocks: int


@dataclass(frozen=True)
class Best:
    """The moistures tried, drier first, and the one that gave the greatest dry density; None while too few."""

    tried: tuple[Tried, ...]
    target: Tried | None
    remark: str


def best_moisture(points: Sequence[tuple[float, float]]) -> Best:
    """Return the moisture at which blocks pressed alike became densest.

    Parameters
    ----------
    points : Sequence[tuple[float, float]]
        Moisture over the dry mix and dry density in kg/m3 of each block, both above 0; several at one moisture
        are averaged.

    Returns
    -------
    Best
        The moisture of the greatest mean dry density; None with fewer than three moistures. A remark where the
        greatest is at an end, since the best may lie beyond.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    own-rule : the wettest, the driest and one between must be tried; the greatest measured is taken, none is fitted.

    Examples
    --------
    >>> best_moisture([(0.08, 1850.0), (0.10, 1920.0), (0.12, 1880.0)]).target.moisture
    0.1
    """
    require(
        positive={
            f"points.{place}.{side}": value for place, pair in enumerate(points) for side, value in enumerate(pair)
        }
    )
    by_moisture: dict[float, list[float]] = {}
    for moisture, density in sorted(points):
        by_moisture.setdefault(moisture, []).append(density)
    tried = tuple(Tried(moisture, fmean(found), len(found)) for moisture, found in by_moisture.items())
    if len(tried) < LEAST_MOISTURES:
        missing = LEAST_MOISTURES - len(tried)
        return Best(tried, None, f"{missing} more {'moisture' if missing == 1 else 'moistures'} to try.")
    target = max(tried, key=lambda one: one.dry_density_kg_m3)
    end = {tried[0].moisture: "drier", tried[-1].moisture: "wetter"}.get(target.moisture)
    remark = f"The densest block is at the end of the range: try one {end}." if end else ""
    return Best(tried, target, remark)
