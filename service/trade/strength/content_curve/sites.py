"""The curve at many settings of its spreads at once: Gaussian given those, held and rounded readings by moments.

Expectation propagation with one site a cell; a cell of exact readings is a site already. Every array has the
settings along its first axis.
"""

from dataclasses import dataclass

import numpy as np

from service.trade.strength.content_curve.cells import Cells, Index, Rough
from service.trade.strength.content_curve.curve_prior import CurvePrior
from service.trade.strength.content_curve.integrals import special
from service.trade.strength.fit.logs import Array

_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(23)
_LOG_WEIGHTS = np.log(_WEIGHTS / _WEIGHTS.sum())
_SWEEPS, _STILL, _UNDAMPED, _DAMPED = 40, 1e-4, 8, 0.6
_LOG_TWO_PI = float(np.log(2 * np.pi))
# A site that says next to nothing must still have a width.
_LEAST = 1e-9


@dataclass(frozen=True)
class Spreads:
    """Settings: scatter by condition (settings x conditions), and one number each for the others."""

    scatter: Array
    off_curve: Array
    own_way: Array
    mixes: Array

    def __len__(self) -> int:
        return len(self.off_curve)


@dataclass(frozen=True)
class Posterior:
    """What the readings say given each setting: precision and shift of every site, and the log evidence.

    ``gain`` and ``pull`` turn a covariance with the cells into what the readings take from a variance and give to a
    mean: k' gain k and k' pull.
    """

    log_evidence: Array
    precision: Array
    shift: Array
    gain: Array
    pull: Array


def mean_along(x: Array, prior: CurvePrior) -> Array:
    """Return the prior mean of ln strength along the curve.

    Parameters
    ----------
    x : Array
        Places along the curve, 0 at the middle.
    prior : CurvePrior
        What is believed beforehand.

    Returns
    -------
    Array
        One mean a place.

    Source
    ------
    content-slope

    Examples
    --------
    >>> float(mean_along(np.array([0.0]), CurvePrior(median_mpa=1.0))[0])
    0.0
    """
    found: Array = np.log(prior.median_mpa) + prior.slope * x + prior.bend * x**2
    return found


def shared(a: Array, b: Array, same_condition: Array, prior: CurvePrior) -> Array:
    """Return the prior covariance that two sets of places share through level, slope and bend.

    Parameters
    ----------
    a, b : Array
        Places along the curve.
    same_condition : Array
        Whether places of ``a`` (rows) and ``b`` (columns) are of one condition.
    prior : CurvePrior
        What is believed beforehand.

    Returns
    -------
    Array
        a by b.

    Source
    ------
    strength-model

    Examples
    --------
    >>> float(shared(np.zeros(1), np.zeros(1), np.ones((1, 1)), CurvePrior())[0, 0])
    1.0
    """
    found: Array = (
        prior.log_sd**2 * same_condition + prior.slope_sd**2 * np.outer(a, b) + prior.bend_sd**2 * np.outer(a**2, b**2)
    )
    return found


def covariance(cells: Cells, spreads: Spreads, prior: CurvePrior) -> Array:
    """Return the prior covariance of the cells at every setting: settings x cells x cells.

    Parameters
    ----------
    cells : Cells
        The readings.
    spreads : Spreads
        The settings.
    prior : CurvePrior
        What is believed beforehand.

    Returns
    -------
    Array
        Settings x cells x cells.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.censored_readings import broke
    >>> cells = gather([Row(0.06, "dry", (broke(stress_mpa=3.0),))])
    >>> tenth = np.array([0.1])
    >>> float(covariance(cells, Spreads(np.array([[0.1]]), tenth, tenth, tenth), CurvePrior())[0, 0, 0].round(6))
    1.03
    """
    alike = cells.share[:, None] == cells.share
    together = cells.condition[:, None] == cells.condition
    mixed = cells.mix[:, None] == cells.mix
    found: Array = (
        shared(cells.x, cells.x, together, prior)
        + (spreads.off_curve**2)[:, None, None] * alike
        + (spreads.own_way**2)[:, None, None] * (alike & together)
        + (spreads.mixes**2)[:, None, None] * mixed
    )
    return found


def posterior(cells: Cells, spreads: Spreads, prior: CurvePrior) -> Posterior:
    """Return what the readings say of the cells at every setting of the spreads.

    Parameters
    ----------
    cells : Cells
        The readings; at least one cell.
    spreads : Spreads
        The settings.
    prior : CurvePrior
        What is believed beforehand.

    Returns
    -------
    Posterior
        Sites, log evidence, and what a prediction needs.

    Source
    ------
    ep-gaussian

    Examples
    --------
    One exact reading: the evidence is the density of ln 3 under a normal of variance 1 + 0.04.

    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.censored_readings import broke
    >>> cells = gather([Row(0.06, "dry", (broke(stress_mpa=3.0),))])
    >>> tenth = np.array([0.1])
    >>> found = posterior(cells, Spreads(tenth[:, None], tenth, tenth, tenth), CurvePrior())
    >>> round(float(found.log_evidence[0]), 6), round(float(-0.5 * np.log(2 * np.pi * 1.04)), 6)
    (-0.938549, -0.938549)
    """
    before, settled = _settled(cells, spreads, prior)
    root = np.sqrt(settled.precision)
    inner = np.eye(before.shape[1]) + root[:, :, None] * before * root[:, None, :]
    gain = root[:, :, None] * np.linalg.solve(inner, np.eye(before.shape[1])[None] * root[:, None, :])
    pull = settled.shift - np.einsum("bij,bj->bi", gain, np.einsum("bij,bj->bi", before, settled.shift))
    return Posterior(_evidence(before, settled), settled.precision, settled.shift, gain, pull)


def log_evidence(cells: Cells, spreads: Spreads, prior: CurvePrior) -> Array:
    """Return the log evidence of every setting alone, which is sooner known than the whole.

    Parameters
    ----------
    cells, spreads, prior
        As in ``posterior``.

    Returns
    -------
    Array
        By setting.

    Source
    ------
    ep-gaussian

    Examples
    --------
    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.censored_readings import broke
    >>> cells = gather([Row(0.06, "dry", (broke(stress_mpa=3.0),))])
    >>> tenth = np.array([0.1])
    >>> float(log_evidence(cells, Spreads(tenth[:, None], tenth, tenth, tenth), CurvePrior())[0].round(6))
    -0.938549
    """
    return _evidence(*_settled(cells, spreads, prior))


@dataclass(frozen=True)
class _Settled:
    """Sites that move no more, by setting and cell, and what of the evidence does not hang on them."""

    precision: Array
    shift: Array
    apart: Array


def _settled(cells: Cells, spreads: Spreads, prior: CurvePrior) -> tuple[Array, _Settled]:
    """Return the prior covariance of the cells and their sites."""
    before = covariance(cells, spreads, prior)
    offset = mean_along(cells.x, prior)
    sigma = spreads.scatter[:, cells.condition]
    precision, shift, constant = _exact_sites(cells, sigma, offset)
    rough: Index = np.unique(cells.rough.cell)
    site_precision, site_shift = precision.copy(), shift.copy()
    log_mass = np.zeros((len(spreads), 0))
    if len(rough):
        _first_guess(cells, sigma, offset, site_precision, site_shift)
        for sweep in range(_SWEEPS):
            whole, mean = _joined(before, site_precision, site_shift)
            mean, variance = mean[:, rough], np.diagonal(whole, axis1=1, axis2=2)[:, rough]
            log_mass, to_mean, to_variance = _tilted(
                cells, rough, sigma, offset, mean, variance,
                site_precision[:, rough] - precision[:, rough], site_shift[:, rough] - shift[:, rough],
            )  # fmt: skip
            moved = np.max(np.abs(to_mean - mean) / np.sqrt(variance) + np.abs(to_variance / variance - 1))
            if moved < _STILL:
                break
            damped = 1.0 if sweep < _UNDAMPED else _DAMPED
            gained = 1 / to_variance - 1 / variance
            floor = precision[:, rough] + _LEAST
            step = np.maximum(site_precision[:, rough] + damped * gained, floor)
            site_precision[:, rough] = step
            site_shift[:, rough] += damped * (to_mean / to_variance - mean / variance)
    return before, _Settled(site_precision, site_shift, constant + log_mass.sum(axis=1))


def _evidence(before: Array, settled: _Settled) -> Array:
    root = np.sqrt(settled.precision)
    inner = np.eye(before.shape[1]) + root[:, :, None] * before * root[:, None, :]
    lower = np.linalg.cholesky(inner)
    log_det = 2 * np.sum(np.log(np.diagonal(lower, axis1=1, axis2=2)), axis=1)
    # The quadratic form of the shifts, without the large numbers that wide priors would bring.
    told = np.divide(settled.shift, root, out=np.zeros_like(root), where=root > 0)
    left = np.linalg.solve(inner, told[..., None])[..., 0]
    found: Array = settled.apart - log_det / 2 + np.sum(told * (told - left), axis=1) / 2
    return found


def _exact_sites(cells: Cells, sigma: Array, offset: Array) -> tuple[Array, Array, Array]:
    count, mean = cells.exact_count, np.where(cells.exact_count > 0, cells.exact_mean - offset, 0.0)
    precision = count / sigma**2
    constant = -count * (_LOG_TWO_PI / 2 + np.log(sigma)) - (cells.exact_square + count * mean**2) / (2 * sigma**2)
    return precision, precision * mean, constant.sum(axis=1)


def _first_guess(cells: Cells, sigma: Array, offset: Array, precision: Array, shift: Array) -> None:
    rough = cells.rough
    for low, high, count, cell in zip(rough.low, rough.high, rough.count, rough.cell, strict=True):
        is_held = np.isinf(high)
        middle = low if is_held else (high if np.isinf(low) else (low + high) / 2)
        at = middle - offset[cell] + (0.5 * sigma[:, cell] if is_held else 0.0)
        told = (0.3 if is_held else 1.0) * count / sigma[:, cell] ** 2
        precision[:, cell] += told
        shift[:, cell] += told * at


def _joined(before: Array, precision: Array, shift: Array) -> tuple[Array, Array]:
    """Return covariance and mean of the cells under the sites."""
    root = np.sqrt(precision)
    inner = np.eye(before.shape[1]) + root[:, :, None] * before * root[:, None, :]
    half = np.linalg.solve(np.linalg.cholesky(inner), root[:, :, None] * before)
    whole = before - np.swapaxes(half, 1, 2) @ half
    return whole, np.einsum("bij,bj->bi", whole, shift)


def _tilted(
    cells: Cells,
    rough: Index,
    sigma: Array,
    offset: Array,
    mean: Array,
    variance: Array,
    precision: Array,
    shift: Array,
) -> tuple[Array, Array, Array]:
    """Return the log mass that rough cells have beyond their sites, and their mean and variance by the readings."""
    at = mean[:, :, None] + np.sqrt(variance)[:, :, None] * _NODES
    log_likely = _log_likelihood(cells.rough, rough, sigma, at + offset[rough][:, None])
    weight = log_likely + precision[:, :, None] * at**2 / 2 - shift[:, :, None] * at + _LOG_WEIGHTS
    log_mass: Array = special().logsumexp(weight, axis=2)
    share = np.exp(weight - log_mass[:, :, None])
    to_mean = np.sum(share * at, axis=2)
    to_variance = np.maximum(np.sum(share * (at - to_mean[:, :, None]) ** 2, axis=2), 1e-4 * variance)
    return log_mass, to_mean, to_variance


def _log_likelihood(rough: Rough, cells: Index, sigma: Array, at: Array) -> Array:
    found = np.zeros_like(at)
    for place, cell in enumerate(cells):
        scale = sigma[:, cell][:, None]
        for number in np.flatnonzero(rough.cell == cell):
            low = (rough.low[number] - at[:, place]) / scale
            if np.isinf(rough.high[number]):
                found[:, place] += rough.count[number] * special().log_ndtr(-low)
            else:
                high = (rough.high[number] - at[:, place]) / scale
                found[:, place] += rough.count[number] * _log_between(low, high)
    return found


def _log_between(low: Array, high: Array) -> Array:
    # From the side on which nothing cancels.
    turned = low + high > 0
    top, foot = np.where(turned, -low, high), np.where(turned, -high, low)
    most = special().log_ndtr(top)
    found: Array = most + np.log(-np.expm1(np.minimum(special().log_ndtr(foot) - most, -1e-300)))
    return found
