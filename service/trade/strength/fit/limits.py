"""The chance that limits hold: one alone, several of a recipe at once, and the cheapest recipe that meets its own."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from service.trade.strength.estimate_result import Limit
from service.trade.strength.fit.fitted import Fit
from service.trade.strength.fit.logs import Array, hermite, legendre
from service.trade.strength.fit.parts import Parts
from service.trade.strength.fit.sobol import normal_points
from service.trade.strength.fit.tables import mass_below, rough_point

CHARACTERISTIC = 1.6449
# A level that no error blurs still gets this little, so that steps stay smooth.
_LEAST_SD = 1e-4
_STRETCHES, _LEVELS, _MIX_NODES, _DRAWS = 5, 5, 3, 4
# Nodes that speak for all: few of each of many recipes.
_FEWEST_CHOSEN, _CHOSEN, _SCALE_NODES = 192, 1600, 3


@dataclass(frozen=True)
class Bar:
    """What one condition asks in logs: of the mean, of the characteristic value, and of so many next blocks each."""

    mean: float = -math.inf
    characteristic: float = -math.inf
    each: tuple[tuple[int, float], ...] = ()

    def joined(self, limit: Limit, height: float) -> "Bar":
        """Return the bar with one limit more, which stands at ``height`` in logs."""
        if limit.statistic == "mean":
            return Bar(max(self.mean, height), self.characteristic, self.each)
        if limit.statistic == "characteristic":
            return Bar(self.mean, max(self.characteristic, height), self.each)
        return Bar(self.mean, self.characteristic, (*self.each, (limit.blocks, height)))

    @property
    def free(self) -> bool:
        """Whether nothing is asked of the level itself."""
        return max(self.mean, self.characteristic) == -math.inf

    def floor(self, sigma: Array) -> Array:
        """Return what the level itself must reach, by part."""
        return np.maximum(self.mean - sigma**2 / 2, self.characteristic + CHARACTERISTIC * sigma)

    def blocks(self, level: Array, sigma: Array) -> Array | float:
        """Return the chance that the next blocks reach what is asked of each: the first ones of several limits."""
        chance: Array | float = 1.0
        before = 0
        for count in sorted({blocks for blocks, _ in self.each}):
            height = max(height for blocks, height in self.each if blocks >= count)
            chance = chance * _power(mass_below((level - height) / sigma), count - before)
            before = count
        return chance


def _power(chance: Array, times: int) -> Array:
    """Return a whole power by squares, which numpy's own takes four times as long for."""
    found, square = np.ones_like(chance), chance
    while times:
        if times & 1:
            found = found * square
        times >>= 1
        if times:
            square = square * square
    return found


@dataclass(frozen=True)
class Errors:
    """What no block of the job speaks of, as variances of ln strength: the press, and the mixes that were made."""

    scale: float
    batches: float

    @property
    def both(self) -> float:
        """The variance of both together."""
        return self.scale + self.batches


def meets(parts: Parts, bars: Sequence[Bar], *, error: float, mix_sd: Array) -> Array:
    """Return by part the chance that everything asked of a recipe holds at once.

    Parameters
    ----------
    parts : Parts
        Levels in the conditions of the bars.
    bars : Sequence[Bar]
        One for each condition of the parts.
    error : float
        Variance of what the conditions share and no block speaks of.
    mix_sd : Array
        How far the mix of the next blocks may lie off, by part; one mix for all next blocks.

    Returns
    -------
    Array
        From 0 to 1.

    Source
    ------
    strength-model : the last level by its distribution function, those before drawn above what they must reach.

    Examples
    --------
    A level N(0, 1) reaches 0 in half of all cases:

    >>> one = Parts(np.ones(1), np.zeros((1, 1)), np.ones((1, 1, 1)), np.full((1, 1), -9.0), np.zeros(1, dtype=int))
    >>> meets(one, [Bar(characteristic=0.0)], error=0.0, mix_sd=np.zeros(1)).round(2).tolist()
    [0.5]
    """
    cov = parts.cov + error
    if len(bars) == 1 and not bars[0].each:
        sd = np.sqrt(np.maximum(cov[0, 0], _LEAST_SD**2))
        return mass_below((parts.mean[0] - bars[0].floor(np.exp(parts.log_sigma[0]))) / sd)
    if len(bars) == 1:
        return _one_condition(parts, bars[0], np.sqrt(np.maximum(cov[0, 0], _LEAST_SD**2)), mix_sd)
    return _several(parts, bars, cov, mix_sd)


def _one_condition(parts: Parts, bar: Bar, sd: Array, mix_sd: Array) -> Array:
    """Return the chance for one condition: equal stretches of the level above what it must reach, and a few mixes."""
    sigma = np.exp(parts.log_sigma[0])
    if bar.free:
        # Nothing is asked of the level itself, so that level and mix may be taken as one.
        sd = np.sqrt(sd**2 + mix_sd**2)
        levels = [(parts.mean[0] + node * sd, weight) for node, weight in zip(*hermite(_LEVELS), strict=True)]
        return sum((weight * bar.blocks(level, sigma) for level, weight in levels), np.zeros_like(sd))
    above = mass_below((parts.mean[0] - bar.floor(sigma)) / sd)
    mixes = list(zip(*hermite(_MIX_NODES if np.any(mix_sd > 0) else 1), strict=True))
    total = np.zeros_like(sd)
    for at, weight in zip(*legendre(_STRETCHES), strict=True):
        level = parts.mean[0] - sd * rough_point(at * above)
        for node, share_of in mixes:
            total += weight * share_of * bar.blocks(level + node * mix_sd, sigma)
    found: Array = above * total
    return found


def _several(parts: Parts, bars: Sequence[Bar], cov: Array, mix_sd: Array) -> Array:
    """Return the chance for several conditions, level after level, each drawn above what it must reach."""
    many, size = parts.mean.shape[1], len(bars)
    draws = normal_points(size + 1, 1 << (many * _DRAWS - 1).bit_length(), 7)[:, : many * _DRAWS]
    draws = draws.reshape(size + 1, _DRAWS, many)
    root = _roots(cov)
    mix = draws[size] * mix_sd
    chance = np.ones((_DRAWS, many))
    drawn: list[Array] = []
    for c, bar in enumerate(bars):
        sigma = np.exp(parts.log_sigma[c])
        mean = parts.mean[c] + sum(root[c][d] * drawn[d] for d in range(c))
        floor = bar.floor(sigma)
        above = mass_below((mean - floor) / root[c][c])
        drawn.append(-rough_point(mass_below(draws[c]) * above))
        chance = chance * above * bar.blocks(mean + root[c][c] * drawn[c] + mix, sigma)
    found: Array = chance.mean(axis=0)
    return found


def _roots(cov: Array) -> list[list[Array]]:
    """Return the lower triangular roots of covariances, by row, column and part."""
    size = len(cov)
    root: list[list[Array]] = []
    for i in range(size):
        row: list[Array] = []
        for j in range(i + 1):
            rest = cov[i, j] - sum(row[k] * (row if i == j else root[j])[k] for k in range(j))
            row.append(np.sqrt(np.maximum(rest, _LEAST_SD**2)) if i == j else rest / root[j][j])
        root.append(row)
    return root


def chance_of(fit: Fit, recipe: int, bars: Mapping[int, Bar], errors: Errors) -> float:
    """Return the chance that everything asked of one recipe holds at once.

    Parameters
    ----------
    fit : Fit
        The job.
    recipe : int
        Which, by number.
    bars : Mapping[int, Bar]
        By condition; one at least.
    errors : Errors
        Of press and mixes.

    Returns
    -------
    float
        From 0 to 1.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.fit.fitted import fitted
    >>> from service.trade.strength.fit.unknowns import unknowns_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.prior import Prior
    >>> known = unknowns_of(Prior(), conditions=1, recipes=1, basis=(), mixes_named=False, beta=None)
    >>> fit = fitted({(0, 0, 0): [broke(stress_mpa=3.0)] * 5}, known, shape=(1, 1, 1), most=512)
    >>> chance_of(fit, 0, {0: Bar(mean=0.0)}, Errors(0.0, 0.0)) > 0.999
    True
    """
    conditions = sorted(bars)
    parts = fit.kept_parts(recipe, conditions)
    mix_sd = fit.new_mix_sd()[parts.node]
    return float(parts.weight @ meets(parts, [bars[c] for c in conditions], error=errors.both, mix_sd=mix_sd))


def cheapest(
    fit: Fit, bars: Sequence[Mapping[int, Bar] | None], errors: Sequence[Errors], costs: Sequence[Decimal]
) -> list[float]:
    """Return, for every recipe, the chance that it meets its limits and no strictly cheaper one does.

    Parameters
    ----------
    fit : Fit
        The job.
    bars : Sequence[Mapping[int, Bar] or None]
        What is asked, by recipe; None: it cannot pass.
    errors : Sequence[Errors]
        By recipe; the press is the same for all.
    costs : Sequence[Decimal]
        By recipe; recipes of equal cost do not stand in each other's way.

    Returns
    -------
    list[float]
        By recipe.

    Source
    ------
    strength-model : given the shared unknowns and the press recipes are independent.

    Examples
    --------
    A recipe that cannot pass is never it:

    >>> from service.trade.strength.fit.fitted import fitted
    >>> from service.trade.strength.fit.unknowns import unknowns_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.prior import Prior
    >>> known = unknowns_of(Prior(), conditions=1, recipes=1, basis=(), mixes_named=False, beta=None)
    >>> fit = fitted({(0, 0, 0): [broke(stress_mpa=3.0)] * 5}, known, shape=(1, 1, 1), most=512)
    >>> cheapest(fit, [None], [Errors(0.0, 0.0)], [Decimal(1)])
    [0.0]
    """
    nodes = fit.chosen_nodes(max(_FEWEST_CHOSEN, _CHOSEN // len(costs)))
    scale = math.sqrt(errors[0].scale)
    z, share = hermite(_SCALE_NODES if scale else 1)
    passing = [_by_node(fit, r, one, nodes, scale * z, errors[r].batches) for r, one in enumerate(bars)]
    weight = share[:, None] / len(nodes)
    found = [0.0] * len(costs)
    none_cheaper = np.ones((len(z), len(nodes)))
    for cost in sorted(set(costs)):
        after = none_cheaper
        for recipe in (recipe for recipe, own in enumerate(costs) if own == cost):
            found[recipe] = float((weight * none_cheaper * passing[recipe]).sum())
            after = after * (1 - passing[recipe])
        none_cheaper = after
    return found


def _by_node(
    fit: Fit, recipe: int, bars: Mapping[int, Bar] | None, nodes: np.ndarray, scale: Array, batches: float
) -> Array:
    """Return the chance to pass by error of the press and chosen node."""
    if bars is None:
        return np.zeros((len(scale), len(nodes)))
    conditions = sorted(bars)
    parts = fit.parts(recipe, conditions, nodes=np.unique(nodes))
    mix_sd = fit.new_mix_sd()[parts.node]
    rows = []
    for off in scale:
        moved = Parts(parts.weight, parts.mean - off, parts.cov, parts.log_sigma, parts.node)
        chance = meets(moved, [bars[c] for c in conditions], error=batches, mix_sd=mix_sd)
        rows.append(_averaged(parts.weight, chance, parts.node, len(fit.node_weight))[nodes])
    return np.array(rows)


def _averaged(weight: Array, chance: Array, node: np.ndarray, many: int) -> Array:
    found: Array = np.bincount(node, weights=weight * chance, minlength=many) / np.maximum(
        np.bincount(node, weights=weight, minlength=many), 1e-300
    )
    return found
