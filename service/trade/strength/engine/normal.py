"""The normal distribution function where the strength engine needs it: in far tails and over cells."""

import math
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_ROOT_TWO_PI = math.sqrt(2 * math.pi)
_FAR = 25.0


@cache
def _special() -> Any:
    """Return the library of the normal integrals, loaded when the first strength is worked out: it is slow to load."""
    from scipy import special

    return special


def log_above(z: Array) -> Array:
    """Return the log of the standard normal mass above ``z``.

    Parameters
    ----------
    z : Array
        Standard deviations above the mean; any number.

    Returns
    -------
    Array
        Logarithm of the mass, exact far into the tail.

    Source
    ------
    computed-here : log of the normal tail.

    Examples
    --------
    Half lies above the middle:

    >>> float(log_above(np.array(0.0)).round(6))
    -0.693147
    """
    tail: Array = _special().log_ndtr(-z)
    return tail


def hazard(z: Array) -> tuple[Array, Array]:
    """Return density over mass above ``z``, and by how much it is more than ``z``, far out by its expansion.

    Parameters
    ----------
    z : Array
        Standard deviations above the mean; any number.

    Returns
    -------
    tuple[Array, Array]
        Density over mass above, and by how much that is more than z.

    Source
    ------
    computed-here : density over tail; its asymptotic series beyond 25.

    Examples
    --------
    0.398942 over a half:

    >>> [float(one.round(6)) for one in hazard(np.array(0.0))]
    [0.797885, 0.797885]
    """
    far = z > _FAR
    out = np.where(far, z, _FAR)
    near = np.where(far, 0.0, z)
    within = np.exp(-0.5 * near * near - _special().log_ndtr(-near)) / _ROOT_TWO_PI
    excess = np.where(far, (1 - 2 / out**2) / out, within - near)
    return np.where(far, out + excess, within), excess


@dataclass(frozen=True)
class Cell:
    """A stretch of the standard normal: the log of its mass, and slope and curvature when it is moved."""

    log_mass: Array
    slope: Array
    curvature: Array


def cell(low: Array, high: Array) -> Cell:
    """Return what lies between ``low`` and ``high``, reckoned from the side on which nothing cancels.

    Parameters
    ----------
    low, high : Array
        Edges in standard deviations, low below high; low may be minus and high plus infinity.

    Returns
    -------
    Cell
        Log of the mass between, its slope when both edges move down together, and the curvature, 0 to 1.

    Source
    ------
    computed-here : difference of two normal tails.

    Examples
    --------
    68.27 % lie within one standard deviation:

    >>> float(np.exp(cell(np.array(-1.0), np.array(1.0)).log_mass).round(4))
    0.6827
    """
    turned = low + high < 0
    near, far = np.where(turned, -high, low), np.where(turned, -low, high)
    tail: Array = _special().log_ndtr(-near)
    at_near, excess = hazard(near)
    at_far, _ = hazard(far)
    gap = (far - near) * (far + near) / 2
    out = near > _FAR
    fall = np.where(
        out, np.log(np.where(out & np.isfinite(far), at_near / at_far, 1.0)) - gap, _special().log_ndtr(-far) - tail
    )
    rest = np.exp(np.minimum(fall, 0.0))
    # Edges closer than rounding leave nothing between them; the smallest double keeps the log finite.
    share = np.maximum(-np.expm1(np.minimum(fall, 0.0)), 1e-300)
    a, b = at_near / share, at_near / share * np.exp(-gap)
    reach = np.where(np.isfinite(far), far, 0.0)
    curvature = a * (excess + at_near * rest / share) - 2 * a * b + b * b + reach * b
    return Cell(tail + np.log(share), np.where(turned, b - a, a - b), np.clip(curvature, 0, 1))


def density(z: Array) -> Array:
    """Return the standard normal density at ``z``.

    Parameters
    ----------
    z : Array
        Standard deviations from the mean; any number.

    Returns
    -------
    Array
        The bell; 0.3989 at the middle.

    Source
    ------
    computed-here

    Examples
    --------
    >>> float(density(np.array(0.0)).round(6))
    0.398942
    """
    bell: Array = np.exp(-0.5 * z * z) / _ROOT_TWO_PI
    return bell


def below(z: Array) -> Array:
    """Return the standard normal mass below ``z``.

    Parameters
    ----------
    z : Array
        Standard deviations from the mean; any number.

    Returns
    -------
    Array
        From 0 to 1.

    Source
    ------
    computed-here

    Examples
    --------
    >>> float(below(np.array(1.6449)).round(4))
    0.95
    """
    mass: Array = _special().ndtr(z)
    return mass


def soft_step(distance: Array, *, sd: Array, blur: Array) -> tuple[Array, Array]:
    """Return mass below and density of a normal error at ``distance``, safe to sum over a grid.

    A sum over grid points is smooth only if every point carries at least ``blur``. Where ``sd`` is
    less, the kernel of width ``blur`` is given negative flanks so that its second and fourth
    moments are those of ``sd``: what is blurred comes back sharp to the sixth order.

    Parameters
    ----------
    distance : Array
        How far above the middle of the error.
    sd : Array
        Its standard deviation; 0 or more.
    blur : Array
        Least width that the grid bears; above 0 where sd is 0.

    Returns
    -------
    tuple[Array, Array]
        Mass below and density; the mass may leave 0 to 1 by a little where it is sharpened.

    Source
    ------
    own-rule : a kernel whose second and fourth moments are those of sd.

    Examples
    --------
    Where nothing needs blurring it is the normal distribution itself:

    >>> mass, bell = soft_step(np.array(0.0), sd=np.array(1.0), blur=np.array(0.1))
    >>> float(mass), float(bell.round(6))
    (0.5, 0.398942)
    """
    width = np.maximum(sd, blur)
    surplus = 1 - (sd / width) ** 2
    z = distance / width
    bell = density(z)
    square = z * z
    mass = below(z) + bell * z * surplus * (0.5 + surplus * (3 - square) / 8)
    slope = 1 + surplus * (0.5 * (1 - square) + surplus * (square * square - 6 * square + 3) / 8)
    return mass, bell * slope / width


def log_sum(values: Array, axis: int) -> Array:
    """Return the log of the sum of exponentials along ``axis``.

    Parameters
    ----------
    values : Array
        Logarithms; minus infinity stands for nothing.
    axis : int
        Along which they are summed.

    Returns
    -------
    Array
        Logarithm of the sum.

    Source
    ------
    computed-here

    Examples
    --------
    1 and 3 are 4:

    >>> float(np.exp(log_sum(np.log([1.0, 3.0]), axis=0)).round(9))
    4.0
    """
    top = np.maximum(np.max(values, axis=axis, keepdims=True), -1e300)
    with np.errstate(divide="ignore"):
        total: Array = np.log(np.sum(np.exp(values - top), axis=axis)) + np.squeeze(top, axis=axis)
    return total
