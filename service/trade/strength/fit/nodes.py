"""Nodes of the shared unknowns with their weights: a fixed design about the mode, corrected for what it left out.

The mode and its curvature give a first normal design; what it finds gives mean and covariance of the second, wider one.
Designs are Sobol points with a fixed seed, so that the same job gets the same answer.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from service.trade.strength.fit.logs import Array
from service.trade.strength.fit.sobol import normal_points

LogPosterior = Callable[[Array], Array]

_STEPS, _STILL, _FAR = 40, 0.1, 12.0
_UNIT, _NUDGE, _FLATTEST = 0.5, 0.4, 0.25
_LENGTHS = np.array([1.0, 0.5, 0.2, 0.05])
# The last quarter of the design is wider, so that a tail the normal misses cannot carry weight unseen. Whole blocks of
# a Sobol sequence are even in themselves; every fourth point of it is not.
_WIDE_SHARE, _WIDE = 0.25, 2.0
_SWELL = 1.08


@dataclass(frozen=True)
class Nodes:
    """Shared unknowns by node (one column a node) and their weights, which sum to 1."""

    at: Array
    weight: Array
    log_evidence: float

    @property
    def worth(self) -> float:
        """How many equally weighted nodes they are worth."""
        return float(1 / np.sum(self.weight**2))


def nodes_of(log_posterior: LogPosterior, *, start: Array, scale: Array, many: int) -> Nodes:
    """Return nodes and weights of a posterior.

    Parameters
    ----------
    log_posterior : LogPosterior
        Log density at points, one column a point.
    start : Array
        Where to look for the mode.
    scale : Array
        Standard deviations before the readings, one for each unknown.
    many : int
        Nodes of the last design; a power of 2.

    Returns
    -------
    Nodes
        Always the same for the same posterior.

    Source
    ------
    computed-here : importance sampling from normal designs.

    Examples
    --------
    A standard normal has mean 0:

    >>> found = nodes_of(lambda x: -(x**2).sum(axis=0) / 2, start=np.ones(2), scale=np.ones(2), many=512)
    >>> bool(np.all(np.abs(found.at @ found.weight) < 0.01))
    True
    """
    mean, cov = _laplace(log_posterior, start, scale)
    first = _weighed(log_posterior, mean, cov, many=max(128, many // 4), seed=1)
    mean, cov = _moments(first, mean, cov)
    found = _weighed(log_posterior, mean, cov, many=many, seed=2)
    if found.worth < 0.25 * many:
        mean, cov = _moments(found, mean, cov)
        found = _weighed(log_posterior, mean, cov, many=2 * many, seed=3)
    return found


def _laplace(log_posterior: LogPosterior, start: Array, scale: Array) -> tuple[Array, Array]:
    """Return the mode and the covariance there, by Newton steps on finite differences."""
    at, unit = start.astype(float), np.minimum(scale, _UNIT)
    cov = np.diag(unit**2)
    for _ in range(_STEPS):
        value, slope, curve = _shape(log_posterior, at, unit)
        # In units of what is left, no direction is a valley, and none flatter than the prior leaves it.
        size, axes = np.linalg.eigh(curve)
        size = np.maximum(size, _FLATTEST * np.min(unit / scale) ** 2)
        cov = unit[:, None] * ((axes / size) @ axes.T) * unit
        step = (axes / size) @ (axes.T @ slope)
        length = float(np.sqrt(max(0.0, step @ slope)))
        step = unit * step * min(1.0, _FAR / max(float(np.max(np.abs(step))), 1e-12))
        tries = at[:, None] + step[:, None] * _LENGTHS
        found = log_posterior(tries)
        best = int(np.argmax(found))
        if not found[best] > value:
            break
        at = tries[:, best]
        unit = np.clip(np.sqrt(np.diag(cov)), unit / 3, np.minimum(3 * unit, scale))
        if length < _STILL:
            break
    return at, cov


def _shape(log_posterior: LogPosterior, at: Array, scale: Array) -> tuple[float, Array, Array]:
    """Return value, slope and minus the curvature at a point, in units of ``scale``."""
    size = len(at)
    step = np.eye(size) * _NUDGE
    pairs = [(i, j) for i in range(size) for j in range(i)]
    both = [step[i] + step[j] for i, j in pairs]
    moves = np.array([np.zeros(size), *step, *(-step), *both])
    value = log_posterior(at[:, None] + scale[:, None] * moves.T)
    value = np.where(np.isfinite(value), value, value[0] - 50.0)
    up, down = value[1 : size + 1], value[size + 1 : 2 * size + 1]
    slope = (up - down) / (2 * _NUDGE)
    curve = np.diag(-(up - 2 * value[0] + down) / _NUDGE**2)
    for number, (i, j) in enumerate(pairs):
        cross = value[2 * size + 1 + number] - up[i] - up[j] + value[0]
        # What is left of the forward difference after the own curvatures, taken at the same side.
        curve[i, j] = curve[j, i] = -cross / _NUDGE**2
    return float(value[0]), slope, curve


def _weighed(log_posterior: LogPosterior, mean: Array, cov: Array, *, many: int, seed: int) -> Nodes:
    root = np.linalg.cholesky(cov * _SWELL**2)
    z = normal_points(len(mean), many, seed).copy()
    wide = np.arange(many) >= many * (1 - _WIDE_SHARE)
    z[:, wide] *= _WIDE
    at = mean[:, None] + root @ z
    square = (z**2).sum(axis=0)
    share = float(np.mean(wide))
    narrow = np.log1p(-share) - square / 2
    log_density = np.logaddexp(narrow, np.log(share) - square / (2 * _WIDE**2) - len(mean) * np.log(_WIDE))
    log_density = log_density - np.log(np.diag(root)).sum() - len(mean) * np.log(2 * np.pi) / 2
    log_weight = log_posterior(at) - log_density
    top = float(np.max(log_weight))
    weight = np.exp(log_weight - top)
    return Nodes(at, weight / weight.sum(), top + float(np.log(weight.mean())))


def _moments(found: Nodes, mean: Array, cov: Array) -> tuple[Array, Array]:
    """Return mean and covariance of what was found, drawn towards what was before where few nodes carry it."""
    size = len(mean)
    trust = found.worth / (found.worth + 3 * size)
    new = found.at @ found.weight
    off = found.at - new[:, None]
    seen = (off * found.weight) @ off.T
    return mean + trust * (new - mean), trust * seen + (1 - trust) * cov
