"""What a shop's own jobs teach of strength, scatter and mixes before a job: the priors, re-estimated.

Every job is looked at once under a wide prior and kept; other priors then only weigh its nodes anew, so that the
marginal likelihood of all jobs together is climbed by expectation and maximisation in closed steps, and one more job
costs its own look. Held blocks stay "at least" throughout.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import pairwise

import numpy as np

from service.errors import Invalid, Unsettled
from service.trade.strength.estimate_result import Group, Settings
from service.trade.strength.fit.in_range import in_range
from service.trade.strength.fit.job import job_of, standing
from service.trade.strength.fit.logs import HEAVY_FROM, Array, Centred, Whole
from service.trade.strength.fit.tables import light_exp
from service.trade.strength.prior import Prior

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
_STEPS, _LEAPS, _STILL, _FARTHEST, _KEPT_STEPS = 100, 30, 1e-6, 0.5, 6
# So many jobs say about where to look among more.
_SOME = 128
_NOTHING = 1e-300
# What is learned, in order, and whether its prior is heavy far above (docs/model.md).
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
    known = _priors(present, present_batch_sd)
    prior = _prior_of(_climb(sights, known, spread=spread_jobs >= FEWEST_JOBS, mixes=several))
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


_Priors = dict[str, Centred]


@dataclass(frozen=True)
class _Sight:
    """What one job shows of each unknown, by node: all that other priors need to weigh its nodes anew.

    ``under``: log weights without the priors that it was looked at with. ``sums``: for each unknown its rows summed up,
    and their squares; 0 where it has none. ``rows``: how many rows each unknown has. ``tails``: the rows themselves
    where the prior is heavy.
    """

    under: Array
    sums: Array
    rows: Array
    tails: Mapping[str, Array]
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
    tau, beta = unknowns.place("tau"), unknowns.place("beta")
    values = {
        "theta": unknowns.theta(at),
        "sigma": unknowns.log_sigma(at)[scatters],
        "tau": at[[tau] if compares and tau is not None else []],
        "beta": at[[beta] if mixed and beta is not None else []],
    }
    under = np.log(np.maximum(nodes.weight, _NOTHING))
    for name, prior in _priors(_WIDE, _WIDE.mixes).items():
        under = under - prior.log_density(values[name]).sum(axis=0)
    stood = [reading for group in groups for reading in standing(group.readings)]
    return _Sight(
        under=under,
        sums=np.array([one.sum(axis=0) for row in values.values() for one in (row, row**2)]),
        rows=np.array([len(row) for row in values.values()]),
        tails={name: row for name, row in values.items() if _HEAVY[name]},
        compares=compares,
        mixed_recipes=mixed,
        blocks=len(stood),
        held=sum(reading.outcome == "held" for reading in stood),
    )


def _most_standing(groups: Sequence[Group], condition: str) -> int:
    return max(len(standing(group.readings)) for group in groups if group.condition == condition)


def _standing_recipes(groups: Sequence[Group], condition: str) -> int:
    return sum(bool(standing(group.readings)) for group in groups if group.condition == condition)


def _mixed(groups: Sequence[Group], recipe: str) -> bool:
    """Return whether standing blocks of one condition came from several mixes."""
    named = [zip(one.readings, one.mixes, strict=True) for one in groups if one.recipe == recipe and one.mixes]
    return any(len({mix for reading, mix in rows if reading.outcome != "fell apart"}) > 1 for rows in named)


@dataclass(frozen=True)
class _Table:
    """All jobs side by side: ``under`` by job and node, ``sums`` by unknown and all nodes of all jobs."""

    under: Array
    sums: Array
    rows: Array
    tails: Mapping[str, "_Tail"]

    def weights(self, priors: _Priors) -> Array:
        """Return by job and node what it weighs under other priors; each job's weights sum to 1."""
        # Of the square of a difference: what is the same for all nodes of a job falls out with its sum.
        factors = [one for prior in priors.values() for one in (prior.middle / prior.sd**2, -0.5 / prior.sd**2)]
        log_weight = (np.array(factors) @ self.sums).reshape(self.under.shape)
        log_weight += self.under
        for name, tail in self.tails.items():
            tail.set_right(log_weight, priors[name])
        log_weight -= log_weight.max(axis=1, keepdims=True)
        weight = light_exp(log_weight)
        weight /= weight.sum(axis=1, keepdims=True)
        return weight

    def moments(self, weight: Array) -> dict[str, tuple[float, float]]:
        """Return by unknown its mean and standard deviation under weights by job and node; not where no job has it."""
        sums = (self.sums @ weight.ravel()).reshape(-1, 2) / np.maximum(self.rows, 1)[:, None]
        found = {
            name: (mean, math.sqrt(max(0.0, square - mean**2)))
            for name, (mean, square) in zip(_HEAVY, sums.tolist(), strict=True)
        }
        return {name: one for (name, one), rows in zip(found.items(), self.rows, strict=True) if rows}


@dataclass(frozen=True)
class _Tail:
    """Values of one unknown by row and node, and which job each row belongs to."""

    values: Array
    jobs: Whole

    def set_right(self, log_weight: Array, prior: Centred) -> None:
        """Take for the few values far above the heavy tail instead of the normal one."""
        places = np.flatnonzero(self.values > prior.middle + HEAVY_FROM * prior.sd)
        rows, nodes = np.divmod(places, self.values.shape[1])
        far = self.values.ravel()[places]
        off = prior.log_density(far) + ((far - prior.middle) ** 2 / (2 * prior.sd**2) + math.log(prior.sd))
        np.add.at(log_weight, (self.jobs[rows], nodes), off)


def _table(sights: Sequence[_Sight]) -> _Table:
    tails = {}
    for name in sights[0].tails:
        own = [sight.tails[name] for sight in sights]
        values = np.concatenate(own)
        jobs = np.repeat(np.arange(len(own)), [len(one) for one in own])
        tails[name] = _Tail(values, jobs)
    sums = np.stack([sight.sums for sight in sights], axis=1)
    rows = np.sum([sight.rows for sight in sights], axis=0)
    return _Table(np.array([sight.under for sight in sights]), sums.reshape(len(sums), -1), rows, tails)


def _climb(sights: Sequence[_Sight], known: _Priors, *, spread: bool, mixes: bool) -> _Priors:
    """Return the priors under which what was seen is most likely; of many jobs some say first where to look."""
    if len(sights) > 2 * _SOME:
        known = _climb(sights[:: len(sights) // _SOME], known, spread=spread, mixes=mixes)
    table, priors = _table(sights), known
    learns = {"theta": LEAST_LOG_SD, "sigma": LEAST_SD_OF_SD} | ({"tau": LEAST_SD_OF_SD} if spread else {})
    low, high = (math.log(one) for one in BATCH_SD_RANGE)

    def moved(known: _Priors) -> _Priors:
        seen = table.moments(table.weights(known))
        found = {
            name: Centred(seen[name][0], max(least, seen[name][1]), heavy=known[name].heavy)
            for name, least in learns.items()
            if name in seen
        }
        if mixes and "beta" in seen:
            found["beta"] = Centred(min(max(seen["beta"][0], low), high), known["beta"].sd)
        return known | found

    at, floors = (
        _numbers_of(priors),
        _numbers_of({name: Centred(-math.inf, learns.get(name, _NOTHING)) for name in priors}),
    )
    seen: list[tuple[Array, Array]] = []
    for number in range(_STEPS):
        there = _numbers_of(moved(_with_numbers(priors, at)))
        if np.max(np.abs(there - at)) < _STILL:
            return _with_numbers(priors, there)
        seen = [*seen[-_KEPT_STEPS:], (at, there - at)]
        # Leaps settle in a dozen steps; where they do not, small steps always climb.
        leap = _next(seen) if number < _LEAPS else there
        at = np.maximum(leap, floors)
        if np.any(at > leap + _STILL):
            # At a floor nothing moves on: what moved before says nothing of what will.
            seen = []
    return _with_numbers(priors, at)


def _prior_of(known: _Priors) -> Prior:
    theta, sigma, tau, beta = (known[name] for name in _HEAVY)
    return Prior(
        math.exp(theta.middle), theta.sd, math.exp(sigma.middle), sigma.sd, math.exp(tau.middle), tau.sd,
        mixes=math.exp(beta.middle),
    )  # fmt: skip


def _numbers_of(priors: _Priors) -> Array:
    """Return middles, and logs of the standard deviations."""
    return np.array([number for one in priors.values() for number in (one.middle, math.log(one.sd))])


def _with_numbers(priors: _Priors, numbers: Array) -> _Priors:
    rows = numbers.reshape(-1, 2).tolist()
    return {
        name: Centred(middle, math.exp(log_sd), heavy=one.heavy)
        for (name, one), (middle, log_sd) in zip(priors.items(), rows, strict=True)
    }


def _next(seen: Sequence[tuple[Array, Array]]) -> Array:
    """Return where the last steps together point to: Anderson's extrapolation, cut short where it leaps far."""
    at, step = seen[-1]
    if len(seen) < 2:
        return at + step
    moves = np.array([one - before for (before, _), (one, _) in pairwise(seen)]).T
    bends = np.array([one - before for (_, before), (_, one) in pairwise(seen)]).T
    share = np.linalg.lstsq(bends, step, rcond=1e-6)[0]
    leap = step - (moves + bends) @ share
    # A step climbs. Where no point stands still, as towards a floor, only a leap the same way does.
    leap = np.where(leap * step < 0, step, leap)
    found: Array = at + leap * min(1.0, _FARTHEST / max(float(np.max(np.abs(leap))), 1e-300))
    return found


def _priors(prior: Prior, batch_sd: float) -> _Priors:
    known = {
        "theta": (prior.median_mpa, prior.log_sd),
        "sigma": (prior.scatter, prior.scatter_log_sd),
        "tau": (prior.spread, prior.spread_log_sd),
        "beta": (batch_sd, prior.mixes_log_sd),
    }
    return {name: Centred(math.log(middle), sd, heavy=_HEAVY[name]) for name, (middle, sd) in known.items()}
