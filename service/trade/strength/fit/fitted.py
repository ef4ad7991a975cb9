"""One job fitted: what its readings and the priors leave of every unknown, to be asked."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from service.trade.strength.censored_readings import Reading
from service.trade.strength.fit.cells import Cells, Key, cells_of
from service.trade.strength.fit.local import Local, Places, Precision, Solved, cell_levels, local
from service.trade.strength.fit.logs import Array, Whole
from service.trade.strength.fit.nodes import Nodes, few_nodes_of, nodes_of
from service.trade.strength.fit.parts import Parts
from service.trade.strength.fit.unknowns import Unknowns

# Nodes times groups that a design may come to; fewer nodes for larger jobs.
_BUDGET, _MOST, _FEWEST = 12_000, 4096, 512
# A recipe with intervals has many parts a node, so that fewer nodes speak for it.
_SPOKEN_FOR = 1600
_LIGHT = 1e-4
# Of the way to the next point.
_STRETCH = 0.4


@dataclass(frozen=True)
class MixMade:
    """A mix given its recipe by node: normal about ``mean`` + ``gain`` (level of the recipe - ``middle``)."""

    middle: Array
    mean: Array
    gain: Array
    own: Array


@dataclass(frozen=True)
class Fit:
    """The shared nodes of one job and every recipe at them; ``node_weight`` sums to 1."""

    cells: Cells
    unknowns: Unknowns
    nodes: Nodes
    local: Local
    _last: dict[tuple[int, tuple[int, ...]], Parts] = field(default_factory=dict, repr=False, compare=False)

    @property
    def node_weight(self) -> Array:
        """Weight of each node."""
        return self.nodes.weight

    @property
    def at(self) -> Array:
        """Shared unknowns by node."""
        return self.nodes.at

    @cached_property
    def _share(self) -> Array:
        """Share of each scatter node within its recipe and node."""
        log_weight = self.local.log_weight
        share = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        found: Array = share / share.sum(axis=1, keepdims=True)
        return found

    @cached_property
    def _carrying(self) -> Whole:
        """Nodes that carry any weight."""
        return np.flatnonzero(self.node_weight > _LIGHT * self.node_weight.max())

    def new_mix_sd(self) -> Array:
        """Return by node how far a new mix may lie from its recipe; 0 where no mix is named."""
        beta = self.unknowns.size(self.at, "beta")
        return np.zeros(self.at.shape[1]) if beta is None else beta

    def kept_parts(self, recipe: int, conditions: Sequence[int]) -> Parts:
        """Return the heavier parts of one recipe by all nodes; kept until another recipe is asked about."""
        key = (recipe, tuple(conditions))
        if key not in self._last:
            if any(one != recipe for one, _ in self._last):
                self._last.clear()
            self._last[key] = self.parts(recipe, conditions).pruned()
        return self._last[key]

    def parts(self, recipe: int, conditions: Sequence[int], *, nodes: Whole | None = None) -> Parts:
        """Return the levels of one recipe in some conditions as normal parts.

        ``nodes`` picks nodes, which then count alike; None: all, by their weights.
        """
        pick = self._carrying if nodes is None else nodes
        node_weight = self.node_weight[pick] if nodes is None else np.full(len(pick), 1 / len(pick))
        keys = [key for key in self.cells.hard if key[2] == recipe]
        if not keys:
            return self._normal(recipe, conditions, pick, node_weight)
        if nodes is None:
            many = max(128, min(len(pick), _SPOKEN_FOR // self.cells.recipes))
            pick = _systematic(self.node_weight, self._told(recipe, conditions[0]), many)
            node_weight = np.full(len(pick), 1 / len(pick))
        focus = next((key for key in keys if key[0] in conditions), keys[0])
        # Where all nodes speak, what is told of a recipe rests on these points.
        return self._in_points(focus, conditions, pick, node_weight, every=2 if nodes is None else 3)

    def _told(self, recipe: int, condition: int) -> tuple[Array, Array]:
        """Return level and log scatter of a recipe by node: what nodes that are near each other must be alike in."""
        share = self._share[recipe]
        level = self.local.base[condition, recipe] + (share * self.local.solved.mean[condition, recipe]).sum(axis=0)
        own = self._log_sigma(recipe, [condition], np.arange(share.shape[1]), len(share))[0]
        return level, (share * own).sum(axis=0)

    def _normal(self, recipe: int, conditions: Sequence[int], pick: Whole, node_weight: Array) -> Parts:
        chosen = list(conditions)
        weight = self._share[recipe][:, pick] * node_weight
        scatters, many = weight.shape
        solved = self.local.solved
        mean = self.local.base[chosen, recipe][:, None, pick] + solved.mean[chosen, recipe][:, :, pick]
        cov = solved.cov[np.ix_(chosen, chosen, [recipe])][:, :, 0][..., pick]
        size = len(chosen)
        log_sigma = self._log_sigma(recipe, chosen, pick, scatters)
        return Parts(
            weight.ravel(),
            mean.reshape(size, -1),
            cov.reshape(size, size, -1),
            log_sigma.reshape(size, -1),
            np.broadcast_to(pick, (scatters, many)).ravel(),
        )

    def _log_sigma(self, recipe: int, chosen: list[int], pick: Whole, scatters: int) -> Array:
        whole = self.local.log_sigma
        own = whole[chosen, min(recipe, whole.shape[1] - 1)][:, :, pick]
        return np.broadcast_to(own, (len(chosen), scatters, len(pick)))

    def _in_points(
        self, focus: Key, conditions: Sequence[int], pick: Whole, node_weight: Array, *, every: int
    ) -> Parts:
        """Return parts for points of a cell of intervals, whose level is not normal: so many neighbours as one."""
        chosen, recipe = list(conditions), focus[2]
        sites, hard = self.local.sites, self.local.hard
        assert sites is not None
        assert hard is not None
        place = hard.keys.index(focus)
        data, solved = self._one_recipe(recipe, pick)
        level, variance, with_levels = (
            one[..., 0, :, :] for one in cell_levels(data, solved, places_of((focus[0], focus[1], 0)))
        )
        x, share, stretch = _together(sites.x[:, place][..., pick], sites.share[:, place][..., pick], every)
        gain = with_levels[chosen] / variance
        middle = self.local.base[chosen, recipe][:, None, pick] + solved.mean[chosen, 0] - gain * level
        mean = middle[:, None] + gain[:, None] * x
        both = gain[:, None] * gain[None]
        cov = (solved.cov[np.ix_(chosen, chosen)][:, :, 0] - both * variance)[:, :, None] + both[:, :, None] * stretch
        points_, scatters, many = x.shape
        size = len(chosen)
        log_sigma = np.broadcast_to(
            self._log_sigma(recipe, chosen, pick, scatters)[:, None], (size, points_, scatters, many)
        )
        return Parts(
            (share * self._share[recipe][:, pick] * node_weight).ravel(),
            mean.reshape(size, -1),
            cov.reshape(size, size, -1),
            log_sigma.reshape(size, -1),
            np.broadcast_to(pick, x.shape).ravel(),
        )

    def _one_recipe(self, recipe: int, pick: Whole) -> tuple[Precision, Solved]:
        """Return what was read and the levels of one recipe at some nodes, as if there were no other."""
        data, solved, one = self.local.data, self.local.solved, [recipe]
        weight, pull, mean, cov, taken = (
            row[..., one, :, :][..., pick] for row in (data.weight, data.pull, solved.mean, solved.cov, solved.taken)
        )
        return Precision(weight, pull), Solved(mean, cov, taken, solved.log_integral[one][..., pick])

    def mix_made(self, recipe: int, condition: int) -> "MixMade":
        """Return the level of the mix that most blocks of a recipe in a condition came from, against the recipe's."""
        own = [(count, b) for b, count in enumerate(self.cells.count[condition, :, recipe])]
        own = [
            (count + float(np.sum(self.cells.hard[condition, b, recipe].count)), b)
            if (condition, b, recipe) in self.cells.hard
            else (count, b)
            for count, b in own
        ]
        solved, share = self.local.solved, self._share[recipe]
        level, variance, together = cell_levels(self.local.data, solved, places_of((condition, max(own)[1], recipe)))
        base = self.local.base[condition, recipe]
        middle_variance = solved.cov[condition, condition, recipe]
        gain = together[condition, 0] / middle_variance
        left = np.maximum(variance[0] - gain**2 * middle_variance, 0.0)
        rows = (solved.mean[condition, recipe], level[0], gain, left)
        middle, mean, gain, left = ((share * one).sum(axis=0) for one in rows)
        return MixMade(base + middle, base + mean, gain, left)

    def chosen_nodes(self, many: int) -> Whole:
        """Return nodes that count alike, each as often as its weight says."""
        return _systematic(self.node_weight, None, many)


def places_of(key: Key) -> Places:
    """Return one cell as a list of one.

    Parameters
    ----------
    key : Key
        Condition, mix and recipe.

    Returns
    -------
    Places
        Three arrays of one number.

    Source
    ------
    strength-model

    Examples
    --------
    >>> [one.tolist() for one in places_of((0, 1, 2))]
    [[0], [1], [2]]
    """
    c, b, r = (np.array([one], dtype=int) for one in key)
    return c, b, r


def _together(x: Array, share: Array, every: int) -> tuple[Array, Array, Array]:
    """Return so many neighbouring points as one: their mean, their share, and the variance about it.

    Between two points lies a stretch, which each stands for; all are drawn together by as much as that adds.
    """
    stretch = np.empty_like(x)
    stretch[1:-1] = (x[2:] - x[:-2]) / 2
    stretch[0], stretch[-1] = x[1] - x[0], x[-1] - x[-2]
    own = (_STRETCH * stretch) ** 2
    middle = (share * x).sum(axis=0)
    x = x - middle
    wide = (share * x**2).sum(axis=0)
    x *= np.sqrt(np.maximum(1 - (share * own).sum(axis=0) / np.maximum(wide, 1e-300), 0.0))
    begin = np.arange(0, len(x), every)
    total = np.maximum(np.add.reduceat(share, begin), 1e-300)
    mean = np.add.reduceat(share * x, begin) / total
    square = np.add.reduceat(share * (x**2 + own), begin) / total
    return middle + mean, total, np.maximum(square - mean**2, 0.0)


def _systematic(weight: Array, told: tuple[Array, Array] | None, many: int) -> Whole:
    """Return nodes, each as often as its weight says; ``told`` puts those that say alike next to each other."""
    order = np.arange(len(weight)) if told is None else _snake(weight, *told, strips=max(1, math.isqrt(many)))
    at = (np.arange(many) + 0.5) / many
    found = np.searchsorted(np.cumsum(weight[order]), at)
    chosen: Whole = order[np.minimum(found, len(weight) - 1)]
    return chosen


def _snake(weight: Array, first: Array, second: Array, *, strips: int) -> Whole:
    """Return an order along ``first`` in strips of equal weight, and to and fro along ``second`` in each."""
    order = np.argsort(first, kind="stable")
    strip = np.empty(len(weight), dtype=int)
    strip[order] = np.minimum((np.cumsum(weight[order]) * strips).astype(int), strips - 1)
    found: Whole = np.lexsort((np.where(strip % 2, -second, second), strip))
    return found


def fitted(
    readings: Mapping[Key, Sequence[Reading]], unknowns: Unknowns, *, shape: tuple[int, int, int], most: int = _MOST
) -> Fit:
    """Return a job fitted.

    Parameters
    ----------
    readings : Mapping[Key, Sequence[Reading]]
        Standing blocks by condition, mix and recipe.
    unknowns : Unknowns
        What the recipes share.
    shape : tuple[int, int, int]
        How many conditions, mixes and recipes.
    most : int
        Most nodes; a power of 2.

    Returns
    -------
    Fit
        Always the same for the same readings.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.fit.unknowns import unknowns_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.prior import Prior
    >>> known = unknowns_of(Prior(), conditions=1, recipes=1, basis=(), mixes_named=False, beta=None)
    >>> fit = fitted({(0, 0, 0): [broke(stress_mpa=3.0)] * 5}, known, shape=(1, 1, 1), most=512)
    >>> round(float(np.exp(fit.parts(0, [0]).weight @ fit.parts(0, [0]).mean[0])), 2)
    3.0
    """
    many = _FEWEST
    while many < most and 2 * many * shape[0] * shape[1] * shape[2] <= _BUDGET:
        many *= 2
    asked, nodes = _asked_and_seen(
        readings,
        unknowns,
        shape,
        lambda it, start, scale: nodes_of(it, rough=it.rough, start=start, scale=scale, many=many),
    )
    assert asked.last is not None
    return Fit(asked.cells, unknowns, nodes, asked.last)


def seen_roughly(
    readings: Mapping[Key, Sequence[Reading]], unknowns: Unknowns, *, shape: tuple[int, int, int]
) -> Nodes:
    """Return the shared unknowns of a job alone, from few nodes and a quick look: one job among many.

    Parameters
    ----------
    readings, unknowns, shape
        As in ``fitted``.

    Returns
    -------
    Nodes
        256, always the same for the same readings.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.fit.unknowns import unknowns_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.prior import Prior
    >>> known = unknowns_of(Prior(), conditions=1, recipes=1, basis=(), mixes_named=False, beta=None)
    >>> seen_roughly({(0, 0, 0): [broke(stress_mpa=3.0)] * 5}, known, shape=(1, 1, 1)).at.shape
    (3, 256)
    """
    return _asked_and_seen(
        readings, unknowns, shape, lambda it, start, scale: few_nodes_of(it.rough, start=start, scale=scale)
    )[1]


def _asked_and_seen(
    readings: Mapping[Key, Sequence[Reading]],
    unknowns: Unknowns,
    shape: tuple[int, int, int],
    look: Callable[["_Asked", Array, Array], Nodes],
) -> tuple["_Asked", Nodes]:
    """Return what was asked and the nodes; asked anew where the scatter that was seen makes other readings coarse."""
    scale = np.array([one.sd for one in unknowns.priors])
    scatter = [float(np.exp(unknowns.priors[unknowns.conditions].middle))] * shape[0]
    asked = _Asked(cells_of(readings, shape=shape, scatter=scatter), unknowns)
    nodes = look(asked, _start(asked.cells, unknowns), scale)
    seen = np.exp(unknowns.log_sigma(nodes.at) @ nodes.weight)
    finer = cells_of(readings, shape=shape, scatter=[float(one) for one in seen])
    if set(finer.hard) != set(asked.cells.hard):
        asked = _Asked(finer, unknowns)
        nodes = look(asked, nodes.at @ nodes.weight, scale)
    return asked, nodes


class _Asked:
    """The log posterior of the shared unknowns, and every recipe at the nodes it was last asked about."""

    def __init__(self, cells: Cells, unknowns: Unknowns) -> None:
        self.cells, self.unknowns = cells, unknowns
        self.last: Local | None = None

    def __call__(self, at: Array) -> Array:
        self.last = local(self.cells, self.unknowns, at)
        return self._log_posterior(at, self.last)

    def rough(self, at: Array) -> Array:
        """Return the same near enough to see where to look closer."""
        return self._log_posterior(at, local(self.cells, self.unknowns, at, rough=True))

    def _log_posterior(self, at: Array, recipes: Local) -> Array:
        log_posterior = self.unknowns.log_prior(at) + recipes.log_likelihood.sum(axis=0)
        return np.where(np.isnan(log_posterior), -np.inf, log_posterior)


def _start(cells: Cells, unknowns: Unknowns) -> Array:
    """Return where to look for the mode: theta and scatters amid the readings, all else amid the priors."""
    start = np.array([one.middle for one in unknowns.priors])
    for c in range(cells.conditions):
        edges = [(np.where(np.isfinite(one.low), one.low, one.high) @ one.count, one.count.sum())
                 for key, one in cells.hard.items() if key[0] == c]  # fmt: skip
        many = float(cells.count[c].sum() + sum(count for _, count in edges))
        total = float((cells.count[c] * cells.mean[c]).sum() + sum(value for value, _ in edges))
        if many:
            start[c] = total / many
        # Each of so many free readings tells as much of a log scatter as a prior of sd 0.7.
        free, place = 2 * float(np.maximum(cells.count[c] - 1, 0).sum()), cells.conditions + c
        seen = float(cells.squares[c].sum())
        if free and seen:
            known = 1 / unknowns.priors[place].sd ** 2
            start[place] = (known * start[place] + free * math.log(2 * seen / free) / 2) / (known + free)
    return start
