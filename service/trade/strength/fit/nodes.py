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

_STEPS, _STILL, _ROUGHLY_STILL, _FAR = 40, 0.1, 1.0, 6.0
_UNIT, _NUDGE, _FLATTEST = 0.5, 0.4, 0.5
_LENGTHS = (1.0, 0.5, 0.2, 0.05)
# The last quarter of the design is wider, so that a tail the normal misses cannot carry weight unseen. Whole blocks of
# a Sobol sequence are even in themselves; every fourth point of it is not.
_WIDE_SHARE, _WIDE = 0.25, 2.0
_SWELL = 1.08
# So many small designs, each about what the one before found, until this share of one carries what is believed.
_DESIGNS, _MORE_DESIGNS, _FIRST, _FITS = 3, 6, 256, 0.15
_LEAST_POWER = 1e-3
# Fewer nodes than this say nothing of an interval, and no figure is better than one of theirs.
_LEAST_WORTH = 24.0


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


def nodes_of(log_posterior: LogPosterior, *, rough: LogPosterior, start: Array, scale: Array, many: int) -> Nodes:
    """Return nodes and weights of a posterior.

    Parameters
    ----------
    log_posterior : LogPosterior
        Log density at points, one column a point.
    rough : LogPosterior
        About the same, quicker: it says where to look closer, and counts for nothing else.
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

    Raises
    ------
    FloatingPointError
        If too few of the nodes carry any weight.

    Source
    ------
    computed-here : importance sampling from normal designs.

    Examples
    --------
    A standard normal has mean 0:

    >>> normal = lambda x: -(x**2).sum(axis=0) / 2
    >>> found = nodes_of(normal, rough=normal, start=np.ones(2), scale=np.ones(2), many=512)
    >>> bool(np.all(np.abs(found.at @ found.weight) < 0.01))
    True
    """
    first, mean, cov = _designed(rough, start, scale, many=max(_FIRST, many // 4))
    mean, cov = _moments(first, mean, cov)
    found = _weighed(log_posterior, mean, cov, many=many, seed=_DESIGNS + 1)
    if found.worth < 0.25 * many:
        mean, cov = _moments(found, mean, cov)
        found = _weighed(log_posterior, mean, cov, many=2 * many, seed=_DESIGNS + 2)
    return _carried(found)


def few_nodes_of(rough: LogPosterior, *, start: Array, scale: Array) -> Nodes:
    """Return 256 nodes and weights of a posterior, as good as the quick look at it.

    Parameters
    ----------
    rough : LogPosterior
        Log density at points, one column a point.
    start, scale : Array
        As in ``nodes_of``.

    Returns
    -------
    Nodes
        Always the same for the same posterior.

    Raises
    ------
    FloatingPointError
        If too few of the nodes carry any weight.

    Source
    ------
    computed-here : importance sampling from normal designs.

    Examples
    --------
    >>> found = few_nodes_of(lambda x: -(x**2).sum(axis=0) / 2, start=np.ones(2), scale=np.ones(2))
    >>> bool(np.all(np.abs(found.at @ found.weight) < 0.02))
    True
    """
    return _carried(_designed(rough, start, scale, many=_FIRST, still=_ROUGHLY_STILL, designs=_MORE_DESIGNS)[0])


def _carried(found: Nodes) -> Nodes:
    if not found.worth >= _LEAST_WORTH:
        raise FloatingPointError("too few nodes carry what is believed")
    return found


def _designed(
    log_posterior: LogPosterior,
    start: Array,
    scale: Array,
    *,
    many: int,
    still: float = _STILL,
    designs: int = _DESIGNS,
) -> tuple[Nodes, Array, Array]:
    """Return the first design that carries enough, with the mean and covariance it was made about."""
    mean, cov = _laplace(log_posterior, start, scale, still)
    found = _weighed(log_posterior, mean, cov, many=many, seed=1)
    for seed in range(2, designs + 1):
        if found.worth >= _FITS * many:
            break
        mean, cov = _moments(found, mean, cov)
        found = _weighed(log_posterior, mean, cov, many=many, seed=seed)
    return found, mean, cov


def _laplace(log_posterior: LogPosterior, start: Array, scale: Array, still: float) -> tuple[Array, Array]:
    """Return the mode and the covariance there, by Newton steps on differences along what is left in each direction."""
    at, root = start.astype(float), np.diag(np.minimum(scale, _UNIT))
    value, slope, curve = _shape(log_posterior, at, root)
    for _ in range(_STEPS):
        # In units of the priors no direction is a valley, and none much flatter than the priors leave it.
        back = np.linalg.inv(root / scale[:, None])
        size, axes = np.linalg.eigh(back.T @ curve @ back)
        size = np.maximum(size, _FLATTEST)
        along = axes.T @ (back.T @ slope)
        cov = scale[:, None] * ((axes / size) @ axes.T) * scale
        step = scale * ((axes / size) @ along)
        length = float(np.sqrt(np.sum(along**2 / size)))
        if length < still:
            return at + step, cov
        step *= min(1.0, _FAR / length)
        root = np.linalg.cholesky(cov)
        for share in _LENGTHS:
            there = _shape(log_posterior, at + share * step, root)
            if there[0] > value:
                break
        else:
            return at, cov
        at, (value, slope, curve) = at + share * step, there
    return at, cov


def _shape(log_posterior: LogPosterior, at: Array, root: Array) -> tuple[float, Array, Array]:
    """Return value, slope and minus the curvature at a point, in units of ``root``: one column a direction."""
    size = len(at)
    step = np.eye(size) * _NUDGE
    pairs = [(i, j) for i in range(size) for j in range(i)]
    both = [step[i] + step[j] for i, j in pairs]
    moves = np.array([np.zeros(size), *step, *(-step), *both, *(-one for one in both)])
    value = log_posterior(at[:, None] + root @ moves.T)
    if not np.isfinite(value[0]):
        return -np.inf, np.zeros(size), np.eye(size)
    value = np.where(np.isfinite(value), value, value[0] - 50.0)
    up, down = value[1 : size + 1], value[size + 1 : 2 * size + 1]
    slope = (up - down) / (2 * _NUDGE)
    own = (up - 2 * value[0] + down) / _NUDGE**2
    curve = np.diag(-own)
    many = len(pairs)
    for number, (i, j) in enumerate(pairs):
        there, opposite = value[2 * size + 1 + number], value[2 * size + 1 + many + number]
        # Both sides at once, so that a third derivative leaves nothing behind.
        across = (there - 2 * value[0] + opposite) / _NUDGE**2
        curve[i, j] = curve[j, i] = -(across - own[i] - own[j]) / 2
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
    weight = _tempered(found.weight, 6.0 * size)
    worth = float(1 / np.sum(weight**2))
    trust = worth / (worth + 3 * size)
    new = found.at @ weight
    off = found.at - new[:, None]
    seen = (off * weight) @ off.T
    return mean + trust * (new - mean), trust * seen + (1 - trust) * cov


def _tempered(weight: Array, least: float) -> Array:
    """Return weights evened out, as little as is needed for so many nodes to carry them."""
    power = 1.0
    found = weight
    while 1 / np.sum(found**2) < min(least, len(weight) / 2) and power > _LEAST_POWER:
        power /= 2
        found = weight**power
        found = found / found.sum()
    return found
