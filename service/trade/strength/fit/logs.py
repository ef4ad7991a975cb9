"""Arrays, the normal distribution function and the priors, all on the log scale.

scipy is slow to load, and is loaded when it is used.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

ROOT_TWO_PI = math.sqrt(2 * math.pi)
# docs/model.md: normal in the middle, above this many units the tail of Student's t with three degrees of freedom.
HEAVY_FROM, HEAVY_POWER = 3.5, 4.0

__all__ = ["Array", "Centred", "Whole", "below", "hermite", "legendre", "log_below", "point"]


@lru_cache(maxsize=16)
def hermite(many: int) -> tuple[Array, Array]:
    """Return nodes of the standard normal and their weights, which sum to 1.

    Parameters
    ----------
    many : int
        How many; 1 or more.

    Returns
    -------
    tuple[Array, Array]
        Not to be written to.

    Source
    ------
    computed-here : Gauss and Hermite's rule.

    Examples
    --------
    >>> [one.round(3).tolist() for one in hermite(3)]
    [[-1.732, 0.0, 1.732], [0.167, 0.667, 0.167]]
    """
    return _frozen(*np.polynomial.hermite_e.hermegauss(many))


@lru_cache(maxsize=16)
def legendre(many: int) -> tuple[Array, Array]:
    """Return nodes between 0 and 1 and their weights, which sum to 1.

    Parameters
    ----------
    many : int
        How many; 1 or more.

    Returns
    -------
    tuple[Array, Array]
        Not to be written to.

    Source
    ------
    computed-here : Gauss and Legendre's rule.

    Examples
    --------
    >>> [one.tolist() for one in legendre(1)]
    [[0.5], [1.0]]
    """
    x, weight = np.polynomial.legendre.leggauss(many)
    return _frozen((x + 1) / 2, weight)


def _frozen(x: Array, weight: Array) -> tuple[Array, Array]:
    weight = weight / weight.sum()
    x.flags.writeable = weight.flags.writeable = False
    return x, weight


def below(z: Array) -> Array:
    """Return the standard normal mass below ``z``.

    Parameters
    ----------
    z : Array
        Standard deviations above the mean.

    Returns
    -------
    Array
        From 0 to 1.

    Source
    ------
    computed-here : the normal distribution function.

    Examples
    --------
    >>> float(below(np.array(0.0)))
    0.5
    """
    from scipy.special import ndtr

    found: Array = ndtr(z)
    return found


def log_below(z: Array) -> Array:
    """Return the log of the standard normal mass below ``z``, exact far into the tail.

    Parameters
    ----------
    z : Array
        Standard deviations above the mean.

    Returns
    -------
    Array
        Logarithms.

    Source
    ------
    computed-here : the normal distribution function.

    Examples
    --------
    >>> round(float(log_below(np.array(0.0))), 6)
    -0.693147
    """
    from scipy.special import log_ndtr

    found: Array = log_ndtr(z)
    return found


def point(share: Array) -> Array:
    """Return the point of the standard normal below which a share lies.

    Parameters
    ----------
    share : Array
        Above 0, below 1.

    Returns
    -------
    Array
        Standard deviations above the mean.

    Source
    ------
    computed-here : the inverse of the normal distribution function.

    Examples
    --------
    >>> round(float(point(np.array(0.95))), 4)
    1.6449
    """
    from scipy.special import ndtri

    found: Array = ndtri(share)
    return found


@dataclass(frozen=True)
class Centred:
    """A prior on the log scale: middle, standard deviation, and whether it is heavy far above."""

    middle: float
    sd: float
    heavy: bool = False

    def log_density(self, value: Array) -> Array:
        """Return the log density, up to a constant."""
        z = (value - self.middle) / self.sd
        found: Array = np.asarray(-z * z / 2, dtype=float)
        if self.heavy:
            far = z > HEAVY_FROM
            # Few are: their logs are taken alone.
            if np.any(far):
                found[far] = -(HEAVY_FROM**2) / 2 - HEAVY_POWER * np.log(z[far] / HEAVY_FROM)
        return found - math.log(self.sd)
