"""The posterior of one job on a grid: nodes of (tau, sigma, theta), and mu given each of them."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.errors import Unsettled
from service.trade.strength.engine.evidence import Evidence, Index, log_likelihood
from service.trade.strength.engine.normal import Array, log_sum
from service.trade.strength.engine.prior import LogPrior
from service.trade.strength.engine.survey import Survey, Window

_MOST_THETA, _MOST_MU = 300, 500
# Where the survey saw less than exp(-_LIGHT) of its top, a node need not be fine.
_LIGHT = 4.0
_WORTH = 1e-10
# One condition of more cells than this would keep a shop waiting for seconds.
_MOST_CELLS = 4e8


@dataclass(frozen=True)
class Resolution:
    """How fine a grid is: counts of sigma and tau, steps of theta and mu in their narrowest deviations."""

    sigma: int
    tau: int
    theta_step: float
    mu_step: float
    kept: float


# The coarse pass, and the one that more blocks are foreseen with.
PASSES = (
    Resolution(sigma=11, tau=9, theta_step=1.1, mu_step=1.1, kept=1e-3),
    Resolution(sigma=14, tau=11, theta_step=0.85, mu_step=0.85, kept=2e-4),
)


@dataclass(frozen=True)
class Frame:
    """What a grid covers: windows of log tau and log sigma, and of theta and mu as shares of the survey's ranges."""

    tau: Window
    sigma: tuple[Window, ...]
    theta: tuple[Window, ...]
    mu: tuple[Window, ...]


@dataclass(frozen=True)
class GroupGrid:
    """mu of one group: ``mu`` over the anchor, its ``likelihood`` and ``joint`` weight, all sigma by mu."""

    anchor: float
    mu: Array
    likelihood: Array
    joint: Array

    @property
    def step(self) -> Array:
        """Return the spacing of each sigma's row."""
        return self.mu[:, 1] - self.mu[:, 0]


@dataclass(frozen=True)
class Plane:
    """One condition: margins of sigma and theta, kept nodes by sigma with their weights, and its groups."""

    log_sigma: Array
    sigma_weight: Array
    theta_profile: Array
    node_sigma: Index
    node_tau: Index
    node_theta: Index
    node_weight: Array
    tau: Array
    theta: Array
    groups: dict[int, GroupGrid]

    def rows(self) -> list[tuple[int, int, int]]:
        """Return, for every sigma with kept nodes, its number and the first and one past the last of them."""
        first = np.searchsorted(self.node_sigma, np.arange(len(self.log_sigma) + 1))
        return [(row, int(i), int(j)) for row, (i, j) in enumerate(pairwise(first)) if i < j]

    def given(self, grid: GroupGrid, row: int, begin: int, end: int) -> Array:
        """Return the distribution of mu of one group at the kept nodes ``begin`` to ``end`` of a sigma."""
        weight = _bell(grid.anchor + grid.mu[row], self.theta[begin:end], self.tau[begin:end]) * grid.likelihood[row]
        share: Array = weight / weight.sum(axis=1, keepdims=True)
        return share


@dataclass(frozen=True)
class Posterior:
    """The whole posterior of one pass."""

    log_tau: Array
    tau_weight: Array
    planes: tuple[Plane, ...]


@dataclass(frozen=True)
class _Draft:
    """A condition before the conditions are joined through tau: arrays are sigma by tau by theta, or sigma by mu."""

    log_sigma: Array
    theta: Array
    log_weight: Array
    mu: dict[int, Array]
    likelihood: dict[int, Array]
    inner: dict[int, Array]

    def log_mass(self) -> Array:
        """Return the log evidence of the condition at every tau."""
        return log_sum(log_sum(self.log_weight, axis=2), axis=0)


def integrate(evidence: Evidence, prior: LogPrior, seen: Survey, frame: Frame, fine: Resolution) -> Posterior:
    """Return the posterior on the grid that ``frame`` and ``fine`` ask for.

    Parameters
    ----------
    evidence : Evidence
        The readings.
    prior : LogPrior
        What was believed before.
    seen : Survey
        What the survey saw.
    frame : Frame
        What is covered.
    fine : Resolution
        How finely.

    Returns
    -------
    Posterior
        Weights of tau, and a plane for every condition.

    Raises
    ------
    Unsettled
        If the grid would take too many cells, or its needles lie too close together.

    Source
    ------
    strength-model

    Examples
    --------
    All weights of tau together are 1:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.engine.grid import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> float(posterior.tau_weight.sum().round(9))
    1.0
    """
    log_tau = frame.tau.nodes(fine.tau)
    drafts = [_draft(evidence, prior, seen, frame, fine, c, log_tau) for c in range(evidence.conditions)]
    log_weight = prior.log_tau_density(log_tau) + sum(draft.log_mass() for draft in drafts)
    tau_weight = np.exp(log_weight - log_sum(log_weight, axis=0))
    planes = tuple(_plane(evidence, draft, log_tau, tau_weight, fine.kept) for draft in drafts)
    return Posterior(log_tau, tau_weight, planes)


def blend_matrix(nodes: Array, at: Array) -> Array:
    """Return the matrix that reads a table over ``nodes`` at other places, by straight lines.

    Parameters
    ----------
    nodes : Array
        Evenly spaced, rising; two or more.
    at : Array
        Where it is read; beyond the ends, the end.

    Returns
    -------
    Array
        One row for every place, rows summing to 1.

    Source
    ------
    computed-here : straight lines.

    Examples
    --------
    Halfway between the first two:

    >>> blend_matrix(np.array([0.0, 1.0, 2.0]), np.array([0.5])).tolist()
    [[0.5, 0.5, 0.0]]
    """
    step = (nodes[-1] - nodes[0]) / (len(nodes) - 1)
    place = np.clip((at - nodes[0]) / step, 0, len(nodes) - 1)
    lines: Array = np.maximum(0.0, 1 - np.abs(place[:, None] - np.arange(len(nodes))))
    return lines


def _draft(
    evidence: Evidence, prior: LogPrior, seen: Survey, frame: Frame, fine: Resolution, condition: int, log_tau: Array
) -> _Draft:
    place = _Place.of(seen, condition, frame.sigma[condition].nodes(fine.sigma), log_tau)
    theta, theta_step = place.theta_nodes(frame.theta[condition], fine.theta_step)
    if (
        theta.size * sum(place.mu_count(g, frame.mu[g], fine.mu_step) for g in evidence.members(condition))
        > _MOST_CELLS
    ):
        raise Unsettled("These readings ask for more work than a worked answer is given.")
    log_weight = prior.log_theta_density(theta) + np.log(theta_step)[:, :, None]
    log_weight = log_weight + prior.log_sigma_density(place.log_sigma)[:, None, None]
    draft = _Draft(place.log_sigma, theta, log_weight, {}, {}, {})
    for group in evidence.members(condition):
        mu = place.mu_nodes(group, frame.mu[group], fine.mu_step)
        log_like = log_likelihood(evidence, group, mu=mu, sigma=np.exp(place.log_sigma))
        top = np.max(log_like, axis=1, keepdims=True)
        likelihood = np.exp(log_like - top) * (mu[:, 1:2] - mu[:, :1])
        inner = _inner(evidence.anchor[group] + mu, likelihood, theta, np.exp(log_tau))
        with np.errstate(divide="ignore"):
            log_weight += np.log(inner) + top[:, :, None] - log_tau[:, None]
        draft.mu[group], draft.likelihood[group], draft.inner[group] = mu, likelihood, inner
    return draft


@dataclass(frozen=True)
class _Place:
    """The survey read at the sigma and tau of one pass, for one condition."""

    seen: Survey
    condition: int
    log_sigma: Array
    by_sigma: Array
    by_tau: Array
    height: Array

    @staticmethod
    def of(seen: Survey, condition: int, log_sigma: Array, log_tau: Array) -> "_Place":
        """Return the place of these nodes; ``height`` is the log density there as the survey saw it, top 0."""
        by_sigma = blend_matrix(seen.log_sigma[:, condition], log_sigma)
        by_tau = blend_matrix(seen.log_tau, log_tau).T
        height = by_sigma @ seen.height[:, :, condition] @ by_tau
        return _Place(seen, condition, log_sigma, by_sigma, by_tau, height - np.max(height))

    def theta_nodes(self, cut: Window, step: float) -> tuple[Array, Array]:
        """Return nodes of theta at every (sigma, tau), and their spacing."""
        low, high, finest = (
            self.by_sigma @ table[:, :, self.condition] @ self.by_tau
            for table in (self.seen.theta_low, self.seen.theta_high, self.seen.theta_fine)
        )
        low, high = low + cut.low * (high - low), low + cut.high * (high - low)
        count = _count((high - low) / finest, self.height, step, most=_MOST_THETA)
        shares = np.linspace(0, 1, count)
        return low[:, :, None] + shares * (high - low)[:, :, None], (high - low) / (count - 1)

    def mu_nodes(self, group: int, cut: Window, step: float) -> Array:
        """Return nodes of mu of one group at every sigma."""
        low, reach = self._mu_reach(group, cut)
        return low[:, None] + np.linspace(0, 1, self.mu_count(group, cut, step)) * reach[:, None]

    def mu_count(self, group: int, cut: Window, step: float) -> int:
        """Return how many nodes mu of one group takes."""
        _, reach = self._mu_reach(group, cut)
        finest = self.by_sigma @ self.seen.mu_fine[:, group]
        return _count(reach / finest, np.max(self.height, axis=1), step, most=_MOST_MU)

    def _mu_reach(self, group: int, cut: Window) -> tuple[Array, Array]:
        low, high = (self.by_sigma @ table[:, group] for table in (self.seen.mu_low, self.seen.mu_high))
        return low + cut.low * (high - low), (cut.high - cut.low) * (high - low)


def _count(reach: Array, height: Array, step: float, *, most: int) -> int:
    """Return how many nodes the widest reach needs, where there is weight enough to matter."""
    widest = float(np.max(reach[height > -_LIGHT])) / step
    if widest > 3 * most:
        # Grids that all miss a needle would agree with each other and be wrong.
        raise Unsettled("These readings lie too close together for their spread to be worked out.")
    return int(np.clip(math.ceil(widest) + 1, 9, most))


def _bell(mu: Array, theta: Array, tau: Array) -> Array:
    """Return the bell of every mu around every theta, each with its tau."""
    scale = np.sqrt(0.5) / tau
    off = np.multiply.outer(scale, mu)
    off -= (theta * scale)[:, None]
    np.square(off, out=off)
    np.negative(off, out=off)
    bell: Array = np.exp(off, out=off)
    return bell


def _inner(mu: Array, likelihood: Array, theta: Array, tau: Array) -> Array:
    """Return the likelihood of one group spread by tau around every theta."""
    taus = np.repeat(tau, theta.shape[2])
    return np.stack([_bell(mu[row], theta[row].ravel(), taus) @ likelihood[row] for row in range(len(mu))]).reshape(
        theta.shape
    )


def _plane(evidence: Evidence, draft: _Draft, log_tau: Array, tau_weight: Array, kept: float) -> Plane:
    shape = draft.theta.shape
    weight = np.exp(draft.log_weight - draft.log_mass()[:, None]) * tau_weight[:, None]
    node_sigma, node_tau, node_theta = np.nonzero(weight > kept * np.max(weight))
    node_weight = weight[node_sigma, node_tau, node_theta]
    groups = {
        group: GroupGrid(
            float(evidence.anchor[group]), mu, draft.likelihood[group], _joint(evidence, draft, group, weight, log_tau)
        )
        for group, mu in draft.mu.items()
    }
    return Plane(
        log_sigma=draft.log_sigma,
        sigma_weight=weight.reshape(shape[0], -1).sum(axis=1),
        theta_profile=weight.max(axis=(0, 1)),
        node_sigma=node_sigma,
        node_tau=node_tau,
        node_theta=node_theta,
        node_weight=node_weight / node_weight.sum(),
        tau=np.exp(log_tau)[node_tau],
        theta=draft.theta[node_sigma, node_tau, node_theta],
        groups=groups,
    )


def _joint(evidence: Evidence, draft: _Draft, group: int, weight: Array, log_tau: Array) -> Array:
    """Return the weight of every (sigma, mu) of one group."""
    mu, inner = draft.mu[group], draft.inner[group]
    joint = np.zeros_like(mu)
    worth = weight > _WORTH * np.max(weight)
    for row in range(len(mu)):
        column, node = np.nonzero(worth[row])
        if len(node):
            share = weight[row, column, node] / inner[row, column, node]
            bell = _bell(evidence.anchor[group] + mu[row], draft.theta[row, column, node], np.exp(log_tau)[column])
            joint[row] = (share @ bell) * draft.likelihood[group][row]
    return joint
