"""The readings of one job as the strength engine takes them: sorted, in logs, equal ones counted once."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trade.strength.censored_readings import Reading
from service.trade.strength.engine.normal import Array, cell, hazard, log_above

Index = NDArray[np.int64]


@dataclass(frozen=True)
class Cells:
    """Readings with a lower edge and, unless held, an upper one: log stress over the group's anchor."""

    low: Array
    high: Array
    count: Array
    group: Index

    def of(self, group: int) -> "Cells":
        """Return those of one group."""
        mine = self.group == group
        return Cells(self.low[mine], self.high[mine], self.count[mine], self.group[mine])


@dataclass(frozen=True)
class Evidence:
    """All standing readings, group by group; a group is one recipe in one condition."""

    condition: Index
    recipe: Index
    anchor: Array
    exact_count: Array
    exact_mean: Array
    exact_square: Array
    broke: Cells
    held: Cells
    conditions: int
    recipes: int

    @property
    def groups(self) -> int:
        """Return how many groups have a standing reading."""
        return len(self.anchor)

    def members(self, condition: int) -> list[int]:
        """Return the groups of one condition, by recipe."""
        return [int(group) for group in np.flatnonzero(self.condition == condition)]


def gather(readings: Sequence[tuple[int, int, Sequence[Reading]]], *, conditions: int, recipes: int) -> Evidence:
    """Return the evidence of (condition, recipe, standing readings), which must not be empty of readings.

    Parameters
    ----------
    readings : Sequence[tuple[int, int, Sequence[Reading]]]
        Condition, recipe and standing readings of each group, by number; never empty of readings.
    conditions, recipes : int
        How many of each there are; above 0.

    Returns
    -------
    Evidence
        In logs over each group's anchor.

    Source
    ------
    strength-model

    Examples
    --------
    ln 3 is the anchor of one exact reading of 3 MPa:

    >>> from service.trade.strength.censored_readings import broke
    >>> evidence = gather([(0, 0, [broke(stress_mpa=3.0)])], conditions=1, recipes=1)
    >>> float(evidence.anchor[0].round(4)), float(evidence.exact_count[0])
    (1.0986, 1.0)
    """
    rows = [_row(group, read) for group, (_, _, read) in enumerate(readings)]
    return Evidence(
        condition=np.array([condition for condition, _, _ in readings], dtype=np.int64),
        recipe=np.array([recipe for _, recipe, _ in readings], dtype=np.int64),
        anchor=np.array([row.anchor for row in rows]),
        exact_count=np.array([float(row.exact_count) for row in rows]),
        exact_mean=np.array([row.exact_mean for row in rows]),
        exact_square=np.array([row.exact_square for row in rows]),
        broke=_cells([cell for row in rows for cell in row.broke]),
        held=_cells([cell for row in rows for cell in row.held]),
        conditions=conditions,
        recipes=recipes,
    )


@dataclass(frozen=True)
class _Row:
    anchor: float
    exact_count: int
    exact_mean: float
    exact_square: float
    broke: list[tuple[int, float, float, int]]
    held: list[tuple[int, float, float, int]]


def _row(group: int, readings: Sequence[Reading]) -> _Row:
    # Logs are taken from an anchor within the group, so that readings that are all alike leave a sum
    # of squares of exactly nothing.
    exact = sorted(math.log(r.stress_mpa) for r in readings if _is_exact(r))
    broke = Counter(
        (_log(r.low_mpa), math.log(r.high_mpa)) for r in readings if r.outcome == "broke" and not _is_exact(r)
    )
    held = Counter(math.log(r.low_mpa) for r in readings if r.high_mpa == math.inf)
    middles = [high if low == -math.inf else (low + high) / 2 for low, high in broke]
    anchor = exact[0] if exact else math.fsum([*middles, *held]) / (len(middles) + len(held))
    apart = [value - anchor for value in exact]
    mean = math.fsum(apart) / len(apart) if apart else 0.0
    return _Row(
        anchor=anchor,
        exact_count=len(exact),
        exact_mean=mean,
        exact_square=math.fsum((value - mean) ** 2 for value in apart),
        broke=[(group, low - anchor, high - anchor, count) for (low, high), count in sorted(broke.items())],
        held=[(group, low - anchor, math.inf, count) for low, count in sorted(held.items())],
    )


def _is_exact(reading: Reading) -> bool:
    # A cell finer than a millionth of the stress is a density to more digits than its edges have.
    return reading.high_mpa - reading.low_mpa <= 1e-6 * reading.low_mpa


def _log(stress_mpa: float) -> float:
    return math.log(stress_mpa) if stress_mpa > 0 else -math.inf


def _cells(rows: Sequence[tuple[int, float, float, int]]) -> Cells:
    return Cells(
        low=np.array([low for _, low, _, _ in rows]),
        high=np.array([high for _, _, high, _ in rows]),
        count=np.array([float(count) for _, _, _, count in rows]),
        group=np.array([group for group, _, _, _ in rows], dtype=np.int64),
    )


def log_likelihood(evidence: Evidence, group: int, *, mu: Array, sigma: Array) -> Array:
    """Return the log likelihood of one group at ``mu`` (over the anchor), up to a constant.

    ``mu`` has one row for every entry of ``sigma``.

    Parameters
    ----------
    evidence : Evidence
        The readings.
    group : int
        Which group.
    mu : Array
        Log strength over the anchor, one row for every entry of sigma.
    sigma : Array
        Scatter on the log; above 0.

    Returns
    -------
    Array
        Of the shape of mu.

    Source
    ------
    strength-model

    Examples
    --------
    At the reading itself only the width counts, minus ln 0.1:

    >>> from service.trade.strength.censored_readings import broke
    >>> evidence = gather([(0, 0, [broke(stress_mpa=3.0)])], conditions=1, recipes=1)
    >>> found = log_likelihood(evidence, 0, mu=np.zeros((1, 1)), sigma=np.array([0.1]))
    >>> float(found[0, 0].round(6))
    2.302585
    """
    spread = sigma[:, None]
    count = evidence.exact_count[group]
    off = evidence.exact_square[group] + count * (mu - evidence.exact_mean[group]) ** 2
    total: Array = -count * np.log(spread) - off / (2 * spread**2)
    broke, held = evidence.broke.of(group), evidence.held.of(group)
    for low, high, repeats in zip(broke.low, broke.high, broke.count, strict=True):
        total = total + repeats * cell((low - mu) / spread, (high - mu) / spread).log_mass
    for low, repeats in zip(held.low, held.count, strict=True):
        total = total + repeats * log_above((low - mu) / spread)
    return total


@dataclass(frozen=True)
class Slopes:
    """Log likelihood, slope and curvature in ``mu``; every array is points by groups.

    ``rise_up`` and ``rise_down`` leave out the readings that stop counting far up (held) and far
    down (a cell that begins at zero): what is left of the curvature far from the top.
    """

    value: Array
    slope: Array
    curvature: Array
    rise_up: Array
    rise_down: Array


def slopes(evidence: Evidence, *, mu: Array, sigma: Array) -> Slopes:
    """Return the slopes of all groups at ``mu`` (points by groups, over the anchor) for ``sigma`` alike.

    Parameters
    ----------
    evidence : Evidence
        The readings.
    mu : Array
        Log strength over the anchors, points by groups.
    sigma : Array
        Scatter on the log, alike; above 0.

    Returns
    -------
    Slopes
        Every array points by groups.

    Source
    ------
    strength-model

    Examples
    --------
    One exact reading with a scatter of 0.1 bends by 1 / 0.01 at its top:

    >>> from service.trade.strength.censored_readings import broke
    >>> evidence = gather([(0, 0, [broke(stress_mpa=3.0)])], conditions=1, recipes=1)
    >>> at = slopes(evidence, mu=np.zeros((1, 1)), sigma=np.full((1, 1), 0.1))
    >>> float(abs(at.slope[0, 0])), float(at.curvature[0, 0].round(6))
    (0.0, 100.0)
    """
    exact = evidence.exact_count / sigma**2
    off = mu - evidence.exact_mean
    value = -evidence.exact_count * np.log(sigma) - evidence.exact_square / (2 * sigma**2) - exact * off**2 / 2
    slope = -exact * off
    broke, held = evidence.broke, evidence.held
    cell_value, cell_slope, cell_curvature = _cell_slopes(broke, mu=mu[:, broke.group], sigma=sigma[:, broke.group])
    held_value, held_slope, held_curvature = _held_slopes(held, mu=mu[:, held.group], sigma=sigma[:, held.group])
    of_cell, of_held = _counts(broke, evidence.groups), _counts(held, evidence.groups)
    closed = of_cell * np.isfinite(broke.low)[:, None]
    bounded_below = exact + cell_curvature @ closed
    all_cells = exact + cell_curvature @ of_cell
    from_held = held_curvature @ of_held
    return Slopes(
        value=value + cell_value @ of_cell + held_value @ of_held,
        slope=slope + cell_slope @ of_cell + held_slope @ of_held,
        curvature=all_cells + from_held,
        rise_up=all_cells,
        rise_down=bounded_below + from_held,
    )


def _counts(cells: Cells, groups: int) -> Array:
    table = np.zeros((len(cells.group), groups))
    table[np.arange(len(cells.group)), cells.group] = cells.count
    return table


def _held_slopes(cells: Cells, *, mu: Array, sigma: Array) -> tuple[Array, Array, Array]:
    z = (cells.low - mu) / sigma
    slope, excess = hazard(z)
    return log_above(z), slope / sigma, np.clip(slope * excess, 0, 1) / sigma**2


def _cell_slopes(cells: Cells, *, mu: Array, sigma: Array) -> tuple[Array, Array, Array]:
    between = cell((cells.low - mu) / sigma, (cells.high - mu) / sigma)
    return between.log_mass, between.slope / sigma, between.curvature / sigma**2
