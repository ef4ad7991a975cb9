"""What a fitted curve says at any share: strengths, the next block, the slope, and the chance that limits hold."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.trade.strength.content_curve.cells import OFFSET
from service.trade.strength.content_curve.design import Fit, lattice
from service.trade.strength.content_curve.integrals import special
from service.trade.strength.content_curve.sites import mean_along, shared
from service.trade.strength.estimate_result import Limit
from service.trade.strength.fit.logs import Array

TAIL = 0.05
_CHARACTERISTIC = 1.6449
_DRAWS, _HALVINGS = 16, 45


@dataclass(frozen=True)
class Places:
    """Shares and the conditions asked of each: one place for every share, every condition within it."""

    mean: Array
    covariance: Array


def places(fitted: Fit, shares: Sequence[float], *, scale_sd: float) -> Places:
    """Return ln strength at shares: settings x shares x conditions, and the covariance of the conditions at a share.

    Parameters
    ----------
    fitted : Fit
        The curve.
    shares : Sequence[float]
        Tested or not; above 0.
    scale_sd : float
        Error of the press on the log, the same for all.

    Returns
    -------
    Places
        Of a recipe over all its mixes.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.content_curve.design import fit
    >>> from service.trade.strength.content_curve.curve_prior import CurvePrior
    >>> from service.trade.strength.censored_readings import broke
    >>> fitted = fit(gather([Row(0.06, "dry", (broke(stress_mpa=3.0),) * 9)]), CurvePrior())
    >>> bool(abs(fitted.weight @ places(fitted, [0.06], scale_sd=0.0).mean[:, 0, 0] - math.log(3.0)) < 0.01)
    True
    """
    cells, prior, spreads = fitted.cells, fitted.prior, fitted.spreads
    many, settings = len(cells.conditions), len(spreads)
    at = np.asarray(shares, dtype=float)
    x = cells.along(at)
    numbers = {share: number for number, share in enumerate(cells.shares)}
    tested = np.array([numbers.get(share, -1) for share in shares])
    mean = np.empty((settings, len(at), many))
    whole = np.empty((settings, len(at), many, many))
    of_all = spreads.off_curve**2
    for place in range(len(at)):
        here = np.full(many, x[place])
        alike = cells.share == tested[place]
        together = np.arange(many)[:, None] == cells.condition
        across = shared(here, cells.x, together, prior) + of_all[:, None, None] * alike
        across = across + (spreads.own_way**2)[:, None, None] * (alike & together)
        own = shared(here, here, np.eye(many), prior) + (of_all + scale_sd**2)[:, None, None]
        own = own + (spreads.own_way**2)[:, None, None] * np.eye(many)
        mean[:, place] = mean_along(x[place : place + 1], prior) + np.einsum(
            "bcj,bj->bc", across, fitted.posterior.pull
        )
        whole[:, place] = own - across @ fitted.posterior.gain @ np.swapaxes(across, 1, 2)
    return Places(mean, whole)


def slope(fitted: Fit, tails: Sequence[float]) -> Array:
    """Return quantiles of the slope of ln strength on ln share at the middle of the tested shares.

    Of a straight curve: on the quantity itself.

    Parameters
    ----------
    fitted : Fit
        The curve.
    tails : Sequence[float]
        The shares below each quantile.

    Returns
    -------
    Array
        One number a tail.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.content_curve.design import fit
    >>> from service.trade.strength.content_curve.curve_prior import CurvePrior
    >>> from service.trade.strength.censored_readings import broke
    >>> fitted = fit(gather([Row(0.06, "dry", (broke(stress_mpa=3.0),))]), CurvePrior())
    >>> float(slope(fitted, [0.5])[0].round(2))
    1.02
    """
    prior, found = fitted.prior, fitted.posterior
    across = np.broadcast_to(prior.slope_sd**2 * fitted.cells.x, found.pull.shape)
    mean = prior.slope + np.sum(across * found.pull, axis=1)
    variance = prior.slope_sd**2 - np.einsum("bi,bij,bj->b", across, found.gain, across)
    quantiles_of = quantiles(fitted.weight, mean[:, None], np.sqrt(np.maximum(variance, 1e-12))[:, None], tails)
    if fitted.cells.straight:
        return quantiles_of[:, 0]
    share = math.exp(fitted.cells.middle) - OFFSET
    return quantiles_of[:, 0] * share / (share + OFFSET)


def quantiles(weight: Array, mean: Array, sd: Array, tails: Sequence[float]) -> Array:
    """Return quantiles of mixtures of normals: tails x columns.

    Parameters
    ----------
    weight : Array
        Of each row; sum 1.
    mean, sd : Array
        Rows x columns.
    tails : Sequence[float]
        The shares below each quantile.

    Returns
    -------
    Array
        Found by halving; tails x columns.

    Source
    ------
    own-rule : 45 halvings, far below rounding of what is shown.

    Examples
    --------
    >>> quantiles(np.ones(1), np.zeros((1, 1)), np.ones((1, 1)), [0.05]).round(4).tolist()
    [[-1.6449]]
    """
    found = []
    for tail in tails:
        # Between the outermost quantiles of the components lies that of the mixture.
        each = mean + sd * special().ndtri(tail)
        low, high = each.min(axis=0), each.max(axis=0)
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            above = weight @ special().ndtr((middle - mean) / sd) > tail
            high, low = np.where(above, middle, high), np.where(above, low, middle)
        found.append((low + high) / 2)
    return np.stack(found)


def assurance(fitted: Fit, at: Places, limits: Sequence[Limit]) -> Array:
    """Return the chance that every limit holds at once, share by share.

    Parameters
    ----------
    fitted : Fit
        The curve.
    at : Places
        The shares.
    limits : Sequence[Limit]
        At least one; in conditions of the curve.

    Returns
    -------
    Array
        One chance a share. The next blocks that ``each`` speaks of are of one new mix.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.content_curve.design import fit
    >>> from service.trade.strength.content_curve.curve_prior import CurvePrior
    >>> from service.trade.strength.censored_readings import broke
    >>> fitted = fit(gather([Row(0.06, "dry", (broke(stress_mpa=3.0),) * 9)]), CurvePrior())
    >>> at = places(fitted, [0.06], scale_sd=0.0)
    >>> float(assurance(fitted, at, [Limit("half", "dry", "mean", 1.5, 5)])[0].round(3))
    1.0
    """
    spreads = fitted.spreads
    conditions = [c for c, name in enumerate(fitted.cells.conditions) if any(one.condition == name for one in limits)]
    settings, shares, _ = at.mean.shape
    point = lattice(settings * _DRAWS, 1 + len(conditions)).reshape(settings, _DRAWS, -1)
    # The draws of a setting and the settings themselves must not walk in step.
    new_mix = spreads.mixes[:, None] * special().ndtri(point[:, :, -1])
    chance: Array = np.ones((settings, shares, _DRAWS))
    drawn: list[Array] = []
    lower = _cholesky(at.covariance[:, :, conditions][:, :, :, conditions])
    for step, condition in enumerate(conditions):
        mine = [one for one in limits if one.condition == fitted.cells.conditions[condition]]
        sigma = spreads.scatter[:, condition]
        middle = np.broadcast_to(at.mean[:, :, condition, None], chance.shape)
        for before, z in enumerate(drawn):
            middle = middle + lower[:, :, step, before, None] * z
        sd = lower[:, :, step, step, None]
        least = _threshold(mine, sigma)
        below = special().ndtr((least[:, None, None] - middle) / sd)
        chance = chance * (1 - below)
        # Drawn from what lies above the threshold alone; what lies below was taken off just now.
        level = below + (1 - below) * point[:, None, :, step]
        z = special().ndtri(np.clip(level, 1e-15, 1 - 1e-15))
        drawn.append(z)
        for edge, blocks in _edges(mine).items():
            strength = middle + sd * z + new_mix[:, None, :]
            chance = chance * np.exp(blocks * special().log_ndtr((strength - edge) / sigma[:, None, None]))
    found: Array = np.einsum("b,bsk->s", fitted.weight, chance) / _DRAWS
    return found


def _cholesky(covariance: Array) -> Array:
    found: Array = np.linalg.cholesky(np.asarray(covariance + 1e-10 * np.eye(covariance.shape[-1])))
    return found


def _threshold(limits: Sequence[Limit], sigma: Array) -> Array:
    """Return what ln strength must reach for mean and characteristic limits, at every setting."""
    found = np.full_like(sigma, -np.inf)
    for one in limits:
        if one.statistic == "mean":
            found = np.maximum(found, math.log(one.limit_mpa) - sigma**2 / 2)
        elif one.statistic == "characteristic":
            found = np.maximum(found, math.log(one.limit_mpa) + _CHARACTERISTIC * sigma)
    return found


def _edges(limits: Sequence[Limit]) -> Counter[float]:
    """Return what the next blocks must reach and how many of them: the highest of the limits that speak of each."""
    each = [one for one in limits if one.statistic == "each"]
    most = max((one.blocks for one in each), default=0)
    return Counter(max(math.log(one.limit_mpa) for one in each if one.blocks > number) for number in range(most))
