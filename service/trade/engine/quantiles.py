"""Quantiles of what a grid says: of sigma, and of sums of a grid and a normal error."""

import math
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline

from service.trade.engine.grid import GroupGrid, Plane
from service.trade.engine.normal import Array, soft_step

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
    """Return mu of one group moved by ``shift`` with an error of ``sd``, both one a sigma."""
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
    """Return the values below which ``levels`` of the mass lie."""
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
    """
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
    """Return what is said of one group; ``error_sd`` is that of scale and batches together."""
    still, error = np.zeros_like(sigma), np.full_like(sigma, error_sd)
    middle = quantiles(spread_of(grid, shift=still, sd=error), (LOW, MIDDLE, HIGH))
    weak = quantiles(spread_of(grid, shift=-_CHARACTERISTIC * sigma, sd=error), (LOW, MIDDLE))
    following = quantiles(spread_of(grid, shift=still, sd=np.hypot(error, sigma)), (LOW, HIGH))
    low, median, high, weak_low, weak_median, next_low, next_high = (
        float(value) for value in np.exp(grid.anchor + np.concatenate([middle, weak, following]))
    )
    return Strengths(median, low, high, weak_median, weak_low, next_low, next_high)
