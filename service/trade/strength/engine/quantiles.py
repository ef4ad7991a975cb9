"""Quantiles of what a grid says: of sigma, and of sums of a grid and a normal error."""

import math
from dataclasses import dataclass

import numpy as np

from service.trade.strength.engine.grid import GroupGrid, Plane
from service.trade.strength.engine.normal import Array, soft_step

LOW, MIDDLE, HIGH = 0.05, 0.5, 0.95
_CHARACTERISTIC = 1.6449
_WORTH = 1e-8


@dataclass(frozen=True)
class Spread:
    """A weighted heap of normal errors: ``place``, its ``weight``, ``sd`` and the least ``blur`` of its grid."""

    place: Array
    weight: Array
    sd: Array
    blur: Array

    def below(self, at: Array) -> tuple[Array, Array]:
        """Return mass below and density at each of ``at``."""
        mass, density = soft_step(at[:, None] - self.place, sd=self.sd, blur=self.blur)
        return mass @ self.weight, density @ self.weight


def spread_of(grid: GroupGrid, *, shift: Array, sd: Array) -> Spread:
    """Return mu of one group moved by ``shift`` with an error of ``sd``, both one a sigma.

    Parameters
    ----------
    grid : GroupGrid
        mu of one group.
    shift : Array
        Added to mu, one a sigma.
    sd : Array
        Standard deviation of the error, one a sigma; 0 or more.

    Returns
    -------
    Spread
        Only where the grid has weight.

    Source
    ------
    strength-model

    Examples
    --------
    >>> grid = GroupGrid(0.0, np.array([[-0.1, 0.0, 0.1]]), np.ones((1, 3)), np.full((1, 3), 1 / 3))
    >>> spread_of(grid, shift=np.array([1.0]), sd=np.zeros(1)).place.round(6).tolist()
    [0.9, 1.0, 1.1]
    """
    keep = grid.joint > _WORTH * np.max(grid.joint)
    shape = grid.mu.shape
    weight = grid.joint[keep]
    return Spread(
        place=(grid.mu + shift[:, None])[keep],
        weight=weight / weight.sum(),
        sd=np.broadcast_to(sd[:, None], shape)[keep],
        blur=np.broadcast_to(0.7 * grid.step[:, None], shape)[keep],
    )


def quantiles(spread: Spread, levels: tuple[float, ...]) -> Array:
    """Return the values below which ``levels`` of the mass lie.

    Parameters
    ----------
    spread : Spread
        A heap of errors.
    levels : tuple[float, ...]
        Shares of the mass; above 0, below 1.

    Returns
    -------
    Array
        One a level.

    Source
    ------
    strength-model

    Examples
    --------
    Of a standard normal error:

    >>> one = np.ones(1)
    >>> quantiles(Spread(np.zeros(1), one, one, 0 * one), (0.05, 0.95)).round(3).tolist()
    [-1.645, 1.645]
    """
    level = np.array(levels)
    width = np.maximum(spread.sd, spread.blur)
    low = np.full(len(level), float(np.min(spread.place - 9 * width)))
    high = np.full(len(level), float(np.max(spread.place + 9 * width)))
    centre = float(spread.place @ spread.weight)
    reach = math.sqrt(float((spread.place - centre) ** 2 @ spread.weight + spread.sd**2 @ spread.weight))
    at = centre + reach * np.where(level < 0.5, -1.645, np.where(level > 0.5, 1.645, 0.0))
    for _ in range(100):
        mass, density = spread.below(at)
        low, high = np.where(mass < level, at, low), np.where(mass < level, high, at)
        newton = at + (level - mass) / np.maximum(density, 1e-300)
        following = np.where((newton > low) & (newton < high), newton, (low + high) / 2)
        moved = np.max(np.abs(following - at))
        at = following
        if moved < 1e-5 * reach:
            break
    return at


def sigma_quantiles(plane: Plane) -> tuple[float, float, float]:
    """Return median, 5 % and 95 % point of sigma.

    The log density is smooth between nodes, so it is what is interpolated; straight lines in the
    mass would be off by percents.

    Parameters
    ----------
    plane : Plane
        One condition.

    Returns
    -------
    tuple[float, float, float]
        Median, 5 and 95 % point of sigma on the log; above 0.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> median, low, high = sigma_quantiles(posterior.planes[0])
    >>> 0 < low < median < high
    True
    """
    # Loaded when it is needed: it is slow to load, and most pages show no strength.
    from scipy.interpolate import CubicSpline

    log_weight = np.log(np.maximum(plane.sigma_weight, 1e-290))
    at = np.linspace(plane.log_sigma[0], plane.log_sigma[-1], 801)
    density = np.exp(CubicSpline(plane.log_sigma, log_weight)(at))
    mass = np.concatenate([[0.0], np.cumsum((density[1:] + density[:-1]) / 2)])
    found = np.exp(np.interp(np.array([MIDDLE, LOW, HIGH]) * mass[-1], mass, at))
    return float(found[0]), float(found[1]), float(found[2])


@dataclass(frozen=True)
class Strengths:
    """What is said of one group, in MPa: medians with 5 and 95 % points."""

    median: float
    low: float
    high: float
    characteristic: float
    characteristic_low: float
    next_low: float
    next_high: float


def strengths(grid: GroupGrid, *, sigma: Array, error_sd: float) -> Strengths:
    """Return what is said of one group; ``error_sd`` is that of scale and batches together.

    Parameters
    ----------
    grid : GroupGrid
        mu of one group.
    sigma : Array
        Scatter on the log, one a row of the grid; above 0.
    error_sd : float
        Error of scale and batches together on the log; 0 or more.

    Returns
    -------
    Strengths
        In MPa, unrounded.

    Source
    ------
    strength-model

    Examples
    --------
    Five blocks of 3 MPa, where the prior is centred too:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> (plane,) = posterior.planes
    >>> round(strengths(plane.groups[0], sigma=np.exp(plane.log_sigma), error_sd=0.05).median, 2)
    3.0
    """
    still, error = np.zeros_like(sigma), np.full_like(sigma, error_sd)
    middle = quantiles(spread_of(grid, shift=still, sd=error), (LOW, MIDDLE, HIGH))
    weak = quantiles(spread_of(grid, shift=-_CHARACTERISTIC * sigma, sd=error), (LOW, MIDDLE))
    following = quantiles(spread_of(grid, shift=still, sd=np.hypot(error, sigma)), (LOW, HIGH))
    low, median, high, weak_low, weak_median, next_low, next_high = (
        float(value) for value in np.exp(grid.anchor + np.concatenate([middle, weak, following]))
    )
    return Strengths(median, low, high, weak_median, weak_low, next_low, next_high)
