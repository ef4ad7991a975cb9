"""What a shop's own jobs teach of strength and scatter before a job: the priors, re-estimated.

Every job is integrated once under a wide prior; other priors then only weigh its nodes anew, so that the
marginal likelihood of all jobs together is climbed by expectation and maximisation in closed steps. Held blocks
stay "at least" throughout.
"""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from service.errors import Invalid, Unsettled
from service.trade.strength.engine.evidence import Index
from service.trade.strength.engine.frame import first_pass
from service.trade.strength.engine.grid import Plane, Posterior, Resolution
from service.trade.strength.engine.job import job_of, standing
from service.trade.strength.engine.normal import Array
from service.trade.strength.estimate_result import Group, Prior, Settings

# Our own rule: with fewer jobs the spread of what differs from job to job is guesswork.
FEWEST_JOBS = 8
FEWEST_MIXED_RECIPES = 8
# A few alike jobs must not make the next one sure of itself beforehand.
LEAST_LOG_SD, LEAST_SD_OF_SD = 0.25, 0.20
BATCH_SD_RANGE = (0.01, 0.5)

# A job that the first leaves too open is looked at under the next; what each adds is taken off again.
_WIDE = (
    Prior(median_mpa=3.0, log_sd=2.0, scatter=0.15, scatter_log_sd=1.0, spread=0.30, spread_log_sd=1.0),
    Prior(median_mpa=3.0, log_sd=1.5, scatter=0.15, scatter_log_sd=0.7, spread=0.30, spread_log_sd=0.7),
    Prior(median_mpa=3.0, log_sd=1.0, scatter=0.15, scatter_log_sd=0.5, spread=0.30, spread_log_sd=0.5),
)
_WIDE_BATCH = (0.07, 0.7)
_FINE = Resolution(sigma=25, tau=17, theta_step=0.8, mu_step=0.8, kept=1e-4)
# Only the margin of tau is taken from mixes, and coarse grids give it well enough.
_COARSE = Resolution(sigma=9, tau=25, theta_step=1.2, mu_step=1.2, kept=1e-3)
_STEPS, _STILL = 500, 1e-4


@dataclass(frozen=True)
class PastJob:
    """One job of the shop: its groups, and for every recipe of several mixes its blocks with a group for each mix."""

    name: str
    groups: tuple[Group, ...]
    mixes: tuple[tuple[Group, ...], ...] = ()


@dataclass(frozen=True)
class History:
    """What all jobs together teach, and which of it they were enough for."""

    prior: Prior
    batch_sd: float
    jobs: tuple[str, ...]
    left_aside: tuple[str, ...]
    blocks: int
    held: int
    spread_jobs: int
    mixed_recipes: int


def learned(
    jobs: Sequence[PastJob], *, present: Prior, present_batch_sd: float, go_on: Callable[[], bool] = lambda: True
) -> History:
    """Return the priors under which the shop's jobs together are most likely.

    Parameters
    ----------
    jobs : Sequence[PastJob]
        All jobs with a crushed block.
    present : Prior
        What stands now; its spread stays where fewer than eight jobs compare two recipes.
    present_batch_sd : float
        The present difference between mixes; it stays where fewer than eight recipes were mixed twice.
    go_on : Callable[[], bool]
        Asked between jobs whether there is time for another; what was worked out of a job is kept for the next call.

    Returns
    -------
    History
        Standard deviations of logarithms are never below 0.25 (strength) and 0.20 (scatter, spread), and the
        difference between mixes lies from 0.01 to 0.5.

    Raises
    ------
    Invalid
        If fewer than eight jobs have two standing blocks of one recipe in one condition.
    Unsettled
        If the time was up before all jobs were worked through.

    Source
    ------
    own-rule : the least numbers and the floors; the rest is marginal likelihood under the strength model.

    Examples
    --------
    >>> learned([], present=Prior(), present_batch_sd=0.05)
    Traceback (most recent call last):
    service.errors.Invalid: The shop's history starts to teach at 8 jobs with two blocks of one recipe; there are 0.
    """
    seen = list(_seen([job for job in jobs if _teaches(job.groups)], go_on))
    if len(seen) < FEWEST_JOBS:
        raise Invalid(
            f"The shop's history starts to teach at {FEWEST_JOBS} jobs with two blocks of one recipe; "
            f"there are {len(seen)}."
        )
    sights = [sight for _, sight in seen]
    readings = [reading for job, _ in seen for group in job.groups for reading in standing(group.readings)]
    spread_jobs = sum(sight.compares for sight in sights)
    prior = _climb(sights, present, spread_too=spread_jobs >= FEWEST_JOBS)
    mixes = [mix for job, _ in seen for mix in job.mixes]
    batch_sd, mixed = _batch_sd(mixes, prior, present_batch_sd, go_on)
    taken = tuple(job.name for job, _ in seen)
    return History(
        prior=prior,
        batch_sd=batch_sd,
        jobs=taken,
        left_aside=tuple(job.name for job in jobs if job.name not in taken),
        blocks=len(readings),
        held=sum(reading.outcome == "held" for reading in readings),
        spread_jobs=spread_jobs,
        mixed_recipes=mixed,
    )


def _seen(jobs: Sequence[PastJob], go_on: Callable[[], bool]) -> Iterator[tuple[PastJob, "_Sight"]]:
    for done, job in enumerate(jobs):
        if not go_on():
            raise Unsettled(f"So far {done} of {len(jobs)} jobs are worked through; look again in a moment.")
        sight = _sight(job.groups)
        if sight is not None:
            yield job, sight


def _teaches(groups: Iterable[Group]) -> bool:
    return any(len(standing(group.readings)) > 1 for group in groups)


@dataclass(frozen=True)
class _Nodes:
    """One condition of a job under the wide prior: nodes and the weight of each given its tau."""

    log_sigma: Array
    theta: Array
    tau: Index
    share: Array
    scatters: bool


@dataclass(frozen=True)
class _Sight:
    """One job under a wide prior, and which."""

    log_tau: Array
    tau_weight: Array
    conditions: tuple[_Nodes, ...]
    compares: bool
    under: "_Logs"


@lru_cache(maxsize=4096)
def _sight(groups: tuple[Group, ...]) -> _Sight | None:
    """Return what a job shows, or None where the engine declines it."""
    found = ((wide, _posterior(groups, wide, _FINE)) for wide in _WIDE)
    under, posterior = next(((wide, one) for wide, one in found if one is not None), (None, None))
    if under is None or posterior is None:
        return None
    names = sorted({group.condition for group in groups})
    upright = {name: [len(standing(g.readings)) for g in groups if g.condition == name] for name in names}
    nodes = tuple(
        _nodes(plane, len(posterior.log_tau), scatters=max(upright[name]) > 1)
        for name, plane in zip(names, posterior.planes, strict=True)
        if any(upright[name])
    )
    compares = any(sum(count > 0 for count in counts) > 1 for counts in upright.values())
    return _Sight(posterior.log_tau, posterior.tau_weight, nodes, compares, _logs(under))


def _posterior(groups: Sequence[Group], prior: Prior, fine: Resolution) -> Posterior | None:
    try:
        return first_pass(job_of(groups, (), {}, Settings(prior=prior)), fine)
    except (Invalid, Unsettled):
        return None


def _nodes(plane: Plane, taus: int, *, scatters: bool) -> _Nodes:
    of_tau = np.bincount(plane.node_tau, weights=plane.node_weight, minlength=taus)
    share = plane.node_weight / of_tau[plane.node_tau]
    return _Nodes(plane.log_sigma[plane.node_sigma], plane.theta, plane.node_tau, share, scatters)


@dataclass
class _Moments:
    """Count, sum and sum of squares of one unknown over all jobs, as expected under the present priors."""

    count: int = 0
    total: float = 0.0
    squares: float = 0.0

    def add(self, weight: Array, value: Array) -> None:
        """Add one unknown with its weights, which sum to 1."""
        self.count += 1
        self.total += float(weight @ value)
        self.squares += float(weight @ value**2)

    def fitted(self, least: float, kept: tuple[float, float]) -> tuple[float, float]:
        """Return the mean and standard deviation that are most likely, or what was where nothing was seen."""
        if not self.count:
            return kept
        mean = self.total / self.count
        return mean, max(least, math.sqrt(max(0.0, self.squares / self.count - mean**2)))


def _climb(sights: Sequence[_Sight], present: Prior, *, spread_too: bool) -> Prior:
    logs = _logs(present)
    for _ in range(_STEPS):
        theta, sigma, tau = _Moments(), _Moments(), _Moments()
        for sight in sights:
            _expect(sight, logs, theta, sigma, tau)
        spread = tau.fitted(LEAST_SD_OF_SD, logs[2]) if spread_too else logs[2]
        moved = (theta.fitted(LEAST_LOG_SD, logs[0]), sigma.fitted(LEAST_SD_OF_SD, logs[1]), spread)
        step = float(np.max(np.abs(np.subtract(moved, logs))))
        logs = moved
        if step < _STILL:
            break
    (median, log_sd), (scatter, scatter_sd), (wide, wide_sd) = logs
    return Prior(math.exp(median), log_sd, math.exp(scatter), scatter_sd, math.exp(wide), wide_sd)


_Logs = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def _logs(prior: Prior) -> _Logs:
    return (
        (math.log(prior.median_mpa), prior.log_sd),
        (math.log(prior.scatter), prior.scatter_log_sd),
        (math.log(prior.spread), prior.spread_log_sd),
    )


def _turn(value: Array, to: tuple[float, float], of: tuple[float, float]) -> Array:
    """Return the log of how much more one normal prior expects a value than another."""
    new = -(((value - to[0]) / to[1]) ** 2) / 2 - math.log(to[1])
    turned: Array = new + ((value - of[0]) / of[1]) ** 2 / 2 + math.log(of[1])
    return turned


def _expect(sight: _Sight, logs: _Logs, theta: _Moments, sigma: _Moments, tau: _Moments) -> None:
    taus = len(sight.log_tau)
    log_weight = np.log(np.maximum(sight.tau_weight, 1e-300)) + _turn(sight.log_tau, logs[2], sight.under[2])
    weighed = []
    for nodes in sight.conditions:
        turn = _turn(nodes.theta, logs[0], sight.under[0]) + _turn(nodes.log_sigma, logs[1], sight.under[1])
        weight = nodes.share * np.exp(turn)
        mass = np.maximum(np.bincount(nodes.tau, weights=weight, minlength=taus), 1e-300)
        log_weight = log_weight + np.log(mass)
        weighed.append(weight / mass[nodes.tau])
    of_tau = np.exp(log_weight - np.max(log_weight))
    of_tau /= of_tau.sum()
    if sight.compares:
        tau.add(of_tau, sight.log_tau)
    for nodes, given in zip(sight.conditions, weighed, strict=True):
        weight = given * of_tau[nodes.tau]
        theta.add(weight / weight.sum(), nodes.theta)
        if nodes.scatters:
            sigma.add(weight / weight.sum(), nodes.log_sigma)


def _batch_sd(
    mixes: Sequence[tuple[Group, ...]], prior: Prior, present: float, go_on: Callable[[], bool]
) -> tuple[float, int]:
    """Return the difference between mixes that is most likely, and how many recipes spoke.

    The mixes of a recipe are to it what recipes are to a job, so that the same integral serves; the
    differences of one mix in several conditions are taken as if they were apart.
    """
    # In steps of a tenth, so that one more job does not have the mixes of all others worked through again.
    median, scatter = (round(value, 1) for value in (math.log(prior.median_mpa), math.log(prior.scatter)))
    wide = Prior(math.exp(median), 2.0, math.exp(scatter), max(0.2, round(prior.scatter_log_sd, 1)), *_WIDE_BATCH)
    at = np.linspace(math.log(BATCH_SD_RANGE[0]), math.log(BATCH_SD_RANGE[1]), 241)
    total, spoke = np.zeros_like(at), 0
    for done, mix in enumerate(mixes):
        if not go_on():
            raise Unsettled(f"So far {done} of {len(mixes)} recipes mixed twice are worked through; look again soon.")
        posterior = _mix_posterior(mix, wide)
        if posterior is None:
            continue
        off = (posterior.log_tau - math.log(_WIDE_BATCH[0])) / _WIDE_BATCH[1]
        likelihood = np.log(np.maximum(posterior.tau_weight, 1e-300)) + off**2 / 2
        least = float(np.max(likelihood)) - 30
        total += np.interp(at, posterior.log_tau, likelihood, left=least, right=least)
        spoke += 1
    if spoke < FEWEST_MIXED_RECIPES:
        return present, spoke
    return float(np.exp(at[np.argmax(total)])), spoke


@lru_cache(maxsize=4096)
def _mix_posterior(mix: tuple[Group, ...], wide: Prior) -> Posterior | None:
    return _posterior(mix, wide, _COARSE)
