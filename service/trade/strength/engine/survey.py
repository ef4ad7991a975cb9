"""Where the posterior lies: a coarse survey by its tops, from which every grid takes its range."""

import math
from dataclasses import dataclass

import numpy as np

from service.errors import Unsettled
from service.trade.strength.engine.evidence import Cells, Evidence, Slopes, slopes
from service.trade.strength.engine.normal import Array, log_sum
from service.trade.strength.engine.prior import LogPrior

SIGMA_POINTS = 13
TAU_POINTS = 9
DROP = 14.0
_STEPS = 60
_ZOOMS = 20
_WIDE_ZOOMS = 5
_WIDE, _SHORT = 0.6, 0.25
_FAR_OUT = 1e4
# Logs beyond this are no scatter of any material, and their squares would leave the range of numbers.
_FARTHEST = 110.0


@dataclass(frozen=True)
class Tops:
    """The top of (theta, mu) at given (sigma, tau) points, and what surrounds it.

    Arrays over points, then over conditions (``theta``, ``log_mass``) or groups.
    """

    theta: Array
    mu: Array
    log_mass: Array
    at: Slopes


@dataclass(frozen=True)
class Window:
    """Lowest and highest value a grid covers."""

    low: float
    high: float

    def nodes(self, count: int) -> Array:
        """Return ``count`` evenly spaced values from end to end."""
        return np.linspace(self.low, self.high, count)


@dataclass(frozen=True)
class Survey:
    """Ranges of every unknown: log tau, log sigma by condition, and tables for theta and mu.

    ``theta_low``, ``theta_high``, ``theta_fine`` and ``height`` (the log density, up to a constant) are
    sigma points by tau points by conditions; ``mu_low``,
    ``mu_high`` and ``mu_fine`` (the narrowest bump a grid must resolve) are sigma points by groups.
    """

    log_tau: Array
    log_sigma: Array
    tau_window: Window
    sigma_windows: tuple[Window, ...]
    theta_low: Array
    theta_high: Array
    theta_fine: Array
    mu_low: Array
    mu_high: Array
    mu_fine: Array
    height: Array


def climb(evidence: Evidence, prior: LogPrior, *, sigma: Array, tau: Array) -> Tops:
    """Return the tops at points: ``sigma`` is points by conditions, ``tau`` one a point.

    With sigma and tau fixed the density of theta and all mu is log-concave, so that Newton's steps
    find its one top.

    Parameters
    ----------
    evidence : Evidence
        The readings.
    prior : LogPrior
        What was believed before.
    sigma : Array
        Scatter on the log, points by conditions; above 0.
    tau : Array
        Spread between recipes on the log, one a point; above 0.

    Returns
    -------
    Tops
        The top at every point and the log mass around it by Laplace's approximation.

    Source
    ------
    strength-model

    Examples
    --------
    A reading where the prior is centred leaves both there:

    >>> from service.trade.strength.engine.evidence import gather
    >>> from service.trade.strength.censored_readings import broke
    >>> evidence = gather([(0, 0, [broke(stress_mpa=3.0)])], conditions=1, recipes=1)
    >>> prior = LogPrior(math.log(3), 1.0, math.log(0.15), 0.5, math.log(0.30), 0.5)
    >>> tops = climb(evidence, prior, sigma=np.array([[0.15]]), tau=np.array([0.30]))
    >>> float(abs(tops.mu[0, 0]).round(9)), float(np.exp(tops.theta[0, 0]).round(6))
    (0.0, 3.0)
    """
    own_sigma, wide = sigma[:, evidence.condition], tau[:, None]
    member = _membership(evidence)
    mu = np.zeros((len(tau), evidence.groups)) + _starts(evidence)
    theta = _mean_of_members(evidence, mu + evidence.anchor, member, prior)
    for _ in range(_STEPS):
        at = slopes(evidence, mu=mu, sigma=own_sigma)
        pull = (mu + evidence.anchor - theta[:, evidence.condition]) / wide**2
        stiffness = at.curvature + 1 / wide**2
        free = at.slope - pull
        theta_slope = pull @ member - (theta - prior.theta_mean) / prior.theta_sd**2
        theta_stiffness = (at.curvature / (1 + at.curvature * wide**2)) @ member + 1 / prior.theta_sd**2
        theta_step = (theta_slope + (free / (stiffness * wide**2)) @ member) / theta_stiffness
        mu_step = (free + theta_step[:, evidence.condition] / wide**2) / stiffness
        theta, mu = theta + theta_step, mu + mu_step
        if np.max(np.abs(mu_step) * np.sqrt(stiffness), initial=0.0) < 0.01:
            break
    at = slopes(evidence, mu=mu, sigma=own_sigma)
    return Tops(theta, mu, _laplace(evidence, prior, theta=theta, mu=mu, tau=wide, at=at, member=member), at)


def _membership(evidence: Evidence) -> Array:
    member: Array = (evidence.condition[:, None] == np.arange(evidence.conditions)).astype(float)
    return member


def _starts(evidence: Evidence) -> Array:
    """Return a value of mu for each group inside or beside its readings."""
    total = evidence.exact_count * evidence.exact_mean
    count = evidence.exact_count.copy()
    for cells in (evidence.broke, evidence.held):
        middle = np.where(np.isfinite(cells.low), cells.low, cells.high)
        middle = np.where(np.isfinite(cells.high), (middle + cells.high) / 2, middle)
        np.add.at(total, cells.group, cells.count * middle)
        np.add.at(count, cells.group, cells.count)
    return total / count


def _mean_of_members(evidence: Evidence, mu: Array, member: Array, prior: LogPrior) -> Array:
    size = member.sum(axis=0)
    return np.where(size > 0, (mu @ member) / np.maximum(size, 1), prior.theta_mean)


def _laplace(
    evidence: Evidence, prior: LogPrior, *, theta: Array, mu: Array, tau: Array, at: Slopes, member: Array
) -> Array:
    off = (mu + evidence.anchor - theta[:, evidence.condition]) / tau
    of_group = at.value - off**2 / 2 - 0.5 * np.log(1 + at.curvature * tau**2)
    stiffness = (at.curvature / (1 + at.curvature * tau**2)) @ member + 1 / prior.theta_sd**2
    of_theta = -((theta - prior.theta_mean) ** 2) / (2 * prior.theta_sd**2) - 0.5 * np.log(stiffness)
    return of_group @ member + of_theta


def survey(evidence: Evidence, prior: LogPrior) -> Survey:
    """Return where the posterior lies, widening and narrowing the ranges until every edge is far below the top.

    Parameters
    ----------
    evidence : Evidence
        The readings.
    prior : LogPrior
        What was believed before.

    Returns
    -------
    Survey
        Ranges of log tau, log sigma, theta and mu.

    Raises
    ------
    Unsettled
        If no range holds the posterior.

    Source
    ------
    strength-model

    Examples
    --------
    The scatter that one reading cannot tell stays where the prior has it:

    >>> from service.trade.strength.engine.evidence import gather
    >>> from service.trade.strength.censored_readings import broke
    >>> evidence = gather([(0, 0, [broke(stress_mpa=3.0)])], conditions=1, recipes=1)
    >>> prior = LogPrior(math.log(3), 1.0, math.log(0.15), 0.5, math.log(0.30), 0.5)
    >>> window = survey(evidence, prior).sigma_windows[0]
    >>> window.low < math.log(0.15) < window.high
    True
    """
    tau_window = Window(prior.tau_log_mean - 4 * prior.tau_log_sd, prior.tau_log_mean + 4 * prior.tau_log_sd)
    windows = [_first_window(evidence, prior, condition) for condition in range(evidence.conditions)]
    for zoom in range(_ZOOMS):
        # Wide strides first; then short ones, lest a range be too narrow and too coarse by turns for ever.
        stride = _WIDE if zoom < _WIDE_ZOOMS else _SHORT
        log_tau = tau_window.nodes(TAU_POINTS)
        log_sigma = np.stack([window.nodes(SIGMA_POINTS) for window in windows], axis=1)
        tops = _tops_on_grid(evidence, prior, log_sigma=log_sigma, log_tau=log_tau)
        height, of_tau, of_sigma = _margins(tops, prior, log_sigma=log_sigma, log_tau=log_tau)
        seen = [Sight.of(log_tau, of_tau, stride=stride)] + [
            Sight.of(log_sigma[:, c], of_sigma[:, c], stride=stride) for c in range(evidence.conditions)
        ]
        if all(sight.clear for sight in seen):
            break
        tau_window, windows = seen[0].next, [sight.next for sight in seen[1:]]
    else:
        raise Unsettled("These readings leave the scatter open without end under this prior.")
    return _tables(evidence, prior, tops, log_sigma=log_sigma, log_tau=log_tau, height=height, of_tau=of_tau, seen=seen)


@dataclass(frozen=True)
class Sight:
    """One margin as seen on a coarse grid: whether its edges are clear, and the range to take next."""

    clear: bool
    next: Window

    @staticmethod
    def of(x: Array, log_density: Array, *, stride: float) -> "Sight":
        """Return what a grid ``x`` shows of a margin; an edge not clear moves out by ``stride`` of the reach."""
        inside = np.flatnonzero(log_density > np.max(log_density) - DROP)
        first, last = int(inside[0]), int(inside[-1])
        reach = float(x[-1] - x[0])
        # A top at the edge may lie far outside, so the window grows and does not only move.
        lead = 3.0 if int(np.argmax(log_density)) in (0, len(x) - 1) else stride
        low = float(x[first - 1]) if first > 0 else float(x[0]) - lead * reach
        high = float(x[last + 1]) if last < len(x) - 1 else float(x[-1]) + lead * reach
        clear = first > 0 and last < len(x) - 1 and len(inside) >= 5
        return Sight(clear, Window(max(low, -_FARTHEST), min(high, _FARTHEST)))


def _first_window(evidence: Evidence, prior: LogPrior, condition: int) -> Window:
    """Return a first range of log sigma from the prior and the pooled scatter of the exact or broken readings."""
    square, freedom = 0.0, 0.0
    for group in evidence.members(condition):
        cells = evidence.broke.of(group)
        middle = np.where(np.isfinite(cells.low), (cells.low + cells.high) / 2, cells.high)
        values = np.append(middle, evidence.exact_mean[group])
        counts = np.append(cells.count, evidence.exact_count[group])
        if counts.sum() > 1:
            centre = np.sum(values * counts) / counts.sum()
            square += float(np.sum(counts * (values - centre) ** 2)) + float(evidence.exact_square[group])
            freedom += float(counts.sum()) - 1
    weight = 1 / prior.sigma_log_sd**2
    seen = 0.5 * math.log(square / freedom) if square > 0 else prior.sigma_log_mean
    centre = (prior.sigma_log_mean * weight + seen * 2 * freedom) / (weight + 2 * freedom)
    reach = 6.5 / math.sqrt(weight + 2 * freedom)
    return Window(centre - reach, centre + reach)


def _tops_on_grid(evidence: Evidence, prior: LogPrior, *, log_sigma: Array, log_tau: Array) -> Tops:
    sigma = np.exp(np.repeat(log_sigma, len(log_tau), axis=0))
    tau = np.exp(np.tile(log_tau, len(log_sigma)))
    return climb(evidence, prior, sigma=sigma, tau=tau)


def _margins(tops: Tops, prior: LogPrior, *, log_sigma: Array, log_tau: Array) -> tuple[Array, Array, Array]:
    mass = tops.log_mass.reshape(len(log_sigma), len(log_tau), -1) + prior.log_sigma_density(log_sigma)[:, None, :]
    by_condition = log_sum(mass, axis=0)
    of_tau = prior.log_tau_density(log_tau) + by_condition.sum(axis=1)
    others = of_tau[:, None] - by_condition
    height = mass + others[None]
    return height, of_tau, log_sum(height, axis=1)


def _tables(
    evidence: Evidence,
    prior: LogPrior,
    tops: Tops,
    *,
    log_sigma: Array,
    log_tau: Array,
    height: Array,
    of_tau: Array,
    seen: list[Sight],
) -> Survey:
    shape = (len(log_sigma), len(log_tau))
    tau = np.tile(np.exp(log_tau), len(log_sigma))[:, None]
    low, high, fine = _theta_ranges(evidence, prior, tops, tau)
    near = np.flatnonzero(of_tau > np.max(of_tau) - 9)
    columns = sorted({int(near[0]), int(np.argmax(of_tau)), int(near[-1])})
    picked = np.array([row * shape[1] + column for row in range(shape[0]) for column in columns])
    mu_low, mu_high = _mu_ranges(evidence, prior, tops, picked=picked, sigma_rows=log_sigma, tau=tau)
    close = np.flatnonzero(of_tau > np.max(of_tau) - 3)
    return Survey(
        log_tau=log_tau,
        log_sigma=log_sigma,
        tau_window=seen[0].next,
        sigma_windows=tuple(sight.next for sight in seen[1:]),
        theta_low=low.reshape(*shape, -1),
        theta_high=high.reshape(*shape, -1),
        theta_fine=fine.reshape(*shape, -1),
        mu_low=mu_low.reshape(shape[0], len(columns), -1).min(axis=1),
        mu_high=mu_high.reshape(shape[0], len(columns), -1).max(axis=1),
        mu_fine=_finest(evidence, sigma=np.exp(log_sigma), tau=math.exp(float(log_tau[close[0]]))),
        height=height,
    )


def _theta_ranges(evidence: Evidence, prior: LogPrior, tops: Tops, tau: Array) -> tuple[Array, Array, Array]:
    member = _membership(evidence)

    def sd(curvature: Array) -> Array:
        return 1 / np.sqrt((curvature / (1 + curvature * tau**2)) @ member + 1 / prior.theta_sd**2)

    # Given mu of one group, theta is as narrow as tau and the other groups make it; a grid of theta too
    # coarse for that would show mu as a comb.
    own = tops.at.curvature / (1 + tops.at.curvature * tau**2)
    least = np.where(member[None] > 0, own[:, :, None], np.inf).min(axis=1, initial=np.inf)
    spare = np.where(np.isfinite(least), 1 / tau**2 - least, 0.0)

    reach = math.sqrt(2 * DROP) * 1.1
    low = tops.theta - reach * sd(tops.at.rise_down)
    high = tops.theta + reach * sd(tops.at.rise_up)
    return low, high, 1 / np.sqrt(1 / sd(tops.at.curvature) ** 2 + spare)


def _mu_ranges(
    evidence: Evidence, prior: LogPrior, tops: Tops, *, picked: Array, sigma_rows: Array, tau: Array
) -> tuple[Array, Array]:
    """Return the ends at which mu, given sigma and tau, has fallen far below its top, at the picked points."""
    member = _membership(evidence)
    sigma = np.exp(np.repeat(sigma_rows, len(picked) // len(sigma_rows), axis=0))[:, evidence.condition]
    tau, mu, theta = tau[picked], tops.mu[picked], tops.theta[picked][:, evidence.condition]
    top = tops.at.value[picked]
    ends = []
    for side, curvature in ((-1.0, tops.at.rise_down[picked]), (1.0, tops.at.rise_up[picked])):
        own = curvature / (1 + curvature * tau**2)
        others = (own @ member)[:, evidence.condition] - own + 1 / prior.theta_sd**2
        centre = theta - (mu + evidence.anchor - theta) / (tau**2 * others)
        spread = tau**2 + 1 / others
        ends.append(
            _end(evidence, sigma=sigma, start=mu, top=top, centre=centre - evidence.anchor, spread=spread, side=side)
        )
    return ends[0], ends[1]


def _end(
    evidence: Evidence, *, sigma: Array, start: Array, top: Array, centre: Array, spread: Array, side: float
) -> Array:
    """Return where the log density lies ``DROP`` and a little below its top, never nearer to the top than that."""
    target = 2 * 1.15 * DROP
    peak = top - (start - centre) ** 2 / (2 * spread)
    inner = start
    # The prior alone falls this far by the outer place, and the likelihood, which is log-concave, does not rise.
    outer = start + side * np.sqrt(target * spread) + np.where(side * (centre - start) > 0, centre - start, 0.0)
    at, missed = outer, np.zeros(outer.shape, dtype=bool)
    for _ in range(14):
        here = slopes(evidence, mu=at, sigma=sigma)
        drop = 2 * (peak - here.value + (at - centre) ** 2 / (2 * spread))
        far = drop >= target
        inner, outer = np.where(far, inner, at), np.where(far, at, outer)
        # The root of the drop is a straight line for a normal density, so that one step finds its end.
        root = np.sqrt(np.maximum(drop, 1e-300))
        slope = side * ((at - centre) / spread - here.slope) / root
        newton = at - side * (root - math.sqrt(target)) / np.where(slope > 0, slope, 1.0)
        # From very far the same line is followed from its foot, for a difference of large numbers would lose a needle.
        newton = np.where(root > _FAR_OUT, start + (at - start) * 1.05 * math.sqrt(target) / root, newton)
        usable = far & (slope > 0) & (side * (newton - inner) > 0)
        at = np.where(usable & ~missed, newton, (inner + outer) / 2)
        missed = ~far
        if np.all(np.abs(outer - inner) < 0.05 * np.abs(outer - start)):
            break
    return outer


def _finest(evidence: Evidence, *, sigma: Array, tau: float) -> Array:
    """Return the narrowest standard deviation of mu given the rest, by sigma points and groups."""
    own = sigma[:, evidence.condition]
    count = evidence.exact_count + _sharpness(evidence.broke, evidence.groups)
    held = _sharpness(evidence.held, evidence.groups)
    # Many equal floors make an edge that sharpens with the log of their number only.
    edge = np.minimum(held, 1 + 6 * np.log(np.maximum(held, 1)))
    fine: Array = 1 / np.sqrt((count + edge) / own**2 + 1 / tau**2)
    return fine


def _sharpness(cells: Cells, groups: int) -> Array:
    total = np.zeros(groups)
    np.add.at(total, cells.group, cells.count)
    return total
