"""What acts would leave of a belief about one recipe: blocks of the same mix, of a new one, or a calibration."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from service.trade.strength.estimate_result import Limit
from service.trade.strength.fit.logs import Array, below, log_below

_FUTURES, _SEED = 400, 20_270_301
_CHARACTERISTIC = 1.6449
# Levels of a mix are tried at nine places over 2.5 standard deviations either way.
_REACH, _MIX_NODES, _LEAST_SD = 2.5, 9, 1e-4
# Own rule: a calibration leaves 1 % open, and is worth a word where the press is twice as open as that.
CALIBRATED_SD, _WORTH, _SCALES = 0.01, 2.0, 41


@dataclass(frozen=True)
class Option:
    """What an act would do: the chances that a limit is then settled as reached or as not, and the mean assurance.

    The mean is the assurance of today, but for the chance in the futures: nothing is gained by expecting to gain.
    """

    blocks: int
    reached: float
    not_reached: float
    assurance: float

    @property
    def settled(self) -> float:
        """The chance that the limit is settled either way."""
        return self.reached + self.not_reached


@dataclass(frozen=True)
class Beliefs:
    """What is believed of one recipe in one condition and of the mix that further blocks come from, in cells.

    ``level`` is the log strength of that mix, ``sigma`` the scatter of its blocks, ``middle`` that of all mixes of the
    recipe once the level is known, ``left`` what is then still open of it, ``mix_sd`` how far another mix lies off.
    """

    weight: Array
    level: Array
    sigma: Array
    middle: Array
    left: Array
    mix_sd: Array


@dataclass(frozen=True)
class Recipe:
    """What is believed of one recipe in one condition as normal parts, and of one mix of it.

    ``mean`` and ``variance`` of the middle of all its mixes; ``mix_mean``, ``mix_variance`` and ``together`` (the
    covariance with the middle) of the mix; ``mix_sd`` how far mixes lie off. The error of the press is left out.
    """

    weight: Array
    sigma: Array
    mean: Array
    variance: Array
    mix_mean: Array
    mix_variance: Array
    together: Array
    mix_sd: Array

    def of_a_new_mix(self) -> "Recipe":
        """Return the same with a mix that was not made yet."""
        return Recipe(
            self.weight, self.sigma, self.mean, self.variance,
            self.mean, self.variance + self.mix_sd**2, self.variance, self.mix_sd,
        )  # fmt: skip


def beliefs_of(recipe: Recipe) -> Beliefs:
    """Return what is believed in cells: each part's mix at a few levels.

    Parameters
    ----------
    recipe : Recipe
        Normal parts.

    Returns
    -------
    Beliefs
        Weights sum to 1.

    Source
    ------
    strength-model : the middle given the level of a mix is normal.

    Examples
    --------
    A new mix that comes out 0.14 higher moves the recipe by half of that, where the recipe is known as well as a mix:

    >>> one = np.ones(1)
    >>> known = Recipe(one, 0.1 * one, 0 * one, 0.0025 * one, one, one, one, 0.05 * one).of_a_new_mix()
    >>> cells = beliefs_of(known)
    >>> [round(float(cells.middle[-1] / cells.level[-1]), 3), round(float(cells.left[0]), 4)]
    [0.5, 0.0354]
    """
    z = np.linspace(-_REACH, _REACH, _MIX_NODES)
    share = np.exp(-(z**2) / 2)
    spread = np.sqrt(np.maximum(recipe.mix_variance, _LEAST_SD**2))
    gain = recipe.together / spread**2
    left = np.sqrt(np.maximum(recipe.variance - gain * recipe.together, _LEAST_SD**2))
    level = recipe.mix_mean + np.outer(z, spread)
    middle = recipe.mean + gain * (level - recipe.mix_mean)
    weight = np.outer(share / share.sum(), recipe.weight)
    sigma, left, mix_sd = (np.broadcast_to(one, level.shape).ravel() for one in (recipe.sigma, left, recipe.mix_sd))
    return Beliefs(weight.ravel(), level.ravel(), sigma, middle.ravel(), left, mix_sd)


def look_ahead(
    beliefs: Beliefs, limit: Limit, *, error_sd: float, wanted: float, press_mpa: float, tried: Sequence[int]
) -> tuple[Option, ...]:
    """Return what each number of further blocks would do for one limit.

    Parameters
    ----------
    beliefs : Beliefs
        What is believed of the recipe and of the mix that the blocks come from.
    limit : Limit
        The limit.
    error_sd : float
        Error of the press on the log, which no block takes away.
    wanted : float
        The assurance asked for; above 0.5, below 1.
    press_mpa : float
        Stress at which a block is held and not broken; may be infinite.
    tried : Sequence[int]
        Numbers of blocks, rising.

    Returns
    -------
    tuple[Option, ...]
        One for each number.

    Source
    ------
    own-rule : 400 futures with a fixed seed.

    Examples
    --------
    Nobody needs another block of what is far above the limit:

    >>> two = np.full(2, 1.0)
    >>> sure = Beliefs(two / 2, 2 * two, 0.1 * two, 2 * two, 0.01 * two, 0 * two)
    >>> limit = Limit("mean", "dry", "mean", 2.0, 5)
    >>> look_ahead(sure, limit, error_sd=0.05, wanted=0.95, press_mpa=math.inf, tried=[3])[0].reached
    1.0
    """
    met = passing(beliefs, limit, error_sd)
    log_weight = np.tile(np.log(np.maximum(beliefs.weight, 1e-300)), (_FUTURES, 1))
    options = []
    for seen, strengths in enumerate(_futures(beliefs, max(tried)), start=1):
        log_weight += _log_likelihood(beliefs, np.minimum(strengths, math.log(press_mpa)), strengths, press_mpa)
        if seen in tried:
            weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
            assurance = (weight @ met) / weight.sum(axis=1)
            options.append(_option(seen, assurance, wanted))
    return tuple(options)


def _futures(beliefs: Beliefs, blocks: int) -> Iterator[Array]:
    """Yield the log strength of one further block in every future, block by block."""
    chance = np.random.default_rng(_SEED)
    # One future from each of 400 equal shares of what is believed, so that chance has less to say.
    at = (np.arange(_FUTURES) + chance.random(_FUTURES)) / _FUTURES
    order = np.argsort(beliefs.level, kind="stable")
    cell = order[np.minimum(np.searchsorted(np.cumsum(beliefs.weight[order]), at), len(order) - 1)]
    for _ in range(blocks):
        yield beliefs.level[cell] + beliefs.sigma[cell] * chance.standard_normal(_FUTURES)


def _log_likelihood(beliefs: Beliefs, read: Array, strengths: Array, press_mpa: float) -> Array:
    z = (read[:, None] - beliefs.level) / beliefs.sigma
    found: Array = -np.log(beliefs.sigma) - z * z / 2
    outlived = strengths > math.log(press_mpa)
    found[outlived] = log_below(-z[outlived])
    return found


def passing(beliefs: Beliefs, limit: Limit, error_sd: float) -> Array:
    """Return the chance that a limit is met at every cell.

    Parameters
    ----------
    beliefs : Beliefs
        The cells.
    limit : Limit
        The limit.
    error_sd : float
        Error of the press on the log; 0 or more.

    Returns
    -------
    Array
        One chance a cell.

    Source
    ------
    strength-model

    Examples
    --------
    A middle that lies at the limit, sigma next to nothing: an even chance.

    >>> one = np.ones(1)
    >>> cell = Beliefs(one, math.log(2.0) * one, 1e-6 * one, math.log(2.0) * one, 0.05 * one, 0 * one)
    >>> float(passing(cell, Limit("mean", "dry", "mean", 2.0, 5), 0.0).round(6)[0])
    0.5
    """
    room = beliefs.middle - math.log(limit.limit_mpa)
    error = np.sqrt(beliefs.left**2 + error_sd**2)
    if limit.statistic == "mean":
        return below((room + beliefs.sigma**2 / 2) / error)
    if limit.statistic == "characteristic":
        return below((room - _CHARACTERISTIC * beliefs.sigma) / error)
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    off = np.sqrt(error**2 + beliefs.mix_sd**2)
    each = [below((room + node * off) / beliefs.sigma) ** limit.blocks for node in nodes]
    chance: Array = np.tensordot(weights / weights.sum(), np.stack(each), axes=1)
    return chance


def calibration_ahead(recipe: Recipe, limit: Limit, *, scale_sd: float, wanted: float) -> Option | None:
    """Return what a calibration of the press would do for one limit, without another block.

    Parameters
    ----------
    recipe : Recipe
        What is believed of the recipe.
    limit : Limit
        The limit.
    scale_sd : float
        Error of the press as it stands, on the log.
    wanted : float
        The assurance asked for.

    Returns
    -------
    Option or None
        Of no block; None where the press is known nearly as well as a calibration would tell.

    Source
    ------
    own-rule : a calibration leaves 1 % of the scale open.

    Examples
    --------
    >>> one = np.ones(1)
    >>> even = Recipe(one, 0.1 * one, math.log(2.1) * one, 1e-4 * one, one, one, one, 0 * one)
    >>> limit = Limit("mean", "dry", "mean", 2.0, 5)
    >>> found = calibration_ahead(even, limit, scale_sd=0.05, wanted=0.95)
    >>> found.settled > 0.5, calibration_ahead(even, limit, scale_sd=0.01, wanted=0.95) is None
    (True, True)
    """
    if scale_sd < _WORTH * CALIBRATED_SD:
        return None
    told_sd = math.sqrt(scale_sd**2 - CALIBRATED_SD**2)
    left = np.sqrt(recipe.variance)
    # One scale from each of equal shares of what it may be.
    shifts = [told_sd * NormalDist().inv_cdf((number + 0.5) / _SCALES) for number in range(_SCALES)]
    moved = [
        Beliefs(recipe.weight, recipe.mean, recipe.sigma, recipe.mean - shift, left, recipe.mix_sd) for shift in shifts
    ]
    assurance = np.array([float(recipe.weight @ passing(one, limit, CALIBRATED_SD)) for one in moved])
    return _option(0, assurance, wanted)


def _option(blocks: int, assurance: Array, wanted: float) -> Option:
    reached, not_reached = np.mean(assurance >= wanted), np.mean(assurance <= 1 - wanted)
    return Option(blocks, float(reached), float(not_reached), float(np.mean(assurance)))
