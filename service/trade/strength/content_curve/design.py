"""Which settings of the spreads are looked at, and what each weighs: around the likeliest, as wide as is left open.

The likeliest setting is climbed to by Newton's method on differences; around it a fixed lattice of points with heavier
tails than the posterior has, each weighed by how likely it truly is. Nothing is drawn by chance.
"""

from dataclasses import dataclass

import numpy as np

from service.errors import Unsettled
from service.trade.strength.content_curve.cells import Cells
from service.trade.strength.content_curve.curve_prior import CurvePrior, log_heavy_above
from service.trade.strength.content_curve.integrals import special
from service.trade.strength.content_curve.sites import Posterior, Spreads, log_evidence, posterior
from service.trade.strength.fit.logs import Array

_CLIMBS, _STEP, _THERE = 25, 0.15, 0.01
_WIDER, _TAIL = 1.15, 7.0
_POINTS, _WORK = 256, 4e7


@dataclass(frozen=True)
class Fit:
    """Settings with their weights, and what the readings say at each."""

    cells: Cells
    prior: CurvePrior
    spreads: Spreads
    weight: Array
    posterior: Posterior


def fit(cells: Cells, prior: CurvePrior) -> Fit:
    """Return the posterior of a series as a weighted set of settings.

    Parameters
    ----------
    cells : Cells
        The readings; at least one cell.
    prior : CurvePrior
        What is believed beforehand.

    Returns
    -------
    Fit
        Weights sum to 1.

    Raises
    ------
    Unsettled
        If no likeliest setting is found.

    Source
    ------
    ep-gaussian

    Examples
    --------
    >>> from service.trade.strength.content_curve.cells import Row, gather
    >>> from service.trade.strength.censored_readings import broke
    >>> cells = gather([Row(0.06, "dry", (broke(stress_mpa=3.0),))])
    >>> float(fit(cells, CurvePrior()).weight.sum().round(9))
    1.0
    """
    among = _Space(cells, prior)
    top, spread = among.likeliest()
    points = lattice(_count(len(cells.share)), among.width)
    heavy = special().stdtrit(_TAIL, points)
    places = top + _WIDER * heavy @ spread.T
    spreads = among.spreads(places)
    found = posterior(cells, spreads, prior)
    log_weight = found.log_evidence + among.log_prior(places) + (_TAIL + 1) / 2 * np.log1p(heavy**2 / _TAIL).sum(axis=1)
    weight = np.exp(log_weight - log_weight.max())
    return Fit(cells, prior, spreads, weight / weight.sum(), found)


def lattice(count: int, width: int) -> Array:
    """Return points that fill the unit cube evenly, the same ones every time.

    Parameters
    ----------
    count, width : int
        How many points of how many numbers; above 0.

    Returns
    -------
    Array
        count x width, above 0 and below 1.

    Source
    ------
    kronecker-lattice

    Examples
    --------
    >>> lattice(2, 1).round(3).tolist()
    [[0.118], [0.736]]
    """
    # The generalised golden ratio of a dimension solves r^(width + 1) = r + 1.
    ratio = 2.0
    for _ in range(60):
        ratio = (1 + ratio) ** (1 / (width + 1))
    steps = (1 / ratio) ** np.arange(1, width + 1)
    found: Array = np.mod(0.5 + np.outer(np.arange(1, count + 1), steps), 1.0)
    return np.clip(found, 1e-6, 1 - 1e-6)


def _count(cells: int) -> int:
    return int(np.clip(_WORK / cells**3, 32, _POINTS))


class _Space:
    """Logs of the spreads in prior standard deviations from their medians: scatter by condition, then what a job shows.

    What it cannot tell apart is left out: its own way in one condition, where there is but one.
    """

    def __init__(self, cells: Cells, prior: CurvePrior) -> None:
        self.cells, self.prior, self.many = cells, prior, len(cells.conditions)
        shared = [(prior.off_curve, prior.off_curve_log_sd), (prior.mixes, prior.mixes_log_sd)]
        own_way = [(prior.own_way, prior.own_way_log_sd)] if self.many > 1 else []
        every = [(prior.scatter, prior.scatter_log_sd)] * self.many + shared + own_way
        self.width = len(every)
        self.median, self.sd = np.log([median for median, _ in every]), np.array([sd for _, sd in every])

    def spreads(self, places: Array) -> Spreads:
        found = np.exp(self.median + self.sd * places)
        many = self.many
        own_way = found[:, many + 2] if many > 1 else np.zeros(len(places))
        return Spreads(found[:, :many], found[:, many], own_way, found[:, many + 1])

    def log_prior(self, places: Array) -> Array:
        """Heavy far above where readings may contradict what was believed: scatter, and how far shares lie off."""
        heavy = log_heavy_above(places[:, : self.many + 1])
        found: Array = heavy.sum(axis=1) - np.sum(places[:, self.many + 1 :] ** 2, axis=1) / 2
        return found

    def log_density(self, places: Array) -> Array:
        found: Array = log_evidence(self.cells, self.spreads(places), self.prior) + self.log_prior(places)
        return found

    def likeliest(self) -> tuple[Array, Array]:
        """Return the likeliest place and a root of the covariance around it."""
        place = np.zeros(self.width)
        for _ in range(_CLIMBS):
            here, slope, bend = self._shape(place)
            values, axes = np.linalg.eigh(-bend)
            curved = np.maximum(values, 0.2)
            step = axes @ ((axes.T @ slope) / curved)
            if np.max(np.abs(step)) < _THERE:
                return place, axes / np.sqrt(curved)
            step /= max(1.0, float(np.max(np.abs(step))) / 2)
            lengths = 0.5 ** np.arange(6)
            tried = self.log_density(place + lengths[:, None] * step)
            best = int(np.argmax(tried))
            if tried[best] <= here + 1e-9:
                return place, axes / np.sqrt(curved)
            place = place + lengths[best] * step
        raise Unsettled("These readings do not let the curve be worked out within tolerance.")

    def _shape(self, place: Array) -> tuple[float, Array, Array]:
        """Return height, slope and curvature by differences, all places in one call."""
        width, eye = self.width, _STEP * np.eye(self.width)
        pairs = [(i, j) for i in range(width) for j in range(i)]
        crossed = [eye[i] + eye[j] for i, j in pairs]
        found = self.log_density(place + np.array([np.zeros(width), *eye, *-eye, *crossed]))
        here, up, down = float(found[0]), found[1 : width + 1], found[width + 1 : 2 * width + 1]
        bend = np.diag((up - 2 * here + down) / _STEP**2)
        for (i, j), value in zip(pairs, found[2 * width + 1 :], strict=True):
            # A mixed difference taken on one side only; the two curvatures take its error off.
            one = value - up[i] - up[j] + here
            bend[i, j] = bend[j, i] = one / _STEP**2
        return here, (up - down) / (2 * _STEP), bend
