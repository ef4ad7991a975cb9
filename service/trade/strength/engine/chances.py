"""Every probability of a limit: each alone, all of a recipe at once, and the cheapest that will do."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from service.trade.strength.engine.bars import Bar, Lattice, assurance, lattice, passing_at_nodes
from service.trade.strength.engine.grid import Plane, Posterior, narrowest
from service.trade.strength.engine.job import Job
from service.trade.strength.engine.order import Hurdle, all_at_once, cheapest
from service.trade.strength.estimate_result import Limit
from service.trade.strength.limit_rules import speaks_for


@dataclass(frozen=True)
class Chances:
    """Probabilities by recipe and limit, and by recipe; None where nothing measured speaks."""

    of_limit: Mapping[tuple[str, str], float | None]
    of_all: Mapping[str, float | None]
    cheapest: Mapping[str, float | None]


def chances(job: Job, posterior: Posterior, *, more: int) -> Chances:
    """Return every probability of the job's limits, with ``more`` nodes where conditions are joined.

    Parameters
    ----------
    job : Job
        The job.
    posterior : Posterior
        Of one pass.
    more : int
        Nodes more than usual where conditions are joined; 0 or more, or less on the first pass.

    Returns
    -------
    Chances
        By recipe and limit, and by recipe.

    Source
    ------
    strength-model

    Examples
    --------
    Five blocks of 3 MPa against 1 MPa:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Limit, Settings
    >>> limit = Limit("least", "dry", "mean", 1.0, 5)
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], [limit], {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> found = chances(job, posterior, more=0).of_all["A"]
    >>> found is not None and found > 0.99
    True
    """
    planes = dict(zip(sorted(job.conditions), posterior.planes, strict=True))
    ladder = _ladder(job, planes)
    of_limit = {
        (recipe, limit.name): _alone(job, planes, ladder, recipe, limit)
        for recipe in job.recipes
        for limit in job.limits
    }
    known = {
        r: bool(job.limits) and all(of_limit[r, limit.name] is not None for limit in job.limits) for r in job.recipes
    }
    by_name = sorted(job.recipes)
    hurdles = [
        _hurdle(job, planes[condition], ladder, condition, [r for r in by_name if known[r]])
        for condition in sorted({limit.condition for limit in job.limits})
        if condition in planes
    ]
    weight = posterior.tau_weight
    of_all = {
        recipe: _clipped(all_at_once(hurdles, ladder, weight, by_name.index(recipe))) if known[recipe] else None
        for recipe in job.recipes
    }
    found: dict[str, float | None] = dict.fromkeys(job.recipes)
    if all(known[recipe] and recipe in job.costs for recipe in job.recipes):
        least = cheapest(hurdles, ladder, weight, [job.costs[recipe] for recipe in by_name], more=more)
        found |= {recipe: _clipped(least[by_name.index(recipe)]) for recipe in job.recipes}
    return Chances(of_limit, of_all, found)


def bar_of(limit: Limit, *, as_crushed_mpa: float) -> Bar:
    """Return one limit in logs, at the stress as crushed at which it stands for one recipe.

    Parameters
    ----------
    limit : Limit
        The limit, whose statistic and blocks count.
    as_crushed_mpa : float
        The stress as crushed at which it stands, in MPa; above 0.

    Returns
    -------
    Bar
        With the one side that the statistic speaks of.

    Source
    ------
    strength-model

    Examples
    --------
    >>> bar_of(Limit("least", "dry", "mean", 2.0, 5), as_crushed_mpa=1.0).mean
    0.0
    """
    height = math.log(as_crushed_mpa)
    if limit.statistic == "mean":
        return Bar(mean=height)
    if limit.statistic == "characteristic":
        return Bar(characteristic=height)
    return Bar(each=height, blocks=limit.blocks)


def _ladder(job: Job, planes: Mapping[str, Plane]) -> Lattice:
    limited = {limit.condition for limit in job.limits}
    fine = [
        narrowest(planes[condition], planes[condition].groups[number])
        for (condition, _), number in job.numbers.items()
        if condition in limited
    ]
    return lattice(
        scale_sd=job.settings.scale_uncertainty,
        batch_sd=[job.batch_sd[recipe] for recipe in sorted(job.recipes)],
        finest=min(fine, default=math.inf),
    )


def _fell(job: Job, condition: str, recipe: str) -> bool:
    return any(reading.outcome == "fell apart" for reading in job.readings(condition, recipe))


def _alone(job: Job, planes: Mapping[str, Plane], ladder: Lattice, recipe: str, limit: Limit) -> float | None:
    if not speaks_for(job.held_against(limit, recipe), limit):
        return None
    if _fell(job, limit.condition, recipe):
        return 0.0
    plane = planes[limit.condition]
    chance = assurance(
        plane.groups[job.numbers[limit.condition, recipe]],
        bar_of(limit, as_crushed_mpa=job.as_crushed_mpa(limit, recipe)),
        sigma=np.exp(plane.log_sigma),
        error_sd=job.error_sd(recipe),
        errors=ladder.errors,
        weights=ladder.of_both(sorted(job.recipes).index(recipe)),
    )
    return _clipped(chance)


def _hurdle(job: Job, plane: Plane, ladder: Lattice, condition: str, known: list[str]) -> Hurdle:
    tables = []
    for recipe in sorted(job.recipes):
        passes = recipe in known and not _fell(job, condition, recipe)
        grid = plane.groups[job.numbers[condition, recipe]] if passes else None
        bar = _all_limits(job, condition, recipe)
        tables.append(passing_at_nodes(plane, grid, bar, errors=ladder.errors) if grid else None)
    return Hurdle(plane, tuple(tables))


def _all_limits(job: Job, condition: str, recipe: str) -> Bar:
    bar = Bar()
    for limit in job.limits:
        if limit.condition == condition:
            bar = bar.joined(bar_of(limit, as_crushed_mpa=job.as_crushed_mpa(limit, recipe)))
    return bar


def _clipped(chance: float) -> float:
    return min(1.0, max(0.0, chance))
