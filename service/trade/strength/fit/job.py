"""One job as the fit takes it: checked, and sorted so that the order of input cannot matter."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from decimal import Decimal
from functools import cached_property

import numpy as np

from service.trade.strength.censored_readings import Reading
from service.trade.strength.estimate_result import Composition, Costs, Group, Limit, Settings
from service.trade.strength.fit.cells import Key
from service.trade.strength.fit.fitted import Fit, fitted, seen_roughly
from service.trade.strength.fit.limits import Bar, Errors
from service.trade.strength.fit.logs import Array
from service.trade.strength.fit.nodes import Nodes
from service.trade.strength.fit.unknowns import Unknowns, unknowns_of
from service.trade.strength.shape_corrected_limits import limit_as_crushed_mpa, readings_for
from service.trade.validation import refuse, require

MOST_CONDITIONS, MOST_BLOCKS = 12, 500
# A share of none still has a logarithm; docs/model.md.
SHARE_OFFSET = 0.005
_ALIKE = 1e-9


@dataclass(frozen=True)
class Job:
    """Groups by (condition, recipe), and what the fit counts: standing recipes and conditions, by name.

    ``recipes`` and ``conditions`` stand in order of first appearance.
    """

    groups: Mapping[tuple[str, str], Group]
    recipes: tuple[str, ...]
    conditions: tuple[str, ...]
    limits: tuple[Limit, ...]
    costs: Mapping[str, Decimal]
    settings: Settings

    @cached_property
    def standing_recipes(self) -> tuple[str, ...]:
        """Recipes with a standing block, by name."""
        return tuple(sorted({recipe for (_, recipe), group in self.groups.items() if standing(group.readings)}))

    @cached_property
    def standing_conditions(self) -> tuple[str, ...]:
        """Conditions with a standing block, by name."""
        return tuple(sorted({condition for (condition, _), group in self.groups.items() if standing(group.readings)}))

    @cached_property
    def mixes_named(self) -> bool:
        """Whether the readings name their mixes."""
        return any(name is not None for group in self.groups.values() for name in group.mixes)

    @cached_property
    def fit(self) -> Fit:
        """The job fitted; only where a block stands."""
        return fitted(self._readings, self.unknowns, shape=(len(self.standing_conditions), *self._size))

    @cached_property
    def roughly(self) -> Nodes:
        """What its recipes share from a quick look: one job among many."""
        return seen_roughly(self._readings, self.unknowns, shape=(len(self.standing_conditions), *self._size))

    @property
    def _size(self) -> tuple[int, int]:
        return max((key[1] for key in self._readings), default=0) + 1, len(self.standing_recipes)

    @cached_property
    def _readings(self) -> Mapping[Key, Sequence[Reading]]:
        names: dict[str, set[str]] = {}
        for group in self.groups.values():
            names.setdefault(group.recipe, set()).update(name for name in group.mixes if name is not None)
        place = {recipe: {name: i for i, name in enumerate(sorted(own))} for recipe, own in names.items()}
        found: dict[Key, list[Reading]] = {}
        for (condition, recipe), group in sorted(self.groups.items()):
            mixes = group.mixes or (None,) * len(group.readings)
            for reading, mix in zip(group.readings, mixes, strict=True):
                if reading.outcome != "fell apart":
                    b = 0 if mix is None else place[recipe][mix]
                    c, r = self.standing_conditions.index(condition), self.standing_recipes.index(recipe)
                    found.setdefault((c, b, r), []).append(reading)
        return {key: sorted(own, key=lambda one: (one.low_mpa, one.high_mpa)) for key, own in found.items()}

    @cached_property
    def unknowns(self) -> Unknowns:
        """What the standing recipes share."""
        settings = self.settings
        compositions = {one.recipe: one.composition for one in self.groups.values() if one.composition is not None}
        return unknowns_of(
            settings.prior,
            conditions=len(self.standing_conditions),
            recipes=len(self.standing_recipes),
            basis=basis_of([compositions.get(one) for one in self.standing_recipes]),
            outside=np.array([one not in compositions for one in self.standing_recipes]),
            mixes_named=self.mixes_named,
            beta=None if settings.learn_mixes else settings.batch_sd,
        )

    def number(self, condition: str, recipe: str) -> tuple[int, int] | None:
        """Return the numbers of condition and recipe where a block of both stands."""
        group = self.groups.get((condition, recipe))
        if group is None or not standing(group.readings):
            return None
        return self.standing_conditions.index(condition), self.standing_recipes.index(recipe)

    def errors(self, recipe: str) -> Errors:
        """Return the variances of the press, and of the mixes made where none is named."""
        made = max((group.batches or 1 for (_, name), group in self.groups.items() if name == recipe), default=1)
        batches = 0.0 if self.mixes_named else self.settings.batch_sd**2 / made
        return Errors(self.settings.scale_uncertainty**2, batches)

    def readings(self, condition: str, recipe: str) -> tuple[Reading, ...]:
        """Return all readings of a recipe in a condition; none where none was crushed."""
        group = self.groups.get((condition, recipe))
        return group.readings if group else ()

    def held_against(self, limit: Limit, recipe: str) -> tuple[Reading, ...]:
        """Return the readings of a recipe as a limit takes them, corrected for shape where it says so."""
        group = self.groups.get((limit.condition, recipe))
        return readings_for(group, limit) if group else ()

    def height(self, limit: Limit, recipe: str) -> float:
        """Return the log of the stress as crushed at which a recipe's blocks stand at a limit."""
        group = self.groups.get((limit.condition, recipe))
        mpa = limit_as_crushed_mpa(group, limit) if group else limit.limit_mpa
        return math.log(mpa) if mpa < math.inf else math.inf

    def bars(self, recipe: str, limits: Sequence[Limit]) -> dict[int, Bar]:
        """Return what some limits ask of a recipe, by number of the condition."""
        found: dict[int, Bar] = {}
        for limit in limits:
            c = self.standing_conditions.index(limit.condition)
            found[c] = found.get(c, Bar()).joined(limit, self.height(limit, recipe))
        return found

    def all_held(self, condition: str, recipe: str) -> bool:
        """Return whether every standing block was held."""
        return (condition, recipe) not in self._broken

    @cached_property
    def _broken(self) -> frozenset[tuple[str, str]]:
        """Groups of which a block broke."""
        broken = (key for key, group in self.groups.items() if any(one.outcome == "broke" for one in group.readings))
        return frozenset(broken)

    def fell(self, condition: str, recipe: str) -> bool:
        """Return whether a block fell apart."""
        return any(reading.outcome == "fell apart" for reading in self.readings(condition, recipe))


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


def basis_of(compositions: Sequence[Composition | None]) -> tuple[tuple[str, Array], ...]:
    """Return each slope and bend of the curve with its value for every recipe, about the mean of those on the curve.

    Parameters
    ----------
    compositions : Sequence[Composition or None]
        By recipe; None: outside the curve.

    Returns
    -------
    tuple[tuple[str, Array], ...]
        Empty where all on the curve are alike; 0 outside it.

    Source
    ------
    strength-model

    Examples
    --------
    >>> [(name, row.round(2).tolist()) for name, row in basis_of([Composition(0.04), None, Composition(0.08)])]
    [('slope', [-0.32, 0.0, 0.32])]
    """
    inside = np.array([one is not None for one in compositions], dtype=bool)
    rows: list[tuple[str, Array]] = []
    for name, column in _COLUMNS.items():
        known = [column(one) for one in compositions if one is not None]
        if not known or None in known:
            continue
        values = np.array(known, dtype=float)
        if np.ptp(values) <= _ALIKE:
            continue
        off = np.zeros(len(compositions))
        off[inside] = values - values.mean()
        rows.append((name, off))
        if name in BENDS and len(set(values.round(9))) > 2:
            rows.append((BENDS[name], off**2))
    return tuple(rows)


_COLUMNS: dict[str, Callable[[Composition], float | None]] = {
    "slope": lambda one: math.log(one.share + SHARE_OFFSET),
    "sand": lambda one: one.sand,
    "moisture": lambda one: one.moisture,
    "density": lambda one: None if one.dry_density_kg_m3 is None else math.log(one.dry_density_kg_m3),
}
# What bends where three different values stand; docs/model.md.
BENDS = {"slope": "bend", "sand": "sand bend", "moisture": "moisture bend"}


def job_of(
    groups: Sequence[Group],
    limits: Sequence[Limit],
    costs: Costs,
    settings: Settings,
) -> Job:
    """Return the job, or refuse it with every field at fault.

    Parameters
    ----------
    groups : Sequence[Group]
        One for each recipe and condition, with a reading at least; at most 12 conditions.
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
        If a group, limit, cost, composition or setting cannot be used, with every field at fault.

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
    faults |= _mix_faults(groups) | _composition_faults(groups)
    if faults:
        refuse(faults)
    _check_settings(settings)
    return Job(
        groups={(group.condition, group.recipe): group for group in groups},
        recipes=tuple(dict.fromkeys(group.recipe for group in groups)),
        conditions=tuple(dict.fromkeys(group.condition for group in groups)),
        limits=tuple(limits),
        costs=costs,
        settings=settings,
    )


def _group_faults(groups: Sequence[Group]) -> dict[str, str]:
    faults: dict[str, str] = {}
    seen: set[tuple[str, str]] = set()
    batches: dict[str, int] = {}
    for number, group in enumerate(groups):
        key = (group.condition, group.recipe)
        if key in seen:
            faults[f"groups.{number}"] = "This recipe has this condition already."
        seen.add(key)
        if not group.readings:
            faults[f"groups.{number}.readings"] = "At least one reading is needed."
        if group.batches is not None:
            if group.batches < 1:
                faults[f"groups.{number}.batches"] = "At least one batch."
            elif batches.setdefault(group.recipe, group.batches) != group.batches:
                faults[f"groups.{number}.batches"] = "Another group of this recipe gives another number of batches."
    if not groups:
        return {"groups": "At least one group is needed."}
    if len({group.condition for group in groups}) > MOST_CONDITIONS:
        faults["groups"] = f"At most {MOST_CONDITIONS} conditions are compared at once; ask about some of them apart."
    return faults


def _mix_faults(groups: Sequence[Group]) -> dict[str, str]:
    """Return what is wrong with the mixes: all standing readings name theirs, or none does."""
    if not any(name is not None for group in groups for name in group.mixes):
        return {}
    faults: dict[str, str] = {}
    for number, group in enumerate(groups):
        mixes = group.mixes or (None,) * len(group.readings)
        for place, (reading, mix) in enumerate(zip(group.readings, mixes, strict=True)):
            if mix is None and reading.outcome != "fell apart":
                faults[f"groups.{number}.readings.{place}.mix"] = "Name the mix of every reading, or of none."
    return faults


def _composition_faults(groups: Sequence[Group]) -> dict[str, str]:
    faults: dict[str, str] = {}
    seen: dict[str, Composition | None] = {}
    for number, group in enumerate(groups):
        if seen.setdefault(group.recipe, group.composition) != group.composition:
            faults[f"groups.{number}.composition"] = "Another group of this recipe gives another composition."
        if group.composition is not None and not 0 <= group.composition.share < 1:
            faults[f"groups.{number}.composition.share"] = "A share is at least 0 and below 1."
    return faults


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
        positive={f"prior.{one.name}": getattr(prior, one.name) for one in fields(prior) if one.name != "bend"},
        not_negative={
            "margin": settings.margin,
            "scale_uncertainty": settings.scale_uncertainty,
            "batch_sd": settings.batch_sd,
        },
    )
