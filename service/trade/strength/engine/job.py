"""One job as the strength engine takes it: checked, and sorted so that the order of input cannot matter."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from service.trade.strength.censored_readings import Reading
from service.trade.strength.engine.evidence import Evidence, gather
from service.trade.strength.engine.prior import LogPrior
from service.trade.strength.estimate_result import Costs, Group, Limit, Settings
from service.trade.strength.shape_corrected_limits import limit_as_crushed_mpa, readings_for
from service.trade.validation import refuse, require

MOST_RECIPES, MOST_CONDITIONS, MOST_BLOCKS = 12, 4, 500


@dataclass(frozen=True)
class Job:
    """Groups by (condition, recipe); ``numbers`` gives each standing group its place in the evidence.

    ``recipes`` and ``conditions`` stand in order of first appearance; the engine counts both by name.
    """

    groups: Mapping[tuple[str, str], Group]
    recipes: tuple[str, ...]
    conditions: tuple[str, ...]
    numbers: Mapping[tuple[str, str], int]
    batch_sd: Mapping[str, float]
    limits: tuple[Limit, ...]
    costs: Mapping[str, Decimal]
    settings: Settings
    evidence: Evidence
    prior: LogPrior

    def readings(self, condition: str, recipe: str) -> tuple[Reading, ...]:
        """Return all readings of a recipe in a condition; none where none was crushed."""
        group = self.groups.get((condition, recipe))
        return group.readings if group else ()

    def held_against(self, limit: Limit, recipe: str) -> tuple[Reading, ...]:
        """Return the readings of a recipe as a limit takes them, corrected for shape where it says so."""
        group = self.groups.get((limit.condition, recipe))
        return readings_for(group, limit) if group else ()

    def as_crushed_mpa(self, limit: Limit, recipe: str) -> float:
        """Return the stress as crushed at which a recipe's blocks stand at a limit."""
        group = self.groups.get((limit.condition, recipe))
        return limit_as_crushed_mpa(group, limit) if group else limit.limit_mpa

    def all_held(self, condition: str, recipe: str) -> bool:
        """Return whether every standing block was held."""
        return all(reading.outcome == "held" for reading in standing(self.readings(condition, recipe)))

    def error_sd(self, recipe: str) -> float:
        """Return the error of scale and batches together."""
        return math.hypot(self.settings.scale_uncertainty, self.batch_sd[recipe])


def standing(readings: Sequence[Reading]) -> list[Reading]:
    """Return the readings of the blocks that did not fall apart.

    Parameters
    ----------
    readings : Sequence[Reading]
        Of one recipe in one condition.

    Returns
    -------
    list[Reading]
        Broken and held ones.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import fell_apart, held
    >>> [one.outcome for one in standing([fell_apart(), held(stress_mpa=2.0)])]
    ['held']
    """
    return [reading for reading in readings if reading.outcome != "fell apart"]


def job_of(groups: Sequence[Group], limits: Sequence[Limit], costs: Costs, settings: Settings) -> Job:
    """Return the job, or refuse it with every field at fault.

    Parameters
    ----------
    groups : Sequence[Group]
        One for each recipe and condition, with a reading at least; at most 12 recipes and 4 conditions.
    limits : Sequence[Limit]
        Names differ; limits above 0, blocks from 1 to 500.
    costs : Costs
        Cost of a block by recipe; 0 or more.
    settings : Settings
        Assurance above 0 and below 1; errors and margin 0 or more; priors above 0.

    Returns
    -------
    Job
        Sorted, so that the order of input cannot matter.

    Raises
    ------
    Invalid
        If a group, limit, cost or setting cannot be used, with every field at fault.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> job_of([Group("A", "dry", (broke(stress_mpa=3.0),))], (), {}, Settings()).recipes
    ('A',)
    """
    faults = _group_faults(groups) | _limit_faults(limits) | _cost_faults(groups, costs)
    if faults:
        refuse(faults)
    _check_settings(settings)
    recipes = tuple(dict.fromkeys(group.recipe for group in groups))
    conditions = tuple(dict.fromkeys(group.condition for group in groups))
    by_key = {(group.condition, group.recipe): group for group in groups}
    upright = [key for key in sorted(by_key) if standing(by_key[key].readings)]
    order_of_condition, order_of_recipe = sorted(conditions), sorted(recipes)
    evidence = gather(
        [(order_of_condition.index(c), order_of_recipe.index(r), standing(by_key[c, r].readings)) for c, r in upright],
        conditions=len(conditions),
        recipes=len(recipes),
    )
    batches = {group.recipe: group.batches for group in groups if group.batches is not None}
    return Job(
        groups=by_key,
        recipes=recipes,
        conditions=conditions,
        numbers={key: number for number, key in enumerate(upright)},
        batch_sd={recipe: settings.batch_sd / math.sqrt(batches.get(recipe, 1)) for recipe in recipes},
        limits=tuple(limits),
        costs=costs,
        settings=settings,
        evidence=evidence,
        prior=_log_prior(settings),
    )


def _log_prior(settings: Settings) -> LogPrior:
    prior = settings.prior
    return LogPrior(
        theta_mean=math.log(prior.median_mpa),
        theta_sd=prior.log_sd,
        sigma_log_mean=math.log(prior.scatter),
        sigma_log_sd=prior.scatter_log_sd,
        tau_log_mean=math.log(prior.spread),
        tau_log_sd=prior.spread_log_sd,
    )


def _group_faults(groups: Sequence[Group]) -> dict[str, str]:
    faults: dict[str, str] = {}
    seen: set[tuple[str, str]] = set()
    batches: dict[str, int] = {}
    for number, group in enumerate(groups):
        key = (group.condition, group.recipe)
        if key in seen:
            faults[f"groups.{number}"] = "This recipe stands in this condition already."
        seen.add(key)
        if not group.readings:
            faults[f"groups.{number}.readings"] = "At least one reading is needed."
        if group.batches is not None:
            if group.batches < 1:
                faults[f"groups.{number}.batches"] = "At least one batch."
            elif batches.setdefault(group.recipe, group.batches) != group.batches:
                faults[f"groups.{number}.batches"] = "Another group of this recipe gives another number of batches."
    return faults | _size_faults(groups)


def _size_faults(groups: Sequence[Group]) -> dict[str, str]:
    if not groups:
        return {"groups": "At least one group is needed."}
    if len({group.recipe for group in groups}) > MOST_RECIPES:
        return {"groups": f"At most {MOST_RECIPES} recipes are compared at once."}
    if len({group.condition for group in groups}) > MOST_CONDITIONS:
        return {"groups": f"At most {MOST_CONDITIONS} conditions are compared at once."}
    return {}


def _limit_faults(limits: Sequence[Limit]) -> dict[str, str]:
    faults: dict[str, str] = {}
    names: set[str] = set()
    for number, limit in enumerate(limits):
        if limit.name in names:
            faults[f"limits.{number}.name"] = "This name is used twice."
        names.add(limit.name)
        if not 0 < limit.limit_mpa < math.inf:
            faults[f"limits.{number}.limit_mpa"] = "This must be above 0."
        if not 1 <= limit.blocks <= MOST_BLOCKS:
            faults[f"limits.{number}.blocks"] = f"From 1 to {MOST_BLOCKS} blocks."
    return faults


def _cost_faults(groups: Sequence[Group], costs: Costs) -> dict[str, str]:
    recipes = {group.recipe for group in groups}
    faults = {f"costs.{name}": "No group has this recipe." for name in costs if name not in recipes}
    negative = {f"costs.{name}": "This must be 0 or more." for name, cost in costs.items() if not cost >= 0}
    return faults | negative


def _check_settings(settings: Settings) -> None:
    prior = settings.prior
    if not 0 < settings.assurance < 1:
        refuse({"assurance": "This must be above 0 and below 1."})
    require(
        positive={f"prior.{name}": value for name, value in vars(prior).items() if name != "bend"},
        not_negative={
            "margin": settings.margin,
            "scale_uncertainty": settings.scale_uncertainty,
            "batch_sd": settings.batch_sd,
        },
    )
