"""Blocks that were held, or read coarsely, as Gaussian sites: matched to mean and variance in the light of all else."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from service.trade.strength.fit.cells import Edges, Key
from service.trade.strength.fit.logs import Array, Whole
from service.trade.strength.fit.tables import density_over_mass, light_exp, log_mass_below

# Points of a level; fewer where only the mode is looked for.
POINTS, ROUGH_POINTS = 13, 9
_NEWTON, _DROP = 3, 11.0
_LEAST = 1e-9
# Beyond this many scatters from an edge an interval says all or nothing.
_REACH = 6.0
# So far out the ratio of density to mass is no other than its distance, and squares of it lose their digits.
_FARTHEST = 1e4


@dataclass(frozen=True)
class Hard:
    """All cells with intervals side by side; ``edge``, ``side`` and ``count`` by interval edge and cell.

    A block that was held lies above its edge (side 1), one that broke below the first mark beneath it (side -1). A
    coarse reading is a middle (side 0) and a half width.
    """

    keys: tuple[Key, ...]
    edge: Array
    side: Array
    half: Array
    count: Array

    @property
    def conditions(self) -> Whole:
        """The condition of each cell."""
        return np.array([c for c, _, _ in self.keys], dtype=int)

    @property
    def mixes(self) -> Whole:
        """The mix of each cell."""
        return np.array([b for _, b, _ in self.keys], dtype=int)

    @property
    def recipes(self) -> Whole:
        """The recipe of each cell."""
        return np.array([r for _, _, r in self.keys], dtype=int)

    @property
    def turns(self) -> list[tuple[int, int]]:
        """Where cells begin and end of which no two are of one recipe."""
        turn = _turns(self.keys)
        return [(turn.index(one), len(turn) - turn[::-1].index(one)) for one in range(max(turn) + 1)]

    def taken(self, which: slice) -> "Hard":
        """Return some of the cells."""
        return Hard(self.keys[which], *(one[:, which] for one in (self.edge, self.side, self.half, self.count)))

    def log_mass(self, level: Array, scatter: Array) -> Array:
        """Return the log chance of all intervals by point, cell, scatter node and node."""
        total = np.zeros(np.broadcast_shapes(level.shape, scatter.shape))
        finer = 1 / scatter
        for edge, side, half, count, middles in self._rows:
            z = level - edge
            if not middles:
                z *= side * finer
                mass = log_mass_below(z)
                mass *= count
                total += mass
                continue
            # Over to the left side of the middle, where differences of masses keep their digits.
            near = -np.abs(z)
            upper, lower = log_mass_below((near + half) * finer), log_mass_below((near - half) * finer)
            both = upper + np.log(np.maximum(-np.expm1(np.minimum(lower - upper, -1e-300)), 1e-300))
            one = log_mass_below(z * (side * finer))
            total += count * np.where(side == 0, both, one)
        return total

    def slopes(self, level: Array, finer: Array) -> tuple[Array, Array]:
        """Return slope and curvature (turned to be above 0) of the log chance, near enough to find its mode.

        ``finer`` is one over the scatter.
        """
        slope, curve = np.zeros(level.shape), np.zeros(level.shape)
        square = finer**2
        for edge, side, half, count, middles in self._rows:
            turned = side * finer
            z = level - edge
            z *= turned
            np.maximum(z, -_FARTHEST, out=z)
            np.minimum(z, _FARTHEST, out=z)
            tilt = density_over_mass(z)
            bend = z
            bend += tilt
            bend *= tilt
            np.maximum(bend, 0.0, out=bend)
            bend *= square
            tilt *= turned
            if middles:
                wide = 1 / square + half**2 / 3
                tilt, bend = np.where(side == 0, (edge - level) / wide, tilt), np.where(side == 0, 1 / wide, bend)
            tilt *= count
            slope += tilt
            bend *= count
            curve += bend
        return slope, curve

    @cached_property
    def _rows(self) -> list[tuple[Array, Array, Array, Array, bool]]:
        """Every row of edges, ready for scatter nodes and nodes, and whether one of them is a middle."""
        arrays = (self.edge, self.side, self.half, self.count)
        rows = [tuple(one[e][:, None, None] for one in arrays) for e in range(len(self.edge))]
        return [(edge, side, half, count, bool(np.any(side == 0))) for edge, side, half, count in rows]


def _turns(keys: Sequence[Key]) -> list[int]:
    """Return for every cell how many of its recipe stand before it."""
    seen: dict[int, int] = {}
    found = []
    for _, _, recipe in keys:
        found.append(seen.get(recipe, 0))
        seen[recipe] = found[-1] + 1
    return found


def hard_of(cells: Mapping[Key, Edges]) -> Hard:
    """Return all cells with intervals side by side.

    Parameters
    ----------
    cells : Mapping[Key, Edges]
        Intervals by condition, mix and recipe.

    Returns
    -------
    Hard
        The first cell of every recipe, then the second and so on; filled up with edges that count for nothing.

    Source
    ------
    strength-model

    Examples
    --------
    >>> hard_of({(0, 0, 0): Edges(np.zeros(1), np.full(1, np.inf), np.ones(1))}).side.tolist()
    [[1.0]]
    """
    most = max(len(one.count) for one in cells.values())
    first = sorted(zip(_turns(list(cells)), range(len(cells)), strict=True))
    keys = [list(cells)[place] for _, place in first]
    edge, side, half, count = (np.zeros((most, len(cells))) for _ in range(4))
    side += 1.0
    for h, one in enumerate(cells[key] for key in keys):
        edge[:, h] = one.low[0] if np.isfinite(one.low[0]) else one.high[0]
        for e, (low, high, times) in enumerate(zip(one.low, one.high, one.count, strict=True)):
            two = np.isfinite(low) and np.isfinite(high)
            edge[e, h] = (low + high) / 2 if two else low if np.isfinite(low) else high
            side[e, h] = 0.0 if two else 1.0 if np.isfinite(low) else -1.0
            half[e, h] = (high - low) / 2 if two else 0.0
            count[e, h] = times
    return Hard(tuple(keys), edge, side, half, count)


@dataclass(frozen=True)
class Sites:
    """Sites by cell, scatter node and node: precision, precision times mean, log scale; and the levels' own densities.

    ``x`` and ``share`` are points of each cell's level about its prior mean, and their weights, which sum to 1.
    """

    weight: Array
    pull: Array
    log_scale: Array
    x: Array
    share: Array


def matched(
    hard: Hard, mean: Array, variance: Array, old: Sites | None, *, scatter: Array, base: Array, points: int = POINTS
) -> Sites:
    """Return the sites under which mean and variance of each level are as with the intervals themselves.

    Parameters
    ----------
    hard : Hard
        The intervals.
    mean, variance : Array
        Of the cells' levels about their prior means, with the old sites, by cell, scatter node and node.
    old : Sites or None
        The sites before.
    scatter : Array
        Scatter of the blocks by cell, scatter node and node.
    base : Array
        Prior means of the levels by cell, one and node.
    points : int
        Points of each level.

    Returns
    -------
    Sites
        With the logs of their scales.

    Source
    ------
    strength-model : expectation propagation; trapezium rule over a stretched grid.

    Examples
    --------
    One block held at the middle of a level N(0, 1), scatter next to nothing: half of it is left, with mean 0.7979.

    >>> held = hard_of({(0, 0, 0): Edges(np.zeros(1), np.full(1, np.inf), np.ones(1))})
    >>> unit = np.ones((1, 1, 1))
    >>> site = matched(held, 0 * unit, unit, None, scatter=0.01 * unit, base=0 * unit)
    >>> round(float((site.x * site.share).sum()), 2)
    0.8
    """
    precision, pull = 1 / variance, mean / variance
    if old is not None:
        precision = np.maximum(precision - old.weight, _LEAST)
        pull = pull - old.pull
    v, m = 1 / precision, pull / precision
    x, step = _grid(hard, m, v, scatter, base, points)
    log_mass = hard.log_mass(x + base, scatter)
    gap = x - m
    gap *= gap
    gap *= precision / 2
    log_mass -= gap
    top = log_mass.max(axis=0)
    log_mass -= top
    share = light_exp(log_mass)
    share *= step
    total = share.sum(axis=0)
    share /= total
    new_mean = (share * x).sum(axis=0)
    gap = x - new_mean
    gap *= gap
    gap *= share
    new_variance = np.maximum(gap.sum(axis=0), _LEAST)
    weight = np.maximum(1 / new_variance - precision, 0.0)
    new_pull = new_mean * (weight + precision) - pull
    log_z = top + np.log(total * np.sqrt(precision / (2 * np.pi)))
    gaussian = ((pull + new_pull) ** 2 / (precision + weight) - pull**2 / precision - np.log1p(weight * v)) / 2
    return Sites(weight, new_pull, log_z - gaussian, x, share)


def _grid(hard: Hard, m: Array, v: Array, scatter: Array, base: Array, points: int) -> tuple[Array, Array]:
    """Return points about the mode, near each other there and far at the ends, and their steps."""
    shape = np.broadcast_shapes(m.shape, scatter.shape)
    counted, edge = hard.count > 0, hard.edge
    lowest = np.where(counted & (hard.side >= 0), edge - hard.half, -np.inf).max(axis=0)[:, None, None] - base
    highest = np.where(counted & (hard.side <= 0), edge + hard.half, np.inf).min(axis=0)[:, None, None] - base
    x = np.broadcast_to(np.minimum(np.maximum(m, lowest), np.maximum(highest, lowest)), shape).copy()
    finer, tight = 1 / scatter, 1 / v
    for _ in range(_NEWTON):
        slope, curve = hard.slopes(x + base, finer)
        curve += tight
        slope -= (x - m) / v
        slope /= curve
        x += slope
    s = 1 / np.sqrt(curve)
    # The intervals only narrow what is left, so that the level's own slope bounds how far it reaches.
    up, down = np.maximum(x - m, 0.0), np.maximum(m - x, 0.0)
    right = np.minimum(np.sqrt(up**2 + 2 * _DROP * v) - up, np.maximum(highest + _REACH * scatter - x, 3 * s))
    left = np.minimum(np.sqrt(down**2 + 2 * _DROP * v) - down, np.maximum(x - lowest + _REACH * scatter, 3 * s))
    begin, end = -np.arcsinh(left / s), np.arcsinh(right / s)
    between = (end - begin) / (points - 1)
    grown, times = np.empty((points, *shape)), np.exp(between)
    grown[0] = np.exp(begin) / 2
    for number in range(1, points):
        np.multiply(grown[number - 1], times, out=grown[number])
    shrunk = 0.25 / grown
    step = grown + shrunk
    step *= s * between
    grown -= shrunk
    grown *= s
    grown += x
    return grown, step
