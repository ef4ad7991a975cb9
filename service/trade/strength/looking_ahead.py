"""What acts would leave of a belief about one recipe: blocks of the same mix, of a new one, or a calibration."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from statistics import NormalDist

import numpy as np

from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.normal import Array, below, log_above
from service.trade.strength.estimate_result import Limit

_FUTURES, _SEED = 400, 20_270_301
_CHARACTERISTIC = 1.6449
# Levels of a new mix are tried at seven places over 2.5 standard deviations either way; cells that weigh less go.
_REACH, _MIX_NODES, _KEPT = 2.5, 7, 1e-4
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
    """What is believed of one recipe in one condition: cells of mu and sigma with their weights."""

    mu: Array
    sigma: Array
    weight: Array
    step: Array = field(repr=False)

    @staticmethod
    def of(plane: Plane, number: int) -> "Beliefs":
        """Return the cells of a group that carry any weight."""
        grid = plane.groups[number]
        keep = grid.joint > 1e-6 * np.max(grid.joint)
        weight = grid.joint[keep]
        sigma = np.broadcast_to(np.exp(plane.log_sigma)[:, None], grid.mu.shape)
        step = np.broadcast_to(grid.step[:, None], grid.mu.shape)
        return Beliefs((grid.anchor + grid.mu)[keep], sigma[keep], weight / weight.sum(), step[keep])


def look_ahead(
    beliefs: Beliefs,
    limit: Limit,
    *,
    error_sd: float,
    wanted: float,
    press_mpa: float,
    tried: Sequence[int],
    centre: Array | None = None,
) -> tuple[Option, ...]:
    """Return what each number of further blocks would do for one limit.

    Parameters
    ----------
    beliefs : Beliefs
        What is believed of the mix that the blocks come from.
    limit : Limit
        The limit.
    error_sd : float
        Error of press and mixes on the log, which no block of this mix takes away.
    wanted : float
        The assurance asked for; above 0.5, below 1.
    press_mpa : float
        Stress at which a block is held and not broken; may be infinite.
    tried : Sequence[int]
        Numbers of blocks, rising.
    centre : Array or None
        Middle of the recipe at each cell; None: the mix itself.

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

    >>> sure = Beliefs(np.array([2.0, 2.01]), np.array([0.1, 0.1]), np.array([0.5, 0.5]), np.array([0.01, 0.01]))
    >>> limit = Limit("mean", "dry", "mean", 2.0, 5)
    >>> look_ahead(sure, limit, error_sd=0.05, wanted=0.95, press_mpa=math.inf, tried=[3])[0].reached
    1.0
    """
    met = passing(beliefs if centre is None else replace(beliefs, mu=centre), limit, error_sd)
    log_weight = np.tile(np.log(beliefs.weight), (_FUTURES, 1))
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
    order = np.argsort(beliefs.mu, kind="stable")
    cell = order[np.minimum(np.searchsorted(np.cumsum(beliefs.weight[order]), at), len(order) - 1)]
    for _ in range(blocks):
        yield beliefs.mu[cell] + beliefs.sigma[cell] * chance.standard_normal(_FUTURES)


def _log_likelihood(beliefs: Beliefs, read: Array, strengths: Array, press_mpa: float) -> Array:
    z = (read[:, None] - beliefs.mu) / beliefs.sigma
    found: Array = -np.log(beliefs.sigma) - z * z / 2
    outlived = strengths > math.log(press_mpa)
    found[outlived] = log_above(z[outlived])
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
        Error of press and mixes on the log; 0 or more.

    Returns
    -------
    Array
        One chance a cell.

    Source
    ------
    strength-model

    Examples
    --------
    A median that lies at the limit, sigma next to nothing: an even chance.

    >>> cell = Beliefs(np.array([math.log(2.0)]), np.array([1e-6]), np.array([1.0]), np.array([0.01]))
    >>> float(passing(cell, Limit("mean", "dry", "mean", 2.0, 5), 0.05).round(6)[0])
    0.5
    """
    room = beliefs.mu - math.log(limit.limit_mpa)
    # A step sharper than the grid would jump from cell to cell.
    error = np.maximum(error_sd, 0.5 * beliefs.step)
    if limit.statistic == "mean":
        return below((room + beliefs.sigma**2 / 2) / error)
    if limit.statistic == "characteristic":
        return below((room - _CHARACTERISTIC * beliefs.sigma) / error)
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    each = [below((room + node * error_sd) / beliefs.sigma) ** limit.blocks for node in nodes]
    chance: Array = np.tensordot(weights / weights.sum(), np.stack(each), axes=1)
    return chance


def of_a_new_mix(beliefs: Beliefs, *, lump_sd: float, batch_sd: float) -> tuple[Beliefs, Array, float]:
    """Return what is believed of the level of a new mix, and of the recipe once that level is known.

    Parameters
    ----------
    beliefs : Beliefs
        What is believed of the mixes made, all together.
    lump_sd : float
        How far those may lie off the recipe, on the log; above 0.
    batch_sd : float
        How far one mix may lie off it, on the log; above 0.

    Returns
    -------
    tuple[Beliefs, Array, float]
        The new mix; the middle of the recipe at each of its cells; what then is left open of the recipe, on the log.

    Source
    ------
    strength-model : two normal deviations from one recipe, taken together.

    Examples
    --------
    A new mix that comes out 0.14 higher moves the recipe by half of that, where one mix was made:

    >>> one = Beliefs(np.array([0.0]), np.array([0.1]), np.array([1.0]), np.array([0.01]))
    >>> mix, centre, left = of_a_new_mix(one, lump_sd=0.05, batch_sd=0.05)
    >>> [round(float(centre[5] / mix.mu[5]), 3), round(left, 4)]
    [0.5, 0.0354]
    """
    apart = math.hypot(lump_sd, batch_sd)
    off = apart * np.linspace(-_REACH, _REACH, _MIX_NODES)
    share = np.exp(-((off / apart) ** 2) / 2)
    weight = np.outer(beliefs.weight, share / share.sum()).ravel()
    level = np.add.outer(beliefs.mu, off).ravel()
    centre = np.add.outer(beliefs.mu, off * (lump_sd / apart) ** 2).ravel()
    sigma, step = (np.repeat(one, _MIX_NODES) for one in (beliefs.sigma, beliefs.step))
    keep = weight > _KEPT * weight.max()
    mixed = Beliefs(level[keep], sigma[keep], weight[keep] / weight[keep].sum(), step[keep])
    return mixed, centre[keep], lump_sd * batch_sd / apart


def calibration_ahead(
    beliefs: Beliefs, limit: Limit, *, scale_sd: float, mix_sd: float, wanted: float
) -> Option | None:
    """Return what a calibration of the press would do for one limit, without another block.

    Parameters
    ----------
    beliefs : Beliefs
        What is believed of the recipe.
    limit : Limit
        The limit.
    scale_sd : float
        Error of the press as it stands, on the log.
    mix_sd : float
        What mixes leave open, on the log.
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
    >>> even = Beliefs(np.array([math.log(2.1)]), np.array([0.1]), np.array([1.0]), np.array([0.001]))
    >>> limit = Limit("mean", "dry", "mean", 2.0, 5)
    >>> found = calibration_ahead(even, limit, scale_sd=0.05, mix_sd=0.0, wanted=0.95)
    >>> found.settled > 0.5, calibration_ahead(even, limit, scale_sd=0.01, mix_sd=0.0, wanted=0.95) is None
    (True, True)
    """
    if scale_sd < _WORTH * CALIBRATED_SD:
        return None
    told_sd = math.sqrt(scale_sd**2 - CALIBRATED_SD**2)
    left_sd = math.hypot(CALIBRATED_SD, mix_sd)
    # One scale from each of equal shares of what it may be.
    shifts = [told_sd * NormalDist().inv_cdf((number + 0.5) / _SCALES) for number in range(_SCALES)]
    moved = [replace(beliefs, mu=beliefs.mu - shift) for shift in shifts]
    assurance = np.array([float(beliefs.weight @ passing(one, limit, left_sd)) for one in moved])
    return _option(0, assurance, wanted)


def _option(blocks: int, assurance: Array, wanted: float) -> Option:
    reached, not_reached = np.mean(assurance >= wanted), np.mean(assurance <= 1 - wanted)
    return Option(blocks, float(reached), float(not_reached), float(np.mean(assurance)))
