"""The readings as the fit takes them: counted by condition, mix and recipe."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from service.trade.strength.censored_readings import Reading
from service.trade.strength.fit.logs import Array

# A reading coarser than this many scatters is an interval of its own, not a point with a little more scatter.
_COARSE = 1.0
# Edges nearer to each other than this many scatters are one edge; further apart than the second, a cluster each.
_SAME, _CLUSTER = 0.02, 0.7

Key = tuple[int, int, int]


@dataclass(frozen=True)
class Edges:
    """Intervals of ln y that blocks of one cell are known to lie in, each with how many blocks."""

    low: Array
    high: Array
    count: Array


@dataclass(frozen=True)
class Cells:
    """Arrays by condition, mix and recipe: count, mean and sum of squares of ln y, and mean square of interval widths.

    ``hard`` holds what is no point: blocks that were held, and coarse intervals.
    """

    count: Array
    mean: Array
    squares: Array
    width: Array
    hard: Mapping[Key, Edges]

    @property
    def conditions(self) -> int:
        """How many conditions."""
        return int(self.count.shape[0])

    @property
    def mixes(self) -> int:
        """The most mixes of a recipe."""
        return int(self.count.shape[1])

    @property
    def recipes(self) -> int:
        """How many recipes."""
        return int(self.count.shape[2])


def cells_of(
    readings: Mapping[Key, Sequence[Reading]], *, shape: tuple[int, int, int], scatter: Sequence[float]
) -> Cells:
    """Return the readings, sorted into points and intervals.

    Parameters
    ----------
    readings : Mapping[Key, Sequence[Reading]]
        Standing blocks by condition, mix and recipe.
    shape : tuple[int, int, int]
        How many conditions, mixes and recipes.
    scatter : Sequence[float]
        About what blocks of each condition scatter by, on the log: what counts as coarse.

    Returns
    -------
    Cells
        In logs.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke, held
    >>> cells = cells_of({(0, 0, 0): [broke(stress_mpa=1.0), held(stress_mpa=2.0)]}, shape=(1, 1, 1), scatter=[0.1])
    >>> float(cells.count[0, 0, 0]), len(cells.hard)
    (1.0, 1)
    """
    count, mean, squares, width = (np.zeros(shape) for _ in range(4))
    hard: dict[Key, Edges] = {}
    for key, blocks in readings.items():
        coarse = _COARSE * scatter[key[0]]
        logs = [_logs(one) for one in blocks]
        points = [(low, high) for low, high in logs if high - low <= coarse]
        if points:
            middle = [(low + high) / 2 for low, high in points]
            count[key], mean[key] = len(points), math.fsum(middle) / len(points)
            squares[key] = math.fsum((one - mean[key]) ** 2 for one in middle)
            width[key] = math.fsum((high - low) ** 2 for low, high in points) / (12 * len(points))
        intervals = [one for one in logs if one[1] - one[0] > coarse]
        if intervals:
            hard[key] = _edges(intervals, scatter[key[0]])
    return Cells(count, mean, squares, width, hard)


def _logs(reading: Reading) -> tuple[float, float]:
    low = math.log(reading.low_mpa) if reading.low_mpa > 0 else -math.inf
    return low, math.log(reading.high_mpa) if reading.high_mpa < math.inf else math.inf


def _edges(intervals: Sequence[tuple[float, float]], scatter: float) -> Edges:
    held = sorted(low for low, high in intervals if high == math.inf)
    rows = [(edge, math.inf, weight) for edge, weight in _condensed(held, scatter)]
    counted: dict[tuple[float, float], int] = {}
    for one in intervals:
        if one[1] < math.inf:
            counted[one] = counted.get(one, 0) + 1
    rows += [(low, high, float(times)) for (low, high), times in sorted(counted.items())]
    low, high, count = np.array(rows).T
    return Edges(low, high, count)


def _condensed(edges: Sequence[float], scatter: float) -> list[tuple[float, float]]:
    """Return few edges that stand for many: in each cluster two that share its mean and mean square."""
    clusters: list[list[float]] = []
    for edge in edges:
        if clusters and edge - clusters[-1][0] <= _CLUSTER * scatter:
            clusters[-1].append(edge)
        else:
            clusters.append([edge])
    found: list[tuple[float, float]] = []
    for cluster in clusters:
        mean, sd = float(np.mean(cluster)), float(np.std(cluster))
        if len(cluster) < 3 or sd <= _SAME * scatter:
            found += [(mean, float(len(cluster)))] if sd <= _SAME * scatter else [(edge, 1.0) for edge in cluster]
        else:
            found += [(mean - sd, len(cluster) / 2), (mean + sd, len(cluster) / 2)]
    return found
