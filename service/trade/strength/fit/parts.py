"""What is believed of levels as a sum of normal parts, and the points of such sums."""

import math
from dataclasses import dataclass

import numpy as np

from service.trade.strength.fit.logs import Array, Whole, point
from service.trade.strength.fit.tables import mass_and_density

# Of what a part weighs on average.
_LIGHT = 0.003
_ROUNDS, _NEAR = 40, 1e-5
# So many parts are worth drawing together: in stretches of a quarter of the least sd, with sds a seventh apart.
_MANY, _STRETCH, _LIKE, _MOST_STRETCHES = 600, 0.25, 0.15, 400
_NOTHING = 1e-12


@dataclass(frozen=True)
class Parts:
    """Normal parts of the levels of one recipe in some conditions.

    ``weight`` by part, sums to 1; ``mean`` and ``log_sigma`` by condition and part; ``cov`` by condition, condition and
    part; ``node`` the shared node each belongs to.
    """

    weight: Array
    mean: Array
    cov: Array
    log_sigma: Array
    node: Whole

    def taken(self, keep: Whole) -> "Parts":
        """Return some of the parts; their weights are what they were."""
        return Parts(
            self.weight[keep], self.mean[:, keep], self.cov[:, :, keep], self.log_sigma[:, keep], self.node[keep]
        )

    def pruned(self) -> "Parts":
        """Return the parts without the lightest, which together come to less than a thousandth."""
        kept = self.taken(np.flatnonzero(self.weight * len(self.weight) > _LIGHT))
        return Parts(kept.weight / kept.weight.sum(), kept.mean, kept.cov, kept.log_sigma, kept.node)


def condensed(weight: Array, mean: Array, variance: Array) -> tuple[Array, Array, Array]:
    """Return fewer normal parts that stand for many: those near each other and alike become one.

    Parameters
    ----------
    weight, mean, variance : Array
        By part; weights sum to 1, variances are above 0.

    Returns
    -------
    tuple[Array, Array, Array]
        The same three; few parts are returned as they are.

    Source
    ------
    computed-here : the first two moments are kept in each stretch.

    Examples
    --------
    >>> many = np.full(1000, 1 / 1000)
    >>> [len(one) for one in condensed(many, np.linspace(0.0, 1.0, 1000), np.ones(1000))]
    [5, 5, 5]
    """
    if len(weight) <= _MANY:
        return weight, mean, variance
    log_sd = np.log(variance) / 2
    low, least = float(mean.min()), float(log_sd.min())
    stretch = max(_STRETCH * math.exp(least), (float(mean.max()) - low) / _MOST_STRETCHES)
    place = ((mean - low) / stretch).astype(np.int64)
    place += (int(place.max()) + 1) * ((log_sd - least) / _LIKE).astype(np.int64)
    total: Array = np.bincount(place, weights=weight).astype(float)
    kept = np.flatnonzero(total > _NOTHING)
    total = total[kept]
    middle = np.bincount(place, weights=weight * mean)[kept] / total
    square = np.bincount(place, weights=weight * (variance + (mean - low) ** 2))[kept] / total
    return total, middle, np.maximum(square - (middle - low) ** 2, math.exp(2 * least))


def points(weight: Array, mean: Array, variance: Array, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Return the points of a sum of normal parts below which given shares of it lie.

    Parameters
    ----------
    weight, mean, variance : Array
        By part; weights sum to 1, variances are above 0.
    shares : tuple[float, ...]
        Each above 0 and below 1.

    Returns
    -------
    tuple[float, ...]
        One for each share.

    Source
    ------
    computed-here : Newton's steps, halving where they would leave what is known to hold the point.

    Examples
    --------
    >>> one = np.ones(1)
    >>> [round(x, 4) for x in points(one, 0 * one, one, (0.05, 0.5))]
    [-1.6449, 0.0]
    """
    weight, mean, variance = condensed(weight, mean, variance)
    found = rows_of_points(weight[None], mean[None], variance[None], shares)
    return tuple(float(one) for one in found[0])


def rows_of_points(weight: Array, mean: Array, variance: Array, shares: tuple[float, ...]) -> Array:
    """Return the points of many sums of normal parts at once, each of as many parts.

    Parameters
    ----------
    weight, mean, variance : Array
        By sum and part; the weights of each sum come to 1, variances are above 0.
    shares : tuple[float, ...]
        Each above 0 and below 1.

    Returns
    -------
    Array
        By sum and share.

    Source
    ------
    computed-here : as ``points``.

    Examples
    --------
    >>> one = np.ones((2, 1))
    >>> rows_of_points(one, np.array([[0.0], [1.0]]), one, (0.5,)).round(4).tolist()
    [[0.0], [1.0]]
    """
    sd = np.sqrt(variance)
    wanted = np.array(shares)
    low = np.repeat((mean - 9 * sd).min(axis=1)[:, None], len(shares), axis=1)
    high = np.repeat((mean + 9 * sd).max(axis=1)[:, None], len(shares), axis=1)
    middle = (weight * mean).sum(axis=1)[:, None]
    spread = np.sqrt((weight * (variance + (mean - middle) ** 2)).sum(axis=1))[:, None]
    at: Array = np.clip(middle + spread * point(wanted), low, high)
    finer = 1 / sd
    density_of = (weight * finer)[:, :, None]
    for _ in range(_ROUNDS):
        z = at[:, :, None] - mean[:, None]
        z *= finer[:, None]
        mass, density = mass_and_density(z)
        off = (mass @ weight[:, :, None])[..., 0] - wanted
        if np.max(np.abs(off)) < _NEAR:
            break
        low, high = np.where(off < 0, at, low), np.where(off > 0, at, high)
        step = at - off / np.maximum((density @ density_of)[..., 0], 1e-12)
        at = np.where((step > low) & (step < high), step, (low + high) / 2)
    return at
