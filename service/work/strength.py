"""`strength`: what a few crushed blocks say of each recipe."""

from dataclasses import replace
from decimal import Decimal
from typing import Annotated, Any

from pydantic import ConfigDict, Field

from service.errors import Refusal
from service.trade.strength.censored_readings import Reading, broke, fell_apart, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Composition, Group, Limit, Settings, Statistic
from service.trade.strength.prior import Prior
from service.trade.validation import refuse
from service.work.calculation import Calculation, Count, Given, Money, Name, NotNegative, Positive

OUTCOMES = ("broke_mpa", "held_mpa", "fell_apart")


class ReadingGiven(Given):
    """One block: what it broke at, what it was held to, or that it fell apart in the water."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": [outcome]} for outcome in OUTCOMES]})

    broke_mpa: NotNegative | None = None
    graduation_mpa: Positive | None = None
    held_mpa: Positive | None = None
    fell_apart: bool | None = None
    mix: Name | None = None


class RecipeGiven(Given):
    """What the plan varied of one recipe."""

    recipe: Name
    share: Annotated[float, Field(ge=0, lt=1)]


class GroupGiven(Given):
    """The blocks of one recipe in one condition."""

    recipe: Name
    condition: Name
    batches: Count | None = None
    readings: Annotated[list[ReadingGiven], Field(min_length=1)]


class LimitGiven(Given):
    """One limit that every recipe is held to."""

    name: Name
    condition: Name
    statistic: Statistic
    limit_mpa: Positive
    blocks: Annotated[Count, Field(le=500)]


class PriorGiven(Given):
    """What is believed before the first reading."""

    median_mpa: Positive = 3.0
    log_sd: Positive = 1.0
    scatter: Positive = 0.15
    scatter_log_sd: Positive = 0.5
    spread: Positive = 0.30
    spread_log_sd: Positive = 0.5
    off_curve: Positive = 0.10
    off_curve_log_sd: Positive = 0.5
    own_way: Positive = 0.12
    own_way_log_sd: Positive = 0.5
    uneven: Positive = 0.25
    uneven_log_sd: Positive = 0.5
    mixes: Positive = 0.06
    mixes_log_sd: Positive = 0.6
    slope: Positive = 1.1
    slope_sd: Positive = 0.4
    bend: Annotated[float, Field(allow_inf_nan=False)] = -0.25
    bend_sd: Positive = 0.25


class StrengthGiven(Given):
    """All readings of one job, its limits and costs, and how sure is sure enough."""

    groups: Annotated[list[GroupGiven], Field(min_length=1)]
    recipes: Annotated[list[RecipeGiven], Field(default_factory=list)]
    limits: Annotated[list[LimitGiven], Field(default_factory=list)]
    costs: Annotated[dict[str, Money], Field(default_factory=dict)]
    assurance: Annotated[float, Field(gt=0, lt=1)] = 0.95
    margin: NotNegative = 0.10
    scale_uncertainty: NotNegative = 0.0
    batch_sd: NotNegative | None = None
    prior: PriorGiven = PriorGiven()


def calculate(given: StrengthGiven) -> dict[str, Any]:
    """Return scatter, groups, limits, pairs and order."""
    settings = Settings(
        assurance=given.assurance,
        margin=given.margin,
        scale_uncertainty=given.scale_uncertainty,
        batch_sd=Settings().batch_sd if given.batch_sd is None else given.batch_sd,
        learn_mixes=given.batch_sd is None,
        prior=Prior(**given.prior.model_dump()),
    )
    compositions = _compositions(given.recipes, {group.recipe for group in given.groups})
    return strength(
        [replace(group, composition=compositions.get(group.recipe)) for group in _groups(given.groups)],
        limits=[Limit(**limit.model_dump()) for limit in given.limits],
        costs={recipe: Decimal(cost) for recipe, cost in given.costs.items()},
        settings=settings,
    ).as_dict()


def _compositions(given: list[RecipeGiven], recipes: set[str]) -> dict[str, Composition]:
    found: dict[str, Composition] = {}
    for number, one in enumerate(given):
        if one.recipe in found:
            refuse({f"recipes.{number}.recipe": "This recipe is there twice."})
        if one.recipe not in recipes:
            refuse({f"recipes.{number}.recipe": "No group has this recipe."})
        found[one.recipe] = Composition(one.share)
    lacking = sorted(recipes - set(found))
    if found and lacking:
        refuse({"recipes": f"Give the share of every recipe, or of none: {', '.join(lacking)} has none."})
    return found


def _groups(given: list[GroupGiven]) -> list[Group]:
    faults: dict[str, str] = {}
    groups = []
    for i, group in enumerate(given):
        readings = []
        for j, one in enumerate(group.readings):
            try:
                readings.append(reading_of(one))
            except Refusal as refusal:
                faults |= refusal.under(f"groups.{i}.readings.{j}").fields
        mixes = tuple(one.mix for one in group.readings)
        named = mixes if any(mixes) else ()
        groups.append(Group(group.recipe, group.condition, tuple(readings), group.batches, mixes=named))
    if faults:
        refuse(faults)
    return groups


def reading_of(given: ReadingGiven) -> Reading:
    """Return what one block told; refuse two outcomes and none."""
    # A stress of 0 is told, and equals False.
    told = [outcome for outcome in OUTCOMES if (value := getattr(given, outcome)) is not None and value is not False]
    if len(told) != 1:
        refuse(dict.fromkeys(told or OUTCOMES, "Exactly one of broke_mpa, held_mpa and fell_apart is taken."))
    if given.graduation_mpa is not None and told != ["broke_mpa"]:
        refuse({"graduation_mpa": "This goes with broke_mpa only."})
    if given.broke_mpa is not None:
        return broke(stress_mpa=given.broke_mpa, graduation_mpa=given.graduation_mpa)
    if given.held_mpa is not None:
        return held(stress_mpa=given.held_mpa)
    return fell_apart()


CALCULATION = Calculation(
    model=StrengthGiven,
    run=calculate,
    formula="ln y = m + d + e: recipe, mix and block; every reading an interval (docs/model.md)",
    source_keys=("strength-model",),
)
