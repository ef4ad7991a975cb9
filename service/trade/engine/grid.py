"""The posterior of one job on a grid: nodes of (tau, sigma, theta), and mu given each of them."""

import math
from dataclasses import dataclass

import numpy as np

from service.trade.engine.evidence import Evidence, Index, log_likelihood
from service.trade.engine.normal import Array
from service.trade.engine.prior import LogPrior
from service.trade.engine.survey import Survey, Window, log_sum


@dataclass(frozen=True)
class Resolution:
    """How fine a grid is: counts of sigma and tau, steps of theta and mu in their narrowest deviations."""

    sigma: int
    tau: int
    theta_step: float
    mu_step: float
    kept: float


@dataclass(frozen=True)
class Frame:
    """What a grid covers: windows of log tau and log sigma, and of theta and mu as shares of the survey's ranges."""

    tau: Window
    sigma: tuple[Window, ...]
    theta: tuple[Window, ...]
    mu: tuple[Window, ...]


@dataclass(frozen=True)
class GroupGrid:
    """mu of one group: ``mu`` over the anchor and ``joint`` weight, both sigma by mu.

    ``step`` is the spacing of each sigma's row; ``given`` holds one row for each kept node of the
    condition: the distribution of mu there.
    """

    anchor: float
    mu: Array
    step: Array
    joint: Array
    given: Array


@dataclass(frozen=True)
class Plane:
    """One condition: margins of sigma and theta, kept nodes with their weights, and its groups."""

    log_sigma: Array
    sigma_weight: Array
    theta_profile: Array
    node_sigma: Index
    node_tau: Index
    node_theta: Index
    node_weight: Array
    groups: dict[int, GroupGrid]

    def rows(self) -> list[tuple[int, int, int]]:
        """Return, for every sigma, its number and the first and one past the last of its kept nodes."""
        first = np.searchsorted(self.node_sigma, np.arange(len(self.log_sigma) + 1))
        return [(row, int(first[row]), int(first[row + 1])) for row in range(len(self.log_sigma))]


@dataclass(frozen=True)
class Posterior:
    """The whole posterior of one pass."""

    log_tau: Array
    tau_weight: Array
    planes: tuple[Plane, ...]


@dataclass(frozen=True)
class _Draft:
    """A condition before the conditions are joined through tau."""

    log_sigma: Array
    theta: Array
    log_weight: Array
    log_mass: Array
    mu: dict[int, Array]
    likelihood: dict[int, Array]
    kernel: dict[int, Array]
    inner: dict[int, Array]


def integrate(evidence: Evidence, prior: LogPrior, seen: Survey, frame: Frame, fine: Resolution) -> Posterior:
    """Return the posterior on the grid that ``frame`` and ``fine`` ask for."""
    log_tau = frame.tau.nodes(fine.tau)
    drafts = [
        _draft(evidence, prior, seen, frame, fine, condition, log_tau) for condition in range(evidence.conditions)
    ]
    log_weight = prior.log_tau_density(log_tau) + sum(draft.log_mass for draft in drafts)
    tau_weight = np.exp(log_weight - log_sum(log_weight, axis=0))
    planes = tuple(_plane(evidence, draft, tau_weight, fine.kept) for draft in drafts)
    return Posterior(log_tau, tau_weight, planes)


def narrowest(plane: Plane, grid: GroupGrid) -> float:
    """Return the least standard deviation that mu of a group has at any node of weight."""
    heavy = plane.node_weight > 0.01 * np.max(plane.node_weight)
    least = math.inf
    for row, begin, end in plane.rows():
        given = grid.given[begin:end][heavy[begin:end]]
        mean = given @ grid.mu[row]
        least = min(least, float(np.min(given @ grid.mu[row] ** 2 - mean**2, initial=math.inf)))
    return math.sqrt(max(least, 1e-14))


def blend_matrix(nodes: Array, at: Array) -> Array:
    """Return the matrix that reads a table over ``nodes`` at other places, by straight lines."""
    step = (nodes[-1] - nodes[0]) / (len(nodes) - 1)
    place = np.clip((at - nodes[0]) / step, 0, len(nodes) - 1)
    lines: Array = np.maximum(0.0, 1 - np.abs(place[:, None] - np.arange(len(nodes))))
    return lines


def _draft(
    evidence: Evidence,
    prior: LogPrior,
    seen: Survey,
    frame: Frame,
    fine: Resolution,
    condition: int,
    log_tau: Array,
) -> _Draft:
    log_sigma = frame.sigma[condition].nodes(fine.sigma)
    by_sigma = blend_matrix(seen.log_sigma[:, condition], log_sigma)
    by_tau = blend_matrix(seen.log_tau, log_tau).T
    theta, theta_step = _theta_nodes(seen, frame.theta[condition], fine.theta_step, condition, by_sigma, by_tau)
    log_weight = prior.log_theta_density(theta) + np.log(theta_step)[:, :, None]
    log_weight = log_weight + prior.log_sigma_density(log_sigma)[:, None, None]
    draft = _Draft(log_sigma, theta, log_weight, np.empty(0), {}, {}, {}, {})
    tau = np.exp(log_tau)
    for group in evidence.members(condition):
        mu = _mu_nodes(seen, frame.mu[group], fine.mu_step, group, by_sigma)
        log_like = log_likelihood(evidence, group, mu=mu, sigma=np.exp(log_sigma))
        top = np.max(log_like, axis=1, keepdims=True)
        likelihood = np.exp(log_like - top) * (mu[:, 1] - mu[:, 0])[:, None]
        kernel = _kernel(evidence.anchor[group] + mu, theta, tau)
        inner = np.matmul(kernel, likelihood[:, :, None])[:, :, 0]
        with np.errstate(divide="ignore"):
            log_inner = np.log(inner).reshape(theta.shape) + top[:, :, None] - log_tau[:, None]
        log_weight = log_weight + log_inner
        draft.mu[group], draft.likelihood[group] = mu, likelihood
        draft.kernel[group], draft.inner[group] = kernel, inner
    mass = log_sum(log_sum(log_weight, axis=2), axis=0)
    return _Draft(log_sigma, theta, log_weight, mass, draft.mu, draft.likelihood, draft.kernel, draft.inner)


def _theta_nodes(
    seen: Survey, cut: Window, step: float, condition: int, by_sigma: Array, by_tau: Array
) -> tuple[Array, Array]:
    low = by_sigma @ seen.theta_low[:, :, condition] @ by_tau
    high = by_sigma @ seen.theta_high[:, :, condition] @ by_tau
    finest = by_sigma @ seen.theta_fine[:, :, condition] @ by_tau
    low, high = low + cut.low * (high - low), low + cut.high * (high - low)
    count = int(np.clip(np.ceil(np.max((high - low) / finest) / step) + 1, 7, 80))
    shares = np.linspace(0, 1, count)
    return low[:, :, None] + shares * (high - low)[:, :, None], (high - low) / (count - 1)


def _mu_nodes(seen: Survey, cut: Window, step: float, group: int, by_sigma: Array) -> Array:
    low = by_sigma @ seen.mu_low[:, group]
    high = by_sigma @ seen.mu_high[:, group]
    finest = by_sigma @ seen.mu_fine[:, group]
    low, high = low + cut.low * (high - low), low + cut.high * (high - low)
    count = int(np.clip(np.ceil(np.max((high - low) / finest) / step) + 1, 12, 400))
    return low[:, None] + np.linspace(0, 1, count) * (high - low)[:, None]


def _kernel(mu: Array, theta: Array, tau: Array) -> Array:
    """Return the bell of mu around theta: sigma by (tau, theta) by mu."""
    scale = np.sqrt(0.5) / tau
    place = (theta * scale[:, None]).reshape(len(theta), -1)
    off = np.empty((*place.shape, mu.shape[1]))
    scales = np.repeat(scale, theta.shape[2])
    np.multiply(mu[:, None, :], scales[:, None], out=off)
    off -= place[:, :, None]
    np.square(off, out=off)
    np.negative(off, out=off)
    return np.exp(off, out=off)


def _plane(evidence: Evidence, draft: _Draft, tau_weight: Array, kept: float) -> Plane:
    shape = draft.theta.shape
    weight = np.exp(draft.log_weight - draft.log_mass[:, None]) * tau_weight[:, None]
    flat = weight.reshape(shape[0], -1)
    significant = flat > kept * np.max(flat)
    sigma_index, rest = np.nonzero(significant)
    node_weight = flat[significant]
    groups = {}
    for group, mu in draft.mu.items():
        pieces, joint = [], np.empty_like(mu)
        for row in range(shape[0]):
            share = np.where(draft.inner[group][row] > 0, flat[row] / np.maximum(draft.inner[group][row], 1e-300), 0.0)
            joint[row] = (share @ draft.kernel[group][row]) * draft.likelihood[group][row]
            mine = significant[row]
            piece = draft.kernel[group][row][mine] * draft.likelihood[group][row]
            pieces.append(piece / draft.inner[group][row][mine][:, None])
        groups[group] = GroupGrid(
            anchor=float(evidence.anchor[group]),
            mu=mu,
            step=mu[:, 1] - mu[:, 0],
            joint=joint,
            given=np.concatenate(pieces),
        )
    return Plane(
        log_sigma=draft.log_sigma,
        sigma_weight=flat.sum(axis=1),
        theta_profile=weight.max(axis=(0, 1)),
        node_sigma=sigma_index.astype(np.int64),
        node_tau=(rest // shape[2]).astype(np.int64),
        node_theta=(rest % shape[2]).astype(np.int64),
        node_weight=node_weight / node_weight.sum(),
        groups=groups,
    )
