"""The strength engine: what a few blocks say of a recipe, by quadrature of the posterior.

For recipe r, condition c and block i, strength y in MPa:

    ln y = m_rc + e            e ~ N(0, sigma_c^2)
    m_rc ~ N(theta_c, tau^2)
    mu_rc = m_rc - kappa - delta_r

with weak priors on theta_c, sigma_c and tau, kappa the error of the press and delta_r that of the
batches made. A first, coarse pass shows where the posterior lies; a second, finer one gives the
answer. What the two disagree on is the engine's own estimate of its error: beyond tolerance it
refines, and at last refuses.
"""

from collections.abc import Mapping, Sequence
from decimal import Decimal

import numpy as np

from service.errors import Unsettled
from service.trade.strength.engine.chances import Chances, chances
from service.trade.strength.engine.doubt import apart
from service.trade.strength.engine.frame import first_frame, next_frame
from service.trade.strength.engine.grid import Posterior, Resolution, integrate
from service.trade.strength.engine.job import Job, job_of, standing
from service.trade.strength.engine.pairs import Ratio, ratios
from service.trade.strength.engine.quantiles import Strengths, sigma_quantiles, strengths
from service.trade.strength.engine.survey import survey
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
from service.trade.strength.limit_rules import rule_of, sorted_order, verdict_of

PASSES = (
    Resolution(sigma=11, tau=9, theta_step=1.1, mu_step=1.1, kept=1e-3),
    Resolution(sigma=14, tau=11, theta_step=0.85, mu_step=0.85, kept=2e-4),
    Resolution(sigma=21, tau=16, theta_step=0.6, mu_step=0.6, kept=5e-5),
    Resolution(sigma=32, tau=24, theta_step=0.4, mu_step=0.4, kept=1e-5),
)
# Two passes may differ by this share of the tolerance; the finer one is far better than their difference.
_AGREED = 0.8
_UNSETTLED = "These readings do not let the strengths be worked out within tolerance."


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
        One for each recipe and condition, with 1 to 500 readings; at most 12 recipes and 4 conditions.
    limits : Sequence[Limit]
        The rules that every recipe is held to; names differ.
    costs : Mapping[str, Decimal] or None
        Cost of a block by recipe.
    settings : Settings or None
        Assurance, margin, errors and priors; None: as they stand in ``Settings``.

    Returns
    -------
    StrengthAnswer
        Strengths in MPa and ratios within 0.5 %, probabilities within 0.005 of the posterior; intervals are
        equal-tailed 90 %.

    Raises
    ------
    Invalid
        If a group, limit, cost or setting cannot be used (fields as in the contract, ``groups.0.batches``).
    Unsettled
        If two passes still differ beyond tolerance at the finest grid.

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
    job = job_of(groups, limits, costs or {}, settings or Settings())
    try:
        # A number out of range must end as a refusal, never as a figure.
        with np.errstate(over="raise", divide="raise", invalid="raise"):
            return _settled(job)
    except ArithmeticError:
        raise Unsettled(_UNSETTLED) from None


def _settled(job: Job) -> StrengthAnswer:
    seen = survey(job.evidence, job.prior)
    frame = first_frame(seen, job.evidence)
    before: StrengthAnswer | None = None
    for number, fine in enumerate(PASSES):
        posterior = integrate(job.evidence, job.prior, seen, frame, fine)
        answer = _answer(job, posterior, more=number - 1)
        if before is not None and apart(before, answer) <= _AGREED:
            return answer
        before, frame = answer, next_frame(posterior, frame)
    raise Unsettled(_UNSETTLED)


def _answer(job: Job, posterior: Posterior, *, more: int) -> StrengthAnswer:
    of_groups = {
        key: strengths(
            posterior.planes[job.evidence.condition[number]].groups[number],
            sigma=np.exp(posterior.planes[job.evidence.condition[number]].log_sigma),
            error_sd=job.error_sd(key[1]),
        )
        for key, number in job.numbers.items()
    }
    found = chances(job, posterior, more=more)
    limits = _limits(job, found)
    return StrengthAnswer(
        scatter=_scatter(job, posterior),
        groups=tuple(_group(job, key, of_groups.get(key)) for key in job.groups),
        limits=limits,
        pairs=_pairs(job, posterior),
        order=_order(job, found, limits),
    )


def _scatter(job: Job, posterior: Posterior) -> tuple[Scatter, ...]:
    planes = dict(zip(sorted(job.conditions), posterior.planes, strict=True))
    return tuple(Scatter(condition, *sigma_quantiles(planes[condition])) for condition in job.conditions)


def _group(job: Job, key: tuple[str, str], found: Strengths | None) -> GroupStrength:
    condition, recipe = key
    readings = job.readings(condition, recipe)
    held = sum(reading.outcome == "held" for reading in readings)
    # Above what every standing block was held to nothing was measured, and nothing is said.
    whole = found if not job.all_held(condition, recipe) else None
    return GroupStrength(
        recipe=recipe,
        condition=condition,
        readings=len(readings),
        held=held,
        fell_apart=len(readings) - len(standing(readings)),
        median_mpa=whole.median if whole else None,
        low_mpa=found.low if found else None,
        high_mpa=whole.high if whole else None,
        characteristic_mpa=whole.characteristic if whole else None,
        characteristic_low_mpa=found.characteristic_low if found else None,
        next_low_mpa=found.next_low if found else None,
        next_high_mpa=whole.next_high if whole else None,
    )


def _limits(job: Job, found: Chances) -> tuple[LimitAnswer, ...]:
    return tuple(
        LimitAnswer(
            recipe=recipe,
            name=limit.name,
            counted=len(job.held_against(limit, recipe)),
            required=limit.blocks,
            rule=rule_of(job.held_against(limit, recipe), limit),
            assurance=found.of_limit[recipe, limit.name],
        )
        for recipe in job.recipes
        for limit in job.limits
    )


def _pairs(job: Job, posterior: Posterior) -> tuple[PairAnswer, ...]:
    planes = dict(zip(sorted(job.conditions), posterior.planes, strict=True))
    rows: list[PairAnswer] = []
    for condition in job.conditions:
        there = [recipe for recipe in job.recipes if (condition, recipe) in job.groups]
        numbers = {recipe: job.numbers.get((condition, recipe)) for recipe in there}
        batch_sd = {number: job.batch_sd[recipe] for recipe, number in numbers.items() if number is not None}
        measured = [n for recipe, n in numbers.items() if n is not None and not job.all_held(condition, recipe)]
        found = ratios(planes[condition], batch_sd=batch_sd, margin=job.settings.margin) if measured else {}
        for i, a in enumerate(there):
            rows.extend(_pair(job, condition, a, b, _ratio(found, numbers[a], numbers[b])) for b in there[i + 1 :])
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
    more, less = min(1.0, max(0.0, found.more)), min(1.0, max(0.0, found.less))
    same = max(0.0, 1 - (more + less))
    return PairAnswer(condition, a, b, found.ratio, found.low, found.high, more, less, same)


def _order(job: Job, found: Chances, limits: Sequence[LimitAnswer]) -> tuple[OrderAnswer, ...]:
    rows = []
    for recipe in job.recipes:
        own = [limit for limit in limits if limit.recipe == recipe]
        assurance = found.of_all[recipe]
        verdict = verdict_of(own, assurance=assurance, wanted=job.settings.assurance)
        rows.append(OrderAnswer(recipe, verdict, assurance, found.cheapest[recipe], job.costs.get(recipe)))
    return sorted_order(rows)
