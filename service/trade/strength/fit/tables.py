"""The normal distribution from tables, for the millions of numbers that a fit asks for.

A library works its functions out number by number; between even steps a straight line is as good as the fit needs and
takes a fifth of the time.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from service.trade.strength.fit.logs import ROOT_TWO_PI, Array, below, log_below, point

# Beyond 9 nothing is left above, and so far below that no such node counts.
_LOWEST, _HIGHEST, _STEPS = -40.0, 9.0, 512
_SHARES = 4096


@dataclass(frozen=True)
class _Table:
    """Values at even steps from ``low`` on, and what each step adds; beyond the ends the last value stands."""

    low: float
    steps: int
    value: Array
    adds: Array

    def at(self, x: Array) -> Array:
        """Return values by straight lines."""
        place, off = self._places(x)
        found: Array = self.adds.take(place)
        found *= off
        found += self.value.take(place)
        return found

    def both(self, x: Array) -> tuple[Array, Array]:
        """Return values and slopes."""
        place, off = self._places(x)
        slope: Array = self.adds.take(place)
        found: Array = self.value.take(place)
        found += slope * off
        slope *= self.steps
        return found, slope

    def _places(self, x: Array) -> tuple[np.ndarray[tuple[int, ...], np.dtype[np.intp]], Array]:
        off: Array = np.subtract(x, self.low, dtype=float)
        off = np.asarray(off)
        off *= self.steps
        np.maximum(off, 0.0, out=off)
        np.minimum(off, len(self.adds) - 1e-9, out=off)
        place = off.astype(np.intp)
        off -= place
        return place, off


def _table(low: float, high: float, steps: int, function: Callable[[Array], Array]) -> _Table:
    x = np.linspace(low, high, round((high - low) * steps) + 1)
    value = function(x)
    return _Table(low, steps, value, np.diff(value))


@lru_cache(maxsize=1)
def _masses() -> _Table:
    return _table(-_HIGHEST, _HIGHEST, _STEPS, below)


@lru_cache(maxsize=1)
def _logs() -> _Table:
    # Without its square what is left of the log is so nearly straight that lines lose nothing far out.
    return _table(_LOWEST, _HIGHEST, _STEPS, lambda z: log_below(z) + np.minimum(z, 0.0) ** 2 / 2)


@lru_cache(maxsize=1)
def _ratios() -> _Table:
    return _table(_LOWEST, _HIGHEST, _STEPS, lambda z: np.exp(-z * z / 2 - log_below(z)) / ROOT_TWO_PI)


@lru_cache(maxsize=1)
def _points() -> _Table:
    end = 0.5 / _SHARES
    return _table(0.0, 1.0, _SHARES, lambda share: point(np.clip(share, end, 1 - end)))


def mass_below(z: Array) -> Array:
    """Return the standard normal mass below ``z``, to within 2e-7.

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
    computed-here : straight lines between values of the normal distribution function.

    Examples
    --------
    >>> mass_below(np.array([0.0, 40.0])).round(6).tolist()
    [0.5, 1.0]
    """
    return _masses().at(z)


def mass_and_density(z: Array) -> tuple[Array, Array]:
    """Return the standard normal mass below ``z``, and its density there, to within 2e-7 and 3e-4.

    Parameters
    ----------
    z : Array
        Standard deviations above the mean.

    Returns
    -------
    tuple[Array, Array]
        Alike in shape.

    Source
    ------
    computed-here : straight lines between values of the normal distribution function.

    Examples
    --------
    >>> [float(one[0].round(3)) for one in mass_and_density(np.zeros(1))]
    [0.5, 0.399]
    """
    return _masses().both(z)


def log_mass_below(z: Array) -> Array:
    """Return the log of the standard normal mass below ``z``, to within 3e-7 down to -40.

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
    computed-here : straight lines between values of the normal distribution function.

    Examples
    --------
    >>> log_mass_below(np.array([0.0])).round(6).tolist()
    [-0.693147]
    """
    found = _logs().at(z)
    tail = np.minimum(z, 0.0)
    tail *= tail
    tail /= 2
    found -= tail
    return found


def density_over_mass(z: Array) -> Array:
    """Return the standard normal density over the mass below ``z``.

    Parameters
    ----------
    z : Array
        Standard deviations above the mean.

    Returns
    -------
    Array
        Never below 0; far down it is the distance itself.

    Source
    ------
    computed-here : straight lines between values of the normal distribution function.

    Examples
    --------
    >>> density_over_mass(np.array([0.0, -100.0])).round(3).tolist()
    [0.798, 100.0]
    """
    return np.maximum(_ratios().at(z), -z)


def rough_point(share: Array) -> Array:
    """Return about the point of the standard normal below which a share lies: to within 1e-3 from 0.01 to 0.99.

    Parameters
    ----------
    share : Array
        From 0 to 1.

    Returns
    -------
    Array
        Between -3.7 and 3.7.

    Source
    ------
    computed-here : straight lines between values of the inverse of the normal distribution function.

    Examples
    --------
    >>> rough_point(np.array([0.5, 0.95])).round(3).tolist()
    [0.0, 1.645]
    """
    return _points().at(share)


def light_exp(x: Array) -> Array:
    """Return the exponential to within 1e-5 of itself, of numbers that are not above 0.

    Parameters
    ----------
    x : Array
        0 or less.

    Returns
    -------
    Array
        From 0 to 1.

    Source
    ------
    computed-here : in single precision.

    Examples
    --------
    >>> light_exp(np.array([0.0, -1.0])).round(4).tolist()
    [1.0, 0.3679]
    """
    found: Array = np.exp(np.maximum(x, _NOTHING), dtype=np.float32).astype(float)
    return found


_NOTHING = math.log(1e-37)
