"""One recipe's own unknowns, integrated at every node of what all recipes share.

Given the shared unknowns recipes are independent. Its own scatter is integrated by Gauss-Hermite nodes about its mode;
given that, level and mixes are Gaussian, and blocks that were held stand in as Gaussian sites (``sites.py``).
Arrays run by condition, mix, recipe, scatter node, shared node.
"""

from dataclasses import dataclass

import numpy as np

from service.trade.strength.fit.cells import Cells
from service.trade.strength.fit.logs import Array, Whole, hermite
from service.trade.strength.fit.sites import POINTS, ROUGH_POINTS, Hard, Sites, hard_of, matched
from service.trade.strength.fit.unknowns import Unknowns

SCATTER_NODES, _ROUGH_NODES = 3, 2
_NEWTON = 5
# One pass is exact where a recipe has one cell of intervals; more settle in a few.
_SWEEPS, _ROUGH_SWEEPS = 2, 1
# Bytes that points of intervals may take at once: what a core keeps near.
_AT_ONCE = 600_000
_LEAST_VARIANCE, _IMPOSSIBLE = 1e-18, 1e300
_FARTHEST = 12.0
# No press reads finer, on the log: blocks that read alike to the last digit would draw their own scatter to nothing.
FINEST = 1e-3


@dataclass(frozen=True)
class Precision:
    """What the readings add: precision and precision times mean, by condition, mix and so on."""

    weight: Array
    pull: Array


@dataclass(frozen=True)
class Solved:
    """Levels of a recipe about their prior means: mean, covariance, what the mixes take up, and the log integral."""

    mean: Array
    cov: Array
    taken: Array
    log_integral: Array


@dataclass(frozen=True)
class Local:
    """Every recipe at every node: scatter nodes with their log weights, prior levels, and levels given both."""

    log_weight: Array
    log_sigma: Array
    base: Array
    solved: Solved
    data: Precision
    hard: Hard | None
    sites: Sites | None

    @property
    def log_likelihood(self) -> Array:
        """The log likelihood of each recipe by node."""
        top = self.log_weight.max(axis=1)
        found: Array = top + np.log(np.exp(self.log_weight - top[:, None]).sum(axis=1))
        return found


def local(cells: Cells, unknowns: Unknowns, at: Array, *, rough: bool = False) -> Local:
    """Return every recipe's own unknowns, integrated at every node.

    Parameters
    ----------
    cells : Cells
        The readings.
    unknowns : Unknowns
        What the rows of ``at`` are.
    at : Array
        Shared unknowns by node, one column a node.
    rough : bool
        Whether it is to be quick, to look for the mode only.

    Returns
    -------
    Local
        By recipe, scatter node and node.

    Source
    ------
    strength-model

    Examples
    --------
    One exact reading at the middle of everything, theta 0, ln sigma and ln tau 0: its density is N(0; 0, 2).

    >>> import math
    >>> from service.trade.strength.fit.cells import cells_of
    >>> from service.trade.strength.fit.unknowns import unknowns_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.prior import Prior
    >>> cells = cells_of({(0, 0, 0): [broke(stress_mpa=1.0)]}, shape=(1, 1, 1), scatter=[0.1])
    >>> known = unknowns_of(Prior(), conditions=1, recipes=1, basis=(), mixes_named=False, beta=None)
    >>> float(local(cells, known, np.zeros((3, 1))).log_likelihood[0, 0].round(6)), round(-math.log(2) / 2, 6)
    (-0.346574, -0.346574)
    """
    w, log_weight = _scatters(cells, unknowns, at, _ROUGH_NODES if rough else SCATTER_NODES)
    log_sigma = unknowns.log_sigma(at)[:, None, None, :] + w
    base = np.broadcast_to(unknowns.theta(at)[:, None, :] + unknowns.curve(at), (*cells.count.shape[::2], at.shape[1]))
    data, constant = _points(cells, log_sigma, base)
    spread = unknowns.between_recipes(at), unknowns.size(at, "eta"), unknowns.size(at, "beta")
    solved = solve(data, *spread)
    log_weight = log_weight + constant
    if not cells.hard:
        return Local(log_weight + solved.log_integral, log_sigma, base, solved, data, None, None)
    hard = hard_of(cells.hard)
    data, solved, sites, more = _with_sites(hard, data, solved, spread, log_sigma, base, rough=rough)
    return Local(log_weight + more + solved.log_integral, log_sigma, base, solved, data, hard, sites)


Places = tuple[Whole, Whole, Whole]
_Spread = tuple[Array, Array | None, Array | None]


def _scatters(cells: Cells, unknowns: Unknowns, at: Array, many: int) -> tuple[Array, Array]:
    """Return nodes of w by recipe, scatter node and node with their log weights; one at 0 where there is no w."""
    omega = unknowns.size(at, "omega")
    if omega is None:
        return np.zeros((1, 1, 1)), np.zeros((1, 1, at.shape[1]))
    free = np.maximum(cells.count - 1, 0).sum(axis=(0, 1))[:, None]
    own = (cells.squares + cells.count * (cells.width + FINEST**2)).sum(axis=1)
    squares = own.T @ np.exp(-2 * unknowns.log_sigma(at))
    w = np.zeros_like(squares)
    for _ in range(_NEWTON):
        pull = squares * np.exp(-2 * w)
        w = _within(w + (-w / omega**2 - free + pull) / (1 / omega**2 + 2 * pull))
    sd = 1 / np.sqrt(1 / omega**2 + 2 * squares * np.exp(-2 * w))
    x, weight = hermite(many)
    nodes = _within(w[:, None, :] + sd[:, None, :] * x[:, None])
    log_weight = np.log(weight)[:, None] + (x**2 / 2)[:, None] + np.log(sd)[:, None, :]
    return nodes, log_weight - (nodes / omega) ** 2 / 2 - np.log(omega)


def _within(w: Array) -> Array:
    return np.minimum(np.maximum(w, -_FARTHEST), _FARTHEST)


def _points(cells: Cells, log_sigma: Array, base: Array) -> tuple[Precision, Array]:
    """Return what the points add about the prior levels, and their log density at those levels."""
    shape = (*cells.count.shape, 1, 1)
    count = cells.count.reshape(shape)
    variance = np.exp(2 * log_sigma)[:, None] + (cells.width.reshape(shape) + FINEST**2)
    weight = count / variance
    gap = cells.mean.reshape(shape) - base[:, None, :, None, :]
    constant = -(count * np.log(variance) + cells.squares.reshape(shape) / variance + weight * gap**2) / 2
    return Precision(weight, weight * gap), constant.sum(axis=(0, 1))


def solve(data: Precision, tau: Array, eta: Array | None, beta: Array | None) -> Solved:
    """Return the levels of a recipe given what was read, its mixes integrated out.

    Parameters
    ----------
    data : Precision
        By condition, mix, recipe, scatter node and node.
    tau : Array
        Standard deviation between recipes by node, or by recipe, one and node.
    eta, beta : Array or None
        Standard deviations by node; None: not there.

    Returns
    -------
    Solved
        Levels by condition, recipe, scatter node and node, about their prior means.

    Source
    ------
    strength-model : normal levels; mixes by the Schur complement, which is diagonal in them.

    Examples
    --------
    One reading of precision 1 at 1, prior N(0, 1): half of it.

    >>> one = np.ones((1, 1, 1, 1, 1))
    >>> float(solve(Precision(one, one), np.ones(1), None, None).mean.ravel()[0])
    0.5
    """
    conditions = data.weight.shape[0]
    own = tau**2 if eta is None else eta**2
    apart = np.zeros_like(tau) if eta is None else tau**2 / (eta**2 + conditions * tau**2)
    log_prior = np.log(own) if eta is None else (conditions - 1) * np.log(own) + np.log(own + conditions * tau**2)
    right = data.pull.sum(axis=1)
    matrix = np.empty((conditions, *right.shape))
    matrix[:] = -apart / own
    for c in range(conditions):
        matrix[c, c] += data.weight[c].sum(axis=0) + 1 / own
    mix, off = np.zeros(data.weight.shape[1:]), -log_prior
    if beta is not None:
        total, pull = data.weight.sum(axis=0), data.pull.sum(axis=0)
        grown = 1 + beta**2 * total
        mix = beta**2 / grown
        taken = mix * data.weight
        right -= (taken * pull).sum(axis=1)
        for c in range(conditions):
            for d in range(c + 1):
                shared = (taken[c] * data.weight[d]).sum(axis=0)
                matrix[c, d] -= shared
                if d < c:
                    matrix[d, c] -= shared
        off = off + (mix * pull**2).sum(axis=0) - np.log(grown).sum(axis=0)
    cov, log_det = inverse(matrix)
    mean = np.empty_like(right)
    for c in range(conditions):
        mean[c] = (cov[c] * right).sum(axis=0)
    return Solved(mean, cov, mix, ((mean * right).sum(axis=0) + off - log_det) / 2)


def inverse(matrix: Array) -> tuple[Array, Array]:
    """Return the inverse and log determinant of small positive definite matrices whose rows stand in front.

    Parameters
    ----------
    matrix : Array
        By row, column and anything.

    Returns
    -------
    tuple[Array, Array]
        In the same shape, and by anything.

    Source
    ------
    computed-here : Gauss-Jordan without pivots, which a positive definite matrix does not need.

    Examples
    --------
    >>> found, log_det = inverse(np.array([[[2.0], [0.0]], [[0.0], [4.0]]]))
    >>> (found[:, :, 0] + 0.0).tolist(), round(float(log_det[0]), 6)
    ([[0.5, 0.0], [0.0, 0.25]], 2.079442)
    """
    size = len(matrix)
    if size == 1:
        return 1 / matrix, np.log(matrix[0, 0])
    if size == 2:
        return _inverse_of_two(matrix)
    left = matrix.copy()
    log_det = np.zeros(matrix.shape[2:])
    for k in range(size):
        # So far out that the digits are lost: no such node counts.
        pivot = np.where(left[k, k] > 0, left[k, k], _IMPOSSIBLE)
        log_det += np.log(pivot)
        left[k, k] = 1.0
        left[k] /= pivot
        for i in range(size):
            if i != k:
                factor = left[i, k].copy()
                left[i, k] = 0.0
                left[i] -= factor * left[k]
    return left, log_det


def _inverse_of_two(matrix: Array) -> tuple[Array, Array]:
    first, ratio = matrix[0, 0], matrix[0, 1] / matrix[0, 0]
    rest = matrix[1, 1] - ratio * matrix[0, 1]
    rest = np.where(rest > 0, rest, _IMPOSSIBLE)
    found = np.empty_like(matrix)
    found[1, 1] = 1 / rest
    found[0, 1] = found[1, 0] = -ratio / rest
    found[0, 0] = 1 / first - ratio * found[0, 1]
    return found, np.log(first) + np.log(rest)


def cell_levels(data: Precision, solved: Solved, places: Places) -> tuple[Array, Array, Array]:
    """Return mean and variance of the levels of some cells (recipe and mix), and covariances with the recipe's levels.

    Parameters
    ----------
    data : Precision
        What was read.
    solved : Solved
        Levels given it.
    places : Places
        Numbers of condition, mix and recipe of each cell.

    Returns
    -------
    tuple[Array, Array, Array]
        By cell, scatter node and node; the covariance by condition first.

    Source
    ------
    strength-model

    Examples
    --------
    >>> one, first = np.ones((1, 1, 1, 1, 1)), np.zeros(1, dtype=int)
    >>> data = Precision(one, one)
    >>> mean, variance, _ = cell_levels(data, solve(data, np.ones(1), None, None), (first, first, first))
    >>> float(mean[0, 0, 0]), float(variance[0, 0, 0])
    (0.5, 0.5)
    """
    c, b, r = places
    taken = solved.taken[b, r]
    weight, pull = data.weight[:, b, r], data.pull[:, b, r]
    side = -taken * weight
    side[c, np.arange(len(c))] += 1.0
    with_levels = np.einsum("cdh...,dh...->ch...", solved.cov[:, :, r], side)
    variance = np.maximum((side * with_levels).sum(axis=0) + taken, _LEAST_VARIANCE)
    mean = (side * solved.mean[:, r]).sum(axis=0) + taken * pull.sum(axis=0)
    return mean, variance, with_levels


def _with_sites(
    hard: Hard, data: Precision, solved: Solved, spread: _Spread, log_sigma: Array, base: Array, *, rough: bool
) -> tuple[Precision, Solved, Sites, Array]:
    """Return everything again with the intervals as Gaussian sites (expectation propagation)."""
    c, b, whole_r = hard.conditions, hard.mixes, hard.recipes
    # Recipes without intervals stay as they are.
    own, r = np.unique(whole_r, return_inverse=True)
    spread = (spread[0] if spread[0].ndim == 1 else spread[0][own], *spread[1:])
    here = Precision(data.weight[:, :, own], data.pull[:, :, own])
    now = Solved(solved.mean[:, own], solved.cov[:, :, own], solved.taken[:, own], solved.log_integral[own])
    # Where there is no scatter of its own, all recipes share one row.
    scatter = np.exp(log_sigma[c, np.minimum(whole_r, log_sigma.shape[1] - 1)])
    beneath = base[c, whole_r][:, None]
    points, sweeps = (ROUGH_POINTS, _ROUGH_SWEEPS) if rough else (POINTS, _SWEEPS)
    most = max(1, _AT_ONCE // (points * scatter[0].size * 8))
    turns = [slice(begin, min(begin + most, end)) for low, end in hard.turns for begin in range(low, end, most)]
    ends, parts = {end for _, end in hard.turns}, [hard.taken(which) for which in turns]
    sites: list[Sites | None] = [None] * len(turns)
    for _ in range(sweeps if len(hard.turns) > 1 else 1):
        for number, which in enumerate(turns):
            mean, variance, _ = cell_levels(here, now, (c[which], b[which], r[which]))
            old = sites[number]
            new = matched(
                parts[number], mean, variance, old,
                scatter=scatter[which], base=beneath[which], points=points,
            )  # fmt: skip
            # No two cells are alike, so that adding by index adds each once.
            here.weight[c[which], b[which], r[which]] += new.weight - (old.weight if old else 0.0)
            here.pull[c[which], b[which], r[which]] += new.pull - (old.pull if old else 0.0)
            sites[number] = new
            # Cells of one recipe speak of each other, so that each is matched in the light of those before it.
            if which.stop in ends:
                now = solve(here, *spread)
    whole = Sites(*(np.concatenate([getattr(one, name) for one in sites], axis=axis) for name, axis in _AXES))
    more = np.zeros(solved.log_integral.shape)
    np.add.at(more, whole_r, whole.log_scale)
    for every, some in ((data.weight, here.weight), (data.pull, here.pull), (solved.cov, now.cov)):
        every[:, :, own] = some
    solved.mean[:, own], solved.taken[:, own], solved.log_integral[own] = now.mean, now.taken, now.log_integral
    return data, solved, whole, more


_AXES = (("weight", 0), ("pull", 0), ("log_scale", 0), ("x", 1), ("share", 1))
