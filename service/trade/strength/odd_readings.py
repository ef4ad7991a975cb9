"""A reading that strays from its siblings, by the engine's own scatter and by Grubbs' test: told, and never removed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trade.strength.statistics import spread_of

UNLIKELY = 0.01
GRUBBS_LEVEL = 0.05
FEWEST_SIBLINGS = 2

# The scatter that the strength engine starts from, and how sure it is of it.
PRIOR_SCATTER, PRIOR_LOG_SD = 0.15, 0.5

_erf = np.vectorize(math.erf, otypes=[float])


@dataclass(frozen=True)
class Stray:
    """One reading, by its place in its group, that its siblings would hardly have foretold."""

    place: int
    strength_mpa: float
    tail: float


@dataclass(frozen=True)
class Outlier:
    """The reading farthest from the mean, in standard deviations, and the distance beyond which it strays."""

    place: int
    distance: float
    critical: float

    @property
    def strays(self) -> bool:
        """Whether it lies beyond the critical distance."""
        return self.distance > self.critical


def straying(
    strengths_mpa: Sequence[float],
    *,
    held: Sequence[bool] = (),
    prior_scatter: float = PRIOR_SCATTER,
    prior_log_sd: float = PRIOR_LOG_SD,
) -> tuple[Stray, ...]:
    """Return the readings of one recipe and condition that stray from their siblings.

    Each broken block is foretold from the others: their mean of logarithms is known as far as they tell it, the
    scatter by them and the engine's own prior. Held blocks stand among the siblings at what they held, which
    makes a low block stray less, not more; a held block never strays itself.

    Parameters
    ----------
    strengths_mpa : Sequence[float]
        Readings of one group in MPa, each above 0.
    held : Sequence[bool]
        Whether each was held and not broken; empty if none was.
    prior_scatter : float
        Median of the scatter's prior; above 0.
    prior_log_sd : float
        Its spread on the log scale; above 0.

    Returns
    -------
    tuple[Stray, ...]
        With the two-sided predictive tail, below 0.01; empty with fewer than three readings.

    Source
    ------
    computed-here : normal logarithms, the scatter averaged over what is believed of it.

    Examples
    --------
    Five alike, and one of half their strength:

    >>> [stray.place for stray in straying([4.1, 4.0, 3.9, 4.05, 2.0])]
    [4]
    >>> straying([4.1, 4.0, 3.9, 4.2, 4.4])
    ()
    """
    flags = list(held) or [False] * len(strengths_mpa)
    logs = np.log(np.asarray(strengths_mpa, dtype=float))
    if len(logs) - 1 < FEWEST_SIBLINGS:
        return ()
    found = []
    for place, strength in enumerate(strengths_mpa):
        if flags[place]:
            continue
        tail = _tail(logs[place], np.delete(logs, place), scatter=prior_scatter, log_sd=prior_log_sd)
        if tail < UNLIKELY:
            found.append(Stray(place, strength, tail))
    return tuple(found)


def _tail(one: float, siblings: NDArray[np.float64], *, scatter: float, log_sd: float) -> float:
    """Two-sided tail of one log strength, the scatter averaged over what the siblings say of it."""
    logs = np.linspace(math.log(scatter) - 6 * log_sd, math.log(scatter) + 6 * log_sd, 241)
    sigma = np.exp(logs)
    count = len(siblings)
    squares = float(((siblings - siblings.mean()) ** 2).sum())
    weight = -((logs - math.log(scatter)) ** 2) / (2 * log_sd**2) - (count - 1) * logs - squares / (2 * sigma**2)
    weight = np.exp(weight - weight.max())
    away = abs(one - siblings.mean()) / (sigma * math.sqrt(1 + 1 / count))
    return float((weight * (1 - _erf(away / math.sqrt(2)))).sum() / weight.sum())


def outlier_of(values_mpa: Sequence[float]) -> Outlier | None:
    """Return the reading farthest from the mean, with Grubbs' two-sided critical distance at 5 %; remove nothing.

    Parameters
    ----------
    values_mpa : Sequence[float]
        Readings in MPa, each above 0.

    Returns
    -------
    Outlier or None
        None with fewer than three readings, or when all are the same.

    Raises
    ------
    Invalid
        If there is no reading or one is not above 0.

    Source
    ------
    grubbs : (n - 1) / sqrt n x sqrt(t^2 / (n - 2 + t^2)), t at 0.05 / (2 n) with n - 2 degrees of freedom.

    Examples
    --------
    >>> found = outlier_of([4.0, 4.1, 4.2, 4.0, 1.0])
    >>> found.place, found.strays
    (4, True)
    """
    spread = spread_of(values_mpa)
    n = len(values_mpa)
    if n < 3 or spread.sd <= 1e-12 * spread.mean:
        return None
    from scipy.special import stdtrit

    distances = [abs(value - spread.mean) / spread.sd for value in values_mpa]
    place = max(range(n), key=distances.__getitem__)
    t2 = float(stdtrit(n - 2, GRUBBS_LEVEL / (2 * n))) ** 2
    critical = (n - 1) / math.sqrt(n) * math.sqrt(t2 / (n - 2 + t2))
    return Outlier(place=place, distance=distances[place], critical=critical)
