"""The normal distribution function where the strength engine needs it: in far tails and over cells."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtr

Array = NDArray[np.float64]

_ROOT_TWO_PI = math.sqrt(2 * math.pi)


def log_above(z: Array) -> Array:
    """Return the log of the standard normal mass above ``z``."""
    tail: Array = log_ndtr(-z)
    return tail


def log_between(low: Array, high: Array) -> Array:
    """Return the log of the standard normal mass between ``low`` and ``high``, on the stable side."""
    below = low + high < 0
    near = np.where(below, -high, low)
    far = np.where(below, -low, high)
    tail: Array = log_ndtr(-near)
    share: Array = -np.expm1(log_ndtr(-far) - tail)
    # Edges closer than rounding leave nothing between them; the smallest double keeps the log finite.
    return tail + np.log(np.maximum(share, 1e-300))


def density(z: Array) -> Array:
    """Return the standard normal density at ``z``."""
    bell: Array = np.exp(-0.5 * z * z) / _ROOT_TWO_PI
    return bell


def below(z: Array) -> Array:
    """Return the standard normal mass below ``z``."""
    mass: Array = ndtr(z)
    return mass


def soft_step(distance: Array, *, sd: Array, blur: Array) -> tuple[Array, Array]:
    """Return mass below and density of a normal error at ``distance``, safe to sum over a grid.

    A sum over grid points is smooth only if every point carries at least ``blur``. Where ``sd`` is
    less, the kernel of width ``blur`` is given negative flanks so that its second and fourth
    moments are those of ``sd``: what is blurred comes back sharp to the sixth order.
    """
    width = np.maximum(sd, blur)
    surplus = 1 - (sd / width) ** 2
    z = distance / width
    bell = density(z)
    square = z * z
    mass = below(z) + bell * z * surplus * (0.5 + surplus * (3 - square) / 8)
    slope = 1 + surplus * (0.5 * (1 - square) + surplus * (square * square - 6 * square + 3) / 8)
    return mass, bell * slope / width
