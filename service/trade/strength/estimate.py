"""The strength engine: what a few blocks say of each recipe, under the model of docs/model.md.

A job is fitted once (``service/trade/strength/fit``): a fixed design over what its recipes share, and each recipe's own
unknowns integrated at every point of it. Everything that is said is then read off the same fit.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from service.trade.strength.estimate_result import (
    Group,
    GroupStrength,
    Limit,
    LimitAnswer,
    OrderAnswer,
    PairAnswer,
    Scatter,
    Settings,
    StrengthAnswer,
)
from service.trade.strength.fit.in_range import in_range
from service.trade.strength.fit.job import Job, job_of, standing
from service.trade.strength.fit.limits import CHARACTERISTIC, chance_of, cheapest
from service.trade.strength.fit.logs import Array
from service.trade.strength.fit.pairs import Ratio, ratios
from service.trade.strength.fit.parts import Parts, points
from service.trade.strength.limit_rules import rule_of, sorted_order, speaks_for, verdict_of

# A point between nodes is found by spreading each a little, in standard deviations of all of them.
_BLUR = 0.15
_LEAST_VARIANCE = 1e-10
_MIDDLE, _ENDS = (0.05, 0.5, 0.95), (0.05, 0.95)
# The chances a prior that was never spoken of leaves: -+1.6449 units.
_UNIT = 1.6448536269514722


def strength(
    groups: Sequence[Group],
    *,
    limits: Sequence[Limit] = (),
    costs: Mapping[str, Decimal] | None = None,
    settings: Settings | None = None,
) -> StrengthAnswer:
    """Return what the readings of one job say: scatter, strengths, limits, pairs and order.

    Parameters
    ----------
    groups : Sequence[Group]
        One for each recipe and condition, with 1 to 500 readings; at most 12 conditions.
    limits : Sequence[Limit]
        The rules that every recipe is held to; names differ.
    costs : Mapping[str, Decimal] or None
        Cost of a block by recipe.
    settings : Settings or None
        Assurance, margin, errors and priors; None: as they stand in ``Settings``.

    Returns
    -------
    StrengthAnswer
        Strengths in MPa; intervals are equal-tailed 90 %.

    Raises
    ------
    Invalid
        If a group, limit, cost or setting cannot be used (fields as in the contract, ``groups.0.batches``).
    Unsettled
        If the numbers run out of range.

    Source
    ------
    strength-model

    Examples
    --------
    Five blocks that all outlived the press support no figure above it:

    >>> from service.trade.strength.censored_readings import held
    >>> answer = strength([Group("A", "dry", (held(stress_mpa=10.6),) * 5)])
    >>> answer.groups[0].median_mpa is None, answer.groups[0].low_mpa > 10
    (True, True)
    """
    return answered(job_of(groups, limits, costs or {}, settings or Settings()))


def answered(job: Job) -> StrengthAnswer:
    """Return what is said of a job that was checked.

    Parameters
    ----------
    job : Job
        The job; its fit is made once and can be asked further.

    Returns
    -------
    StrengthAnswer
        As ``strength``.

    Raises
    ------
    Unsettled
        If the numbers run out of range.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> answered(job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())).groups[0].held
    0
    """
    with in_range():
        told = {recipe: _told(job, recipe) for recipe in job.recipes}
        limits = tuple(limit for one in told.values() for limit in one.limits)
        return StrengthAnswer(
            scatter=tuple(_scatter(job, condition) for condition in job.conditions),
            groups=tuple(told[recipe].groups[condition] for condition, recipe in job.groups),
            limits=limits,
            pairs=_pairs(job),
            order=_order(job, told),
        )


@dataclass(frozen=True)
class _Told:
    """What is said of one recipe by itself: its groups by condition, its limits, and that all hold at once."""

    groups: Mapping[str, GroupStrength]
    limits: tuple[LimitAnswer, ...]
    together: float | None


def _told(job: Job, recipe: str) -> _Told:
    limits = _limits(job, recipe)
    together = _all_at_once(job, recipe, limits)
    return _Told({c: _group(job, c, recipe) for c in job.conditions if (c, recipe) in job.groups}, limits, together)


def _scatter(job: Job, condition: str) -> Scatter:
    if condition not in job.standing_conditions:
        prior = job.settings.prior
        ends = (prior.scatter * math.exp(side * _UNIT * prior.scatter_log_sd) for side in (-1, 1))
        return Scatter(condition, prior.scatter, *ends)
    fit = job.fit
    log_sigma = fit.unknowns.log_sigma(fit.at)[job.standing_conditions.index(condition)]
    low, middle, high = blurred_points(fit.node_weight, log_sigma, _MIDDLE)
    return Scatter(condition, math.exp(middle), math.exp(low), math.exp(high))


def blurred_points(weight: Array, value: Array, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Return points of what weighted nodes stand for, each node spread a little.

    Parameters
    ----------
    weight, value : Array
        By node; weights sum to 1.
    shares : tuple[float, ...]
        Each above 0 and below 1.

    Returns
    -------
    tuple[float, ...]
        One for each share.

    Source
    ------
    computed-here : the nodes are drawn together by as much as the spreading adds.

    Examples
    --------
    >>> blurred_points(np.full(2, 0.5), np.array([-1.0, 1.0]), (0.5,))
    (0.0,)
    """
    middle = float(weight @ value)
    variance = float(weight @ (value - middle) ** 2) + _LEAST_VARIANCE
    drawn = middle + math.sqrt(1 - _BLUR**2) * (value - middle)
    return points(weight, drawn, np.full_like(value, _BLUR**2 * variance), shares)


def _group(job: Job, condition: str, recipe: str) -> GroupStrength:
    readings = job.readings(condition, recipe)
    number = job.number(condition, recipe)
    found = None if number is None else said_of_parts(job, recipe, job.fit.kept_parts(number[1], [number[0]]))
    # Above what every standing block was held to nothing was measured, and nothing is said.
    whole = found if not job.all_held(condition, recipe) else None
    return GroupStrength(
        recipe=recipe,
        condition=condition,
        readings=len(readings),
        held=sum(reading.outcome == "held" for reading in readings),
        fell_apart=len(readings) - len(standing(readings)),
        median_mpa=whole["median"] if whole else None,
        low_mpa=found["low"] if found else None,
        high_mpa=whole["high"] if whole else None,
        characteristic_mpa=whole["characteristic"] if whole else None,
        characteristic_low_mpa=found["characteristic_low"] if found else None,
        next_low_mpa=found["next_low"] if found else None,
        next_high_mpa=whole["next_high"] if whole else None,
    )


def said_of_parts(job: Job, recipe: str, parts: Parts) -> dict[str, float]:
    """Return strength, characteristic value and next block of one level in one condition, in MPa.

    Parameters
    ----------
    job : Job
        The job.
    recipe : str
        Whose mixes were made.
    parts : Parts
        Its level in one condition.

    Returns
    -------
    dict[str, float]
        ``low``, ``median``, ``high``, ``characteristic_low``, ``characteristic``, ``next_low`` and ``next_high``.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> round(said_of_parts(job, "A", job.fit.parts(0, [0]))["median"], 2)
    3.0
    """
    kept = parts
    sigma = np.exp(kept.log_sigma[0])
    variance = kept.cov[0, 0] + max(job.errors(recipe).both, _LEAST_VARIANCE)
    new_mix = job.fit.new_mix_sd()[kept.node]
    low, median, high = points(kept.weight, kept.mean[0], variance, _MIDDLE)
    weak_low, weak = points(kept.weight, kept.mean[0] - CHARACTERISTIC * sigma, variance, _MIDDLE[:2])
    next_low, next_high = points(kept.weight, kept.mean[0], variance + sigma**2 + new_mix**2, _ENDS)
    logs = {
        "low": low, "median": median, "high": high, "characteristic_low": weak_low, "characteristic": weak,
        "next_low": next_low, "next_high": next_high,
    }  # fmt: skip
    return {name: math.exp(value) for name, value in logs.items()}


def _limits(job: Job, recipe: str) -> tuple[LimitAnswer, ...]:
    return tuple(
        LimitAnswer(
            recipe=recipe,
            name=limit.name,
            counted=len(job.held_against(limit, recipe)),
            required=limit.blocks,
            rule=rule_of(job.held_against(limit, recipe), limit),
            assurance=_assurance(job, recipe, [limit]),
        )
        for limit in job.limits
    )


def _assurance(job: Job, recipe: str, limits: Sequence[Limit]) -> float | None:
    """Return the chance that some limits of a recipe hold at once; None where nothing measured speaks for one."""
    if not limits or any(not speaks_for(job.held_against(limit, recipe), limit) for limit in limits):
        return None
    if any(job.fell(limit.condition, recipe) for limit in limits):
        return 0.0
    if any(job.height(limit, recipe) == math.inf for limit in limits):
        return 0.0
    number = job.standing_recipes.index(recipe)
    return _clipped(chance_of(job.fit, number, job.bars(recipe, limits), job.errors(recipe)))


def _pairs(job: Job) -> tuple[PairAnswer, ...]:
    rows: list[PairAnswer] = []
    batches = [job.errors(recipe).batches for recipe in job.standing_recipes]
    for condition in job.conditions:
        there = [recipe for recipe in job.recipes if (condition, recipe) in job.groups]
        numbers = {recipe: number[1] for recipe in there if (number := job.number(condition, recipe))}
        measured = any(not job.all_held(condition, recipe) for recipe in numbers)
        found: dict[tuple[int, int], Ratio] = {}
        if measured and len(numbers) > 1:
            place = job.standing_conditions.index(condition)
            found = ratios(job.fit, place, sorted(numbers.values()), batches=batches, margin=job.settings.margin)
        for i, a in enumerate(there):
            rows += [_pair(job, condition, a, b, _ratio(found, numbers.get(a), numbers.get(b))) for b in there[i + 1 :]]
    return tuple(rows)


def _ratio(found: Mapping[tuple[int, int], Ratio], a: int | None, b: int | None) -> Ratio | None:
    if a is None or b is None:
        return None
    return found.get((a, b)) if a < b else _turned(found.get((b, a)))


def _turned(ratio: Ratio | None) -> Ratio | None:
    if ratio is None:
        return None
    return Ratio(1 / ratio.ratio, 1 / ratio.high, 1 / ratio.low, ratio.less, ratio.more)


def _pair(job: Job, condition: str, a: str, b: str, found: Ratio | None) -> PairAnswer:
    held_a, held_b = job.all_held(condition, a), job.all_held(condition, b)
    if found is None or (held_a and held_b):
        return PairAnswer(condition, a, b, None, None, None, None, None, None)
    if held_a:
        return PairAnswer(condition, a, b, None, found.low, None, None, None, None)
    if held_b:
        return PairAnswer(condition, a, b, None, None, found.high, None, None, None)
    more, less = _clipped(found.more), _clipped(found.less)
    same = max(0.0, 1 - (more + less))
    return PairAnswer(condition, a, b, found.ratio, found.low, found.high, more, less, same)


def _order(job: Job, told: Mapping[str, _Told]) -> tuple[OrderAnswer, ...]:
    assurances = {recipe: one.together for recipe, one in told.items()}
    chances = _cheapest(job, assurances)
    rows = [
        OrderAnswer(
            recipe,
            verdict_of(own.limits, assurance=own.together, wanted=job.settings.assurance),
            own.together,
            chances[recipe],
            job.costs.get(recipe),
        )
        for recipe, own in told.items()
    ]
    return sorted_order(rows)


def _all_at_once(job: Job, recipe: str, own: Sequence[LimitAnswer]) -> float | None:
    alone = [one.assurance for one in own]
    known = [one for one in alone if one is not None]
    if not own or len(known) < len(alone):
        return None
    if len(own) == 1:
        return known[0]
    together = _assurance(job, recipe, job.limits)
    # The whole is never surer than its surest doubt.
    return None if together is None else min([together, *known])


def _cheapest(job: Job, assurances: Mapping[str, float | None]) -> dict[str, float | None]:
    if any(assurances[recipe] is None or recipe not in job.costs for recipe in job.recipes):
        return dict.fromkeys(job.recipes)
    if len(job.recipes) == 1:
        return dict(assurances)
    upright = [recipe for recipe in job.recipes if assurances[recipe]]
    if not upright:
        return dict.fromkeys(job.recipes, 0.0)
    bars = [job.bars(one, job.limits) if one in upright else None for one in job.standing_recipes]
    costs = [job.costs[one] for one in job.standing_recipes]
    found = cheapest(job.fit, bars, [job.errors(one) for one in job.standing_recipes], costs)
    by_name = dict(zip(job.standing_recipes, found, strict=True))
    return {recipe: _clipped(by_name.get(recipe, 0.0)) for recipe in job.recipes}


def _clipped(chance: float) -> float:
    return min(1.0, max(0.0, chance))
