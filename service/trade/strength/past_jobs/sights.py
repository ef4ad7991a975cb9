"""What one job shows alone: looked at once under a wide prior, and kept, so that other priors only weigh it anew."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from service.errors import Unsettled
from service.trade.strength.estimate_result import Group, Settings
from service.trade.strength.fit.in_range import in_range
from service.trade.strength.fit.job import job_of, standing
from service.trade.strength.fit.logs import Array
from service.trade.strength.past_jobs.unknowns import HEAVY, priors_of
from service.trade.strength.prior import Prior

# What each job is looked at under; what it adds is taken off again.
_WIDE = Prior(
    median_mpa=3.0, log_sd=1.5, scatter=0.15, scatter_log_sd=0.8, spread=0.30, spread_log_sd=0.8, mixes_log_sd=0.8
)
_NOTHING = 1e-300


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
    def sight(self) -> "Sight | None":
        """What it shows, or None where it teaches nothing or the engine declines it."""
        return _sight(self.groups) if self.teaches else None


@dataclass(frozen=True)
class Counts:
    """Whether a job compares recipes, how many of them were mixed twice, how many blocks stood, and were held."""

    compares: bool
    mixed_recipes: int
    blocks: int
    held: int


@dataclass(frozen=True)
class Sight:
    """What one job shows of each unknown, by node: all that other priors need to weigh its nodes anew.

    ``under``: log weights without the priors that it was looked at with. ``sums``: for each unknown its rows summed up,
    and their squares; 0 where it has none. ``rows``: how many rows each unknown has. ``tails``: the rows themselves
    where the prior is heavy.
    """

    under: Array
    sums: Array
    rows: Array
    tails: Mapping[str, Array]
    counts: Counts


@lru_cache(maxsize=4096)
def _sight(groups: tuple[Group, ...]) -> Sight | None:
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
    for name, prior in priors_of(_WIDE, _WIDE.mixes).items():
        under = under - prior.log_density(values[name]).sum(axis=0)
    stood = [reading for group in groups for reading in standing(group.readings)]
    return Sight(
        under=under,
        sums=np.array([one.sum(axis=0) for row in values.values() for one in (row, row**2)]),
        rows=np.array([len(row) for row in values.values()]),
        tails={name: row for name, row in values.items() if HEAVY[name]},
        counts=Counts(compares, mixed, len(stood), sum(reading.outcome == "held" for reading in stood)),
    )


def _most_standing(groups: Sequence[Group], condition: str) -> int:
    return max(len(standing(group.readings)) for group in groups if group.condition == condition)


def _standing_recipes(groups: Sequence[Group], condition: str) -> int:
    return sum(bool(standing(group.readings)) for group in groups if group.condition == condition)


def _mixed(groups: Sequence[Group], recipe: str) -> bool:
    """Return whether standing blocks of one condition came from several mixes."""
    named = [zip(one.readings, one.mixes, strict=True) for one in groups if one.recipe == recipe and one.mixes]
    return any(len({mix for reading, mix in rows if reading.outcome != "fell apart"}) > 1 for rows in named)
