"""Which two or three shares of a stabiliser, and how many blocks of each, settle a question soonest.

Before a block is pressed, readings are drawn from what is believed (docs/work/shares.md has the model), and each plan
is judged by what the readings would then say. Given the scatter between blocks the belief is normal, so that what
readings say is a matter of matrices: nothing is fitted. The draws are the same each time.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from service.trade.strength.content_curve.cells import OFFSET
from service.trade.strength.content_curve.curve_prior import CurvePrior
from service.trade.strength.estimate_result import Limit
from service.trade.strength.fit.logs import Array, below, hermite, point
from service.trade.validation import refuse

Aim = Literal["least", "passes"]
Yes = NDArray[np.bool_]
MOST_SHARES, MOST_BLOCKS, MOST_CONDITIONS = 8, 20, 4
# Own rules: probably is four in five, as for more blocks; a leaner share that fails is near within three points.
PROBABLY, WITHIN, _ALIKE, _LITTLE = 0.80, 0.03, 0.02, 0.05
_TAKEN = (2, 3)
# Futures of one scatter, and the scatters: the middles of five equal shares of what is believed.
_FUTURES, _SCATTERS, _SEED = 80, 5, 20_271_130
_CHARACTERISTIC = 1.6449


@dataclass(frozen=True)
class Believed(CurvePrior):
    """What is believed beforehand; ``conditions_sd``: how far one condition's level lies off that of the soil."""

    conditions_sd: float = 0.30


@dataclass(frozen=True)
class Plan:
    """Shares to press with ``blocks`` of each in every condition, and the chances of what would come of it.

    ``settled``: the question is answered; ``passes``: a share is shown to pass; ``fails``: every one is shown to fail.
    """

    shares: tuple[float, ...]
    blocks: int
    mixes: int
    blocks_in_all: int
    settled: float
    passes: float
    fails: float


@dataclass(frozen=True)
class Plans:
    """The plan that settles it soonest, and for each number of blocks in all the likeliest to settle it."""

    best: Plan
    plans: tuple[Plan, ...]


def shares_to_press(
    shares: Sequence[float],
    limits: Sequence[Limit],
    *,
    blocks: Sequence[int] = (3, 5, 10),
    mixes: int = 2,
    aim: Aim = "least",
    wanted: float = 0.95,
    believed: Believed | None = None,
    scale_sd: float = 0.0,
) -> Plans:
    """Return which two or three of some shares, and how many blocks of each, settle the question soonest.

    Parameters
    ----------
    shares : Sequence[float]
        Shares that could be pressed, of the dry soil; 2 to 8, different, above 0.
    limits : Sequence[Limit]
        What a share must reach; at least one, at most 4 conditions.
    blocks : Sequence[int]
        Numbers of blocks of one share in one condition to choose from; 1 to 20.
    mixes : int
        Mixes of each share; at most the blocks.
    aim : Aim
        ``passes``: one share is shown to pass, or all to fail, the richest of ``shares`` among them. ``least``: also
        the next leaner share, at most three points below, is shown to fail, or none is leaner.
    wanted : float
        Assurance asked for; above 0.5, below 1.
    believed : Believed or None
        What is believed of the soil; None: as published.
    scale_sd : float
        Error of the press on the log; 0 or more.

    Returns
    -------
    Plans
        Best: the fewest blocks that probably settle it; where none does, the fewest within five points of the most.

    Raises
    ------
    Invalid
        With every field at fault.

    Source
    ------
    own-rule : 400 futures with a fixed seed, five scatters; the model is that of docs/model.md.

    Examples
    --------
    >>> limit = Limit("code", "soaked", "mean", 2.0, 3)
    >>> found = shares_to_press([0.04, 0.08], [limit], blocks=[3], aim="passes")
    >>> found.best.shares, found.best.blocks_in_all, found.best.settled > 0.4
    ((0.04, 0.08), 6, True)
    """
    _check(shares, limits, blocks, mixes, wanted)
    field = _Field(tuple(sorted(shares)), tuple(limits), believed or Believed(), mixes, scale_sd, max(blocks))
    every = [field.plan(taken, count, aim, wanted) for taken, count in _designs(field.shares, blocks, mixes)]
    likeliest = max(one.settled for one in every)
    enough = [one for one in every if one.settled >= min(PROBABLY, likeliest - _LITTLE)]
    best = min(enough, key=lambda one: (one.blocks_in_all, *_preferred(one)))
    totals = sorted({one.blocks_in_all for one in every})
    rows = [[one for one in every if one.blocks_in_all == total] for total in totals]
    shown = [min(row, key=_preferred) for row in rows]
    return Plans(best, tuple(shown))


def _preferred(plan: Plan) -> tuple[float, float, float]:
    """Return by what plans of as many blocks are put in order: chance, then shares close together, then lean ones."""
    widest = max(richer - leaner for leaner, richer in pairwise(plan.shares))
    return -round(plan.settled / _ALIKE), round(widest, 9), math.fsum(plan.shares)


def _designs(shares: Sequence[float], blocks: Sequence[int], mixes: int) -> Iterator[tuple[tuple[int, ...], int]]:
    for many in _TAKEN:
        for taken in combinations(range(len(shares)), many):
            for count in sorted(set(blocks)):
                if count >= mixes:
                    yield taken, count


class _Field:
    """All shares in all conditions: what is believed of them, and futures drawn once for every plan."""

    def __init__(
        self,
        shares: tuple[float, ...],
        limits: tuple[Limit, ...],
        believed: Believed,
        mixes: int,
        scale_sd: float,
        most: int,
    ) -> None:
        self.shares, self.limits, self.believed, self.mixes, self.scale_sd = shares, limits, believed, mixes, scale_sd
        self.conditions = tuple(dict.fromkeys(one.condition for one in limits))
        many, states = len(shares), len(self.conditions)
        z = point((np.arange(_SCATTERS) + 0.5) / _SCATTERS)
        self.sigmas = believed.scatter * np.exp(believed.scatter_log_sd * z)
        logs = np.log(np.array(shares) + OFFSET)
        x = np.repeat(logs - (logs[0] + logs[-1]) / 2, states)
        self.mean = math.log(believed.median_mpa) + believed.slope * x + believed.bend * x**2
        share, state = np.repeat(np.arange(many), states), np.tile(np.arange(states), many)
        same_share, same_state = share[:, None] == share, state[:, None] == state
        own_way = believed.own_way if states > 1 else 0.0
        own_level = believed.conditions_sd if states > 1 else 0.0
        self.covariance = (
            believed.log_sd**2
            + own_level**2 * same_state
            + believed.slope_sd**2 * np.outer(x, x)
            + believed.bend_sd**2 * np.outer(x**2, x**2)
            + believed.off_curve**2 * same_share
            + own_way**2 * (same_share & same_state)
        )
        self.same_share = same_share
        chance = np.random.default_rng(_SEED)
        root = np.linalg.cholesky(self.covariance + 1e-12 * np.eye(len(x)))
        self.level = self.mean + chance.standard_normal((_SCATTERS, _FUTURES, len(x))) @ root.T
        mix = believed.mixes * chance.standard_normal((_SCATTERS, _FUTURES, many, mixes))
        noise = self.sigmas[:, None, None, None] * chance.standard_normal((_SCATTERS, _FUTURES, len(x), most))
        # Block by block from one mix after the other.
        turn = np.arange(most) % mixes
        self.block = self.level[..., None] + mix[:, :, share][..., turn] + noise

    def plan(self, taken: tuple[int, ...], blocks: int, aim: Aim, wanted: float) -> Plan:
        """Return what would come of pressing some shares with so many blocks in every condition."""
        states = len(self.conditions)
        cells = np.concatenate([np.arange(states) + states * one for one in taken])
        read = self.block[:, :, cells, :blocks].reshape(_SCATTERS * _FUTURES, len(cells), blocks)
        # Nobody is told the scatter: it is judged by how the blocks of a mix differ.
        sure = np.zeros((len(read), len(taken)))
        for sigma, weight in zip(self.sigmas, self._scatters_told(read), strict=True):
            mean, variance = self._told(cells, read.mean(axis=2), sigma, blocks)
            sure += weight[:, None] * self._judged(len(taken), mean, variance, sigma)
        broken = self._broken(len(taken), read)
        passed: Yes = (sure >= wanted) & ~broken
        failed: Yes = (sure <= 1 - wanted) | broken
        some, none = passed.any(axis=1), failed.all(axis=1)
        # That all fail answers the question only where the richest share that could be pressed is one of them.
        hopeless = none & (taken[-1] == len(self.shares) - 1)
        settled = (some if aim == "passes" else some & self._bracketed(taken, passed, failed)) | hopeless
        in_all = len(taken) * states * blocks
        shares = tuple(self.shares[one] for one in taken)
        return Plan(shares, blocks, self.mixes, in_all, *(float(np.mean(one)) for one in (settled, some, none)))

    def _scatters_told(self, read: Array) -> Array:
        """Return, by scatter and future, how likely each scatter is from how the blocks of one mix differ."""
        free, squares = 0, np.zeros(len(read))
        for mix in range(self.mixes):
            own = read[:, :, mix :: self.mixes]
            free += own.shape[1] * (own.shape[2] - 1)
            squares += ((own - own.mean(axis=2, keepdims=True)) ** 2).sum(axis=(1, 2))
        log_weight = -free * np.log(self.sigmas)[:, None] - squares / (2 * self.sigmas[:, None] ** 2)
        weight = np.exp(log_weight - log_weight.max(axis=0))
        found: Array = weight / weight.sum(axis=0)
        return found

    def _told(self, cells: Array, read: Array, sigma: float, blocks: int) -> tuple[Array, Array]:
        """Return what the means of the blocks leave: the levels by future, and how open each still is."""
        before = self.covariance[np.ix_(cells, cells)]
        # Blocks are spread over the mixes as evenly as they go.
        counts = np.bincount(np.arange(blocks) % self.mixes, minlength=self.mixes) / blocks
        mixed = self.believed.mixes**2 * float(counts @ counts)
        noise = mixed * self.same_share[np.ix_(cells, cells)] + sigma**2 / blocks * np.eye(len(cells))
        gain = before @ np.linalg.inv(before + noise)
        told: Array = self.mean[cells] + (read - self.mean[cells]) @ gain.T
        left: Array = np.maximum(np.diagonal(before - gain @ before), 1e-12)
        return told, left + self.scale_sd**2

    def _judged(self, shares: int, mean: Array, variance: Array, sigma: float) -> Array:
        """Return, by future and share, the chance that all limits hold."""
        states = len(self.conditions)
        sure = np.ones((len(mean), shares))
        nodes, weights = hermite(9)
        for limit in self.limits:
            place = np.arange(shares) * states + self.conditions.index(limit.condition)
            room, open_sd = mean[:, place] - math.log(limit.limit_mpa), np.sqrt(variance[place])
            if limit.statistic == "mean":
                sure *= below((room + sigma**2 / 2) / open_sd)
            elif limit.statistic == "characteristic":
                sure *= below((room - _CHARACTERISTIC * sigma) / open_sd)
            else:
                off = np.sqrt(open_sd**2 + self.believed.mixes**2)
                each = below((room[..., None] + off[:, None] * nodes) / sigma) ** limit.blocks
                sure *= each @ weights
        return sure

    def _broken(self, shares: int, read: Array) -> Yes:
        """Return, by future and share, whether a rule is not met."""
        states = len(self.conditions)
        broken = np.zeros((len(read), shares), dtype=bool)
        for limit in self.limits:
            first = read[:, np.arange(shares) * states + self.conditions.index(limit.condition), : limit.blocks]
            if limit.statistic == "mean" and first.shape[2] >= limit.blocks:
                broken |= np.exp(first).mean(axis=2) < limit.limit_mpa
            elif limit.statistic == "each":
                broken |= first.min(axis=2) < math.log(limit.limit_mpa)
        return broken

    def _bracketed(self, taken: tuple[int, ...], passed: Yes, failed: Yes) -> Yes:
        """Return whether below the leanest share that passes the next one fails, or none is left to try."""
        found = np.zeros(len(passed), dtype=bool)
        leanest = np.argmax(passed, axis=1)
        for place, one in enumerate(taken):
            here = leanest == place
            if place == 0:
                found[here] = one == 0
            elif self.shares[one] - self.shares[taken[place - 1]] <= WITHIN + 1e-9:
                found[here] = failed[here, place - 1]
        return found


def _check(shares: Sequence[float], limits: Sequence[Limit], blocks: Sequence[int], mixes: int, wanted: float) -> None:
    faults: dict[str, str] = {}
    if not 2 <= len(shares) <= MOST_SHARES or len(set(shares)) < len(shares):
        faults["shares"] = f"From 2 to {MOST_SHARES} different shares."
    faults |= {f"shares.{n}": "Above 0 and below 1." for n, one in enumerate(shares) if not 0 < one < 1}
    if not limits or len({one.condition for one in limits}) > MOST_CONDITIONS:
        faults["limits"] = f"At least one limit, in {MOST_CONDITIONS} conditions at most."
    if not blocks or not all(1 <= one <= MOST_BLOCKS for one in blocks):
        faults["blocks"] = f"From 1 to {MOST_BLOCKS} blocks."
    elif not 1 <= mixes <= max(blocks):
        faults["mixes"] = "At least one mix, and no more mixes than blocks."
    if not 0.5 < wanted < 1:
        faults["assurance"] = "This must be above 0.5 and below 1."
    if faults:
        refuse(faults)
