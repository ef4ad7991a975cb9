"""Arrays, the normal distribution function and the priors, all on the log scale.

scipy is slow to load, and is loaded when it is used.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Whole = NDArray[np.int64]

ROOT_TWO_PI = math.sqrt(2 * math.pi)
# docs/model.md: normal in the middle, above this many units the tail of Student's t with three degrees of freedom.
HEAVY_FROM, HEAVY_POWER = 3.5, 4.0

__all__ = ["Array", "Centred", "Whole", "below", "log_below", "point"]


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
        found: Array = -z * z / 2
        if self.heavy:
            tail = -(HEAVY_FROM**2) / 2 - HEAVY_POWER * np.log(np.maximum(z, HEAVY_FROM) / HEAVY_FROM)
            found = np.where(z > HEAVY_FROM, tail, found)
        return found - math.log(self.sd)
