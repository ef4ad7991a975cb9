"""Ratios of recipes in one condition: the errors of the press cancel, all else that they share is kept."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.trade.strength.fit.fitted import Fit
from service.trade.strength.fit.logs import Array, Whole
from service.trade.strength.fit.parts import Parts, condensed, rows_of_points
from service.trade.strength.fit.tables import mass_below

# Nodes that speak for all others where there are so many pairs that time counts.
_FEW, _FEWER, _MANY_PAIRS, _STRATA = 768, 192, 60, 3
# So many stretches of such a pair are taken as one each.
_STRETCHES = 40
_LEAST_VARIANCE = 1e-10


@dataclass(frozen=True)
class Ratio:
    """The ratio a/b with its 90 % interval, and the chances that it lies above and below the margin."""

    ratio: float
    low: float
    high: float
    more: float
    less: float


@dataclass(frozen=True)
class _Side:
    """One recipe: mean and variance of its level by node, and its parts where blocks of it were held."""

    mean: Array
    variance: Array
    parts: Parts | None


def ratios(
    fit: Fit, condition: int, recipes: Sequence[int], *, batches: Sequence[float], margin: float
) -> dict[tuple[int, int], Ratio]:
    """Return the ratio of every two recipes of a condition.

    Parameters
    ----------
    fit : Fit
        The job.
    condition : int
        Which, by number.
    recipes : Sequence[int]
        Which, by number, rising.
    batches : Sequence[float]
        Variance of the mixes that were made, by recipe of the job.
    margin : float
        By how much one must be stronger to count as stronger.

    Returns
    -------
    dict[tuple[int, int], Ratio]
        By the two numbers, the smaller first.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.fit.fitted import fitted
    >>> from service.trade.strength.fit.unknowns import unknowns_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.prior import Prior
    >>> known = unknowns_of(Prior(), conditions=1, recipes=2, basis=(), mixes_named=False, beta=None)
    >>> blocks = {(0, 0, 0): [broke(stress_mpa=3.0)] * 9, (0, 0, 1): [broke(stress_mpa=3.0)] * 9}
    >>> fit = fitted(blocks, known, shape=(1, 1, 2), most=512)
    >>> round(ratios(fit, 0, [0, 1], batches=[0.0, 0.0], margin=0.1)[0, 1].ratio, 2)
    1.0
    """
    many = len(recipes) * (len(recipes) - 1) // 2 > _MANY_PAIRS
    nodes = fit.chosen_nodes(_FEWER if many else _FEW) if many or fit.cells.hard else None
    sides = {recipe: _side(fit, condition, recipe, nodes) for recipe in recipes}
    bar = math.log1p(margin)
    found: dict[tuple[int, int], Ratio] = {}
    if many and nodes is not None:
        few = {recipe: _few_of(side, nodes) for recipe, side in sides.items()}
        for i, a in enumerate(recipes[:-1]):
            found |= _against(few, a, recipes[i + 1 :], batches, bar)
        return found
    for i, a in enumerate(recipes):
        for b in recipes[i + 1 :]:
            weight, gap, variance = condensed(*_gap(fit, sides[a], sides[b], nodes))
            variance = variance + max(batches[a] + batches[b], _LEAST_VARIANCE)
            found |= _ratios([(a, b)], weight[None], gap[None], variance[None], bar)
    return found


def _ratios(
    names: Sequence[tuple[int, int]], weight: Array, gap: Array, variance: Array, bar: float
) -> dict[tuple[int, int], Ratio]:
    low, middle, high = np.exp(rows_of_points(weight, gap, variance, (0.05, 0.5, 0.95))).T
    sd = np.sqrt(variance)
    more, less = ((weight * mass_below((side * gap - bar) / sd)).sum(axis=1) for side in (1, -1))
    rows = zip(*(one.tolist() for one in (middle, low, high, more, less)), strict=True)
    return {name: Ratio(*row) for name, row in zip(names, rows, strict=True)}


@dataclass(frozen=True)
class _Few:
    """One recipe for many pairs: mean and variance by chosen node, and the same in strata of what each node says."""

    mean: Array
    variance: Array
    share: Array
    level: Array
    within: Array
    normal: bool


def _few_of(side: _Side, nodes: Whole) -> _Few:
    mean, variance = side.mean[nodes], side.variance[nodes]
    if side.parts is None:
        return _Few(mean, variance, np.full((1, len(nodes)), 1 / len(nodes)), mean[None], variance[None], normal=True)
    parts = side.parts
    order = np.lexsort((parts.mean[0], parts.node))
    node, weight, level = parts.node[order], parts.weight[order], parts.mean[0][order]
    own = np.bincount(node, weights=weight, minlength=len(side.mean))
    # How much of its node lies below the middle of a part says in which stratum it is.
    before = np.cumsum(own) - own
    under = (np.cumsum(weight) - weight / 2 - before[node]) / np.maximum(own[node], 1e-300)
    place = node * _STRATA + np.clip((under * _STRATA).astype(int), 0, _STRATA - 1)
    size = len(side.mean) * _STRATA
    total = np.bincount(place, weights=weight, minlength=size)
    safe = np.maximum(total, 1e-300)
    centre = np.bincount(place, weights=weight * level, minlength=size) / safe
    spread = parts.cov[0, 0][order] + (level - centre[place]) ** 2
    within = np.bincount(place, weights=weight * spread, minlength=size) / safe
    share: Array = total.reshape(-1, _STRATA)[nodes].T.astype(float)
    centre, within = (one.reshape(-1, _STRATA)[nodes].T for one in (centre, within))
    filled = share > 0
    centre, within = np.where(filled, centre, mean), np.where(filled, within, variance)
    share = share / np.bincount(nodes, minlength=len(side.mean))[nodes]
    return _Few(mean, variance, share / share.sum(), centre, within, normal=False)


def _against(
    few: dict[int, _Few], a: int, others: Sequence[int], batches: Sequence[float], bar: float
) -> dict[tuple[int, int], Ratio]:
    """Return the ratios of one recipe to many: the strata of one side, the other normal at each node."""
    found: dict[tuple[int, int], Ratio] = {}
    own = few[a]
    for normal in (True, False):
        names = [b for b in others if (few[b].normal or not own.normal) == normal]
        if not names:
            continue
        error = np.array([max(batches[a] + batches[b], _LEAST_VARIANCE) for b in names])[:, None, None]
        if normal:
            mean, variance = (np.stack([getattr(few[b], one) for b in names])[:, None] for one in ("mean", "variance"))
            gap, share = own.level - mean, own.share
            variance = own.within + variance + error
        else:
            level, within, share = (
                np.stack([getattr(few[b], one) for b in names]) for one in ("level", "within", "share")
            )
            gap, variance = own.mean - level, within + own.variance + error
        rows = (np.broadcast_to(one, gap.shape).reshape(len(names), -1) for one in (share, gap, variance))
        weight, gap, variance = _drawn(*rows)
        found |= _ratios([(a, b) for b in names], weight, gap, variance, bar)
    return found


def _drawn(weight: Array, gap: Array, variance: Array) -> tuple[Array, Array, Array]:
    """Return every sum in fewer parts: those in a stretch as one, with their weight, mean and variance."""
    low = gap.min(axis=1, keepdims=True)
    wide = np.maximum(gap.max(axis=1, keepdims=True) - low, 1e-12)
    off = gap - low
    place = (off * (_STRETCHES * (1 - 1e-9) / wide)).astype(np.intp)
    place += np.arange(0, len(gap) * _STRETCHES, _STRETCHES)[:, None]
    at, size = place.ravel(), len(gap) * _STRETCHES
    pull = weight * off
    sums = (weight, pull, pull * off + weight * variance)
    total, first, second = (np.bincount(at, one.ravel(), size).reshape(-1, _STRETCHES).astype(float) for one in sums)
    safe = np.maximum(total, 1e-300)
    mean = first / safe
    return total, low + mean, np.where(total > 0, second / safe - mean**2, 1.0)


def _gap(fit: Fit, a: _Side, b: _Side, nodes: Whole | None) -> tuple[Array, Array, Array]:
    """Return the difference of two levels as normal parts: of nodes, or of the parts of one that was held."""
    for own, other, side in ((a, b, 1.0), (b, a, -1.0)):
        if own.parts is not None:
            parts = own.parts
            gap = side * (parts.mean[0] - other.mean[parts.node])
            return parts.weight, gap, parts.cov[0, 0] + other.variance[parts.node]
    pick = np.arange(len(fit.node_weight)) if nodes is None else nodes
    weight = fit.node_weight if nodes is None else np.full(len(nodes), 1 / len(nodes))
    return weight, a.mean[pick] - b.mean[pick], a.variance[pick] + b.variance[pick]


def _side(fit: Fit, condition: int, recipe: int, nodes: Whole | None) -> _Side:
    total = len(fit.node_weight)
    pick = np.arange(total) if nodes is None else np.unique(nodes)
    parts = fit.parts(recipe, [condition], nodes=pick)
    weight = np.maximum(np.bincount(parts.node, weights=parts.weight, minlength=total), 1e-300)
    mean = np.bincount(parts.node, weights=parts.weight * parts.mean[0], minlength=total) / weight
    square = parts.cov[0, 0] + (parts.mean[0] - mean[parts.node]) ** 2
    variance = np.bincount(parts.node, weights=parts.weight * square, minlength=total) / weight
    if nodes is None or not any(key[2] == recipe for key in fit.cells.hard):
        return _Side(mean, variance, None)
    times = np.bincount(nodes, minlength=total) / len(nodes)
    share = parts.weight / weight[parts.node] * times[parts.node]
    return _Side(mean, variance, Parts(share, parts.mean, parts.cov, parts.log_sigma, parts.node).pruned())
