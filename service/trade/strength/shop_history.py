"""What a shop's own jobs teach of strength, scatter and mixes before a job: the priors, re-estimated.

Every job is looked at once under a wide prior and kept; other priors then only weigh its nodes anew, so that the
marginal likelihood of all jobs together is climbed by expectation and maximisation in closed steps, and one more job
costs its own look. Held blocks stay "at least" throughout.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from service.errors import Invalid, Unsettled
from service.trade.strength.estimate_result import Group, Prior, Settings
from service.trade.strength.fit.in_range import in_range
from service.trade.strength.fit.job import job_of, standing
from service.trade.strength.fit.logs import HEAVY_FROM, Array, Centred, Whole
from service.trade.strength.fit.tables import light_exp

# Our own rule: with fewer jobs the spread of what differs from job to job is guesswork.
FEWEST_JOBS = 8
FEWEST_MIXED_RECIPES = 8
# A few alike jobs must not make the next one sure of itself beforehand.
LEAST_LOG_SD, LEAST_SD_OF_SD = 0.25, 0.20
BATCH_SD_RANGE = (0.01, 0.5)

# What each job is fitted under; what it adds is taken off again.
_WIDE = Prior(
    median_mpa=3.0, log_sd=1.5, scatter=0.15, scatter_log_sd=0.8, spread=0.30, spread_log_sd=0.8, mixes_log_sd=0.8
)
_STEPS, _STILL, _FARTHEST = 100, 2e-4, 16.0
_NOTHING = 1e-300
# What is learned, and whether its prior is heavy far above (docs/model.md).
_HEAVY = {"theta": False, "sigma": True, "tau": True, "beta": False}


@dataclass(frozen=True)
class PastJob:
    """One job of the shop: its groups, whose blocks name their mixes."""

    name: str
    groups: tuple[Group, ...]

    @cached_property
    def teaches(self) -> bool:
        """Whether two blocks of one recipe stood in one condition."""
        return any(len(standing(group.readings)) > 1 for group in self.groups)

    @cached_property
    def sight(self) -> "_Sight | None":
        """What it shows, or None where the engine declines it."""
        return _sight(self.groups)


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
        difference between mixes lies from 0.01 to 0.5; how much it differs from job to job stays as published.

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
    service.errors.Invalid: The shop's own history needs 8 jobs with two blocks of one recipe; there are 0.
    """
    seen = list(_seen([job for job in jobs if job.teaches], go_on))
    if len(seen) < FEWEST_JOBS:
        raise Invalid(
            f"The shop's own history needs {FEWEST_JOBS} jobs with two blocks of one recipe; there are {len(seen)}."
        )
    sights = [sight for _, sight in seen]
    spread_jobs = sum(sight.compares for sight in sights)
    mixed = sum(sight.mixed_recipes for sight in sights)
    several = mixed >= FEWEST_MIXED_RECIPES
    prior = _climb(sights, present, present_batch_sd, spread=spread_jobs >= FEWEST_JOBS, mixes=several)
    taken = tuple(job.name for job, _ in seen)
    used = set(taken)
    return History(
        prior=prior,
        batch_sd=prior.mixes if several else present_batch_sd,
        jobs=taken,
        left_aside=tuple(job.name for job in jobs if job.name not in used),
        blocks=sum(sight.blocks for sight in sights),
        held=sum(sight.held for sight in sights),
        spread_jobs=spread_jobs,
        mixed_recipes=mixed,
    )


def _seen(jobs: Sequence[PastJob], go_on: Callable[[], bool]) -> Iterator[tuple[PastJob, "_Sight"]]:
    for done, job in enumerate(jobs):
        if not go_on():
            raise Unsettled(f"{done} of {len(jobs)} jobs are done so far. Look again in a moment.")
        if job.sight is not None:
            yield job, job.sight


@dataclass(frozen=True)
class _Sight:
    """One job under the wide prior: values of each unknown that it speaks of, by name, and log weights by node."""

    values: Mapping[str, tuple[Array, ...]]
    log_weight: Array
    compares: bool
    mixed_recipes: int
    blocks: int
    held: int


@lru_cache(maxsize=4096)
def _sight(groups: tuple[Group, ...]) -> _Sight | None:
    """Return what a job shows, or None where the engine declines it."""
    job = job_of(groups, (), {}, Settings(prior=_WIDE))
    try:
        with in_range():
            nodes = job.roughly
    except Unsettled:
        return None
    at, unknowns = nodes.at, job.unknowns
    scatters = [_most_standing(groups, name) > 1 for name in job.standing_conditions]
    compares = any(_standing_recipes(groups, name) > 1 for name in job.standing_conditions)
    mixed = sum(_mixed(groups, recipe) for recipe in job.standing_recipes)
    theta, sigma = unknowns.theta(at), unknowns.log_sigma(at)
    tau, beta = unknowns.place("tau"), unknowns.place("beta")
    values = {
        "theta": tuple(theta),
        "sigma": tuple(row for row, several in zip(sigma, scatters, strict=True) if several),
        "tau": (at[tau],) if compares and tau is not None else (),
        "beta": (at[beta],) if mixed and beta is not None else (),
    }
    stood = [reading for group in groups for reading in standing(group.readings)]
    held = sum(reading.outcome == "held" for reading in stood)
    return _Sight(values, np.log(np.maximum(nodes.weight, _NOTHING)), compares, mixed, len(stood), held)


def _most_standing(groups: Sequence[Group], condition: str) -> int:
    return max(len(standing(group.readings)) for group in groups if group.condition == condition)


def _standing_recipes(groups: Sequence[Group], condition: str) -> int:
    return sum(bool(standing(group.readings)) for group in groups if group.condition == condition)


def _mixed(groups: Sequence[Group], recipe: str) -> bool:
    """Return whether standing blocks of one condition came from several mixes."""
    named = [zip(one.readings, one.mixes, strict=True) for one in groups if one.recipe == recipe and one.mixes]
    return any(len({mix for reading, mix in rows if reading.outcome != "fell apart"}) > 1 for rows in named)


@dataclass(frozen=True)
class _Rows:
    """One unknown of all jobs, one row each with a value by node, and which job each belongs to.

    ``owners`` are the jobs that have a row; by owner and node, rows summed up: how ``many``, their ``total``, their
    ``squares``, and their log density ``under`` what the jobs were looked at with.
    """

    values: Array
    jobs: Whole
    owners: Whole
    many: Array
    total: Array
    squares: Array
    under: Array

    def log_change(self, prior: Centred) -> Array:
        """Return by owner and node what another prior changes of the log weights."""
        middle, variance = prior.middle, prior.sd**2
        found = self.squares - 2 * middle * self.total
        found += self.many * (middle**2 + 2 * variance * math.log(prior.sd))
        found /= -2 * variance
        found -= self.under
        # Few values lie in a heavy tail: they are set right one by one.
        rows, nodes = np.nonzero(self.values > middle + HEAVY_FROM * prior.sd) if prior.heavy else ((), ())
        if len(rows):
            far = self.values[rows, nodes]
            off = prior.log_density(far) + ((far - middle) ** 2 / (2 * variance) + math.log(prior.sd))
            np.add.at(found, (np.searchsorted(self.owners, self.jobs[rows]), nodes), off)
        return found

    def fitted(self, weight: Array, least: float, kept: Centred) -> Centred:
        """Return the mean and standard deviation that are most likely under weights by job and node."""
        mine = weight[self.owners]
        mean = float((mine * self.total).sum()) / len(self.values)
        square = float((mine * self.squares).sum()) / len(self.values)
        return Centred(mean, max(least, math.sqrt(max(0.0, square - mean**2))), heavy=kept.heavy)


def _rows(sights: Sequence[_Sight], name: str, under: Centred) -> _Rows | None:
    """Return one unknown of all jobs, or None where no job has it."""
    own = [(number, row) for number, sight in enumerate(sights) for row in sight.values[name]]
    if not own:
        return None
    jobs = np.array([number for number, _ in own])
    values = np.array([row for _, row in own])
    owners, begins, many = np.unique(jobs, return_index=True, return_counts=True)
    total, squares, told = (np.add.reduceat(one, begins) for one in (values, values**2, under.log_density(values)))
    return _Rows(values, jobs, owners, many[:, None].astype(float), total, squares, told)


_Priors = dict[str, Centred]


def _climb(sights: Sequence[_Sight], present: Prior, present_batch_sd: float, *, spread: bool, mixes: bool) -> Prior:
    priors, under = _priors(present, present_batch_sd), _priors(_WIDE, _WIDE.mixes)
    every = {name: rows for name in priors if (rows := _rows(sights, name, under[name])) is not None}
    own = np.array([sight.log_weight for sight in sights])
    learns = {"theta": LEAST_LOG_SD, "sigma": LEAST_SD_OF_SD} | ({"tau": LEAST_SD_OF_SD} if spread else {})
    low, high = (math.log(one) for one in BATCH_SD_RANGE)

    def moved(known: _Priors) -> _Priors:
        weight = _weights(own, every, known)
        found = {
            name: every[name].fitted(weight, least, known[name]) for name, least in learns.items() if name in every
        }
        if mixes and "beta" in every:
            middle = every["beta"].fitted(weight, 0.0, known["beta"]).middle
            found["beta"] = Centred(min(max(middle, low), high), known["beta"].sd)
        return known | found

    for _ in range(_STEPS):
        first = moved(priors)
        still = np.max(np.abs(_steps(priors, first))) < _STILL
        priors = first if still else _leapt(priors, first, moved(first))
        if still:
            break
    theta, sigma, tau, beta = (priors[name] for name in ("theta", "sigma", "tau", "beta"))
    return Prior(
        math.exp(theta.middle), theta.sd, math.exp(sigma.middle), sigma.sd, math.exp(tau.middle), tau.sd,
        mixes=math.exp(beta.middle),
    )  # fmt: skip


def _steps(begin: _Priors, end: _Priors) -> Array:
    """Return what was moved: middles, and logs of the standard deviations."""
    rows = [(end[name].middle - one.middle, math.log(end[name].sd / one.sd)) for name, one in begin.items()]
    return np.array(rows)


def _leapt(begin: _Priors, first: _Priors, second: _Priors) -> _Priors:
    """Return where two small steps point to: Varadhan and Roland's squared extrapolation."""
    step, bend = _steps(begin, first), _steps(first, second) - _steps(begin, first)
    length = float(np.linalg.norm(bend))
    times = min(_FARTHEST, max(1.0, float(np.linalg.norm(step)) / length)) if length else 1.0
    leap = 2 * times * step + times**2 * bend
    return {
        name: Centred(one.middle + middle, one.sd * math.exp(spread), heavy=one.heavy)
        for (name, one), (middle, spread) in zip(begin.items(), leap.tolist(), strict=True)
    }


def _priors(prior: Prior, batch_sd: float) -> _Priors:
    known = {
        "theta": (prior.median_mpa, prior.log_sd),
        "sigma": (prior.scatter, prior.scatter_log_sd),
        "tau": (prior.spread, prior.spread_log_sd),
        "beta": (batch_sd, prior.mixes_log_sd),
    }
    return {name: Centred(math.log(middle), sd, heavy=_HEAVY[name]) for name, (middle, sd) in known.items()}


def _weights(own: Array, every: Mapping[str, _Rows], priors: _Priors) -> Array:
    """Return by job and node what it weighs under other priors; each job's weights sum to 1."""
    log_weight = own.copy()
    for name, rows in every.items():
        log_weight[rows.owners] += rows.log_change(priors[name])
    log_weight -= log_weight.max(axis=1, keepdims=True)
    weight = light_exp(log_weight)
    weight /= weight.sum(axis=1, keepdims=True)
    return weight
