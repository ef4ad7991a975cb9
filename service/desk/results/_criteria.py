"""The rules a job is held against, as they stood when they were chosen, and which of them may decide anything."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.desk.results.result_facts import AskedFacts, CriterionFacts, ValueFacts
from service.records.criteria import CriterionCheck
from service.records.jobs import JobCriterion
from service.shop_clock import ShopClock
from service.trade.block.shape_factors import ShapeFactor
from service.trade.block.test_conditions import Condition
from service.trade.criteria.codes_and_rules import Criterion, limits_for, notes, read_criterion
from service.trade.sources import SOURCES
from service.trade.strength.estimate_result import Group, Limit
from service.trade.strength.limit_rules import characteristic_of
from service.trade.strength.shape_corrected_limits import readings_for


@dataclass(frozen=True)
class Chosen:
    """A rule of the job, and what is said of it."""

    criterion: Criterion
    facts: CriterionFacts


def chosen(rows: Sequence[tuple[JobCriterion, list[CriterionCheck]]], clock: ShopClock) -> tuple[Chosen, ...]:
    """Return the rules of a job; one from memory counts only after the owner noted that its text was read."""
    return tuple(_one(row, checks, clock) for row, checks in rows)


def _one(row: JobCriterion, checks: Sequence[CriterionCheck], clock: ShopClock) -> Chosen:
    criterion = read_criterion(json.loads(row.rules))
    confirmed = clock.day(checks[0].checked_at) if checks else None
    facts = CriterionFacts(
        key=criterion.key,
        name=criterion.name,
        body=criterion.body,
        edition=criterion.edition,
        clause=criterion.clause,
        standing=criterion.standing,
        confirmed_on=confirmed,
        counts=criterion.decides(confirmed=confirmed is not None),
        notes=notes(criterion, confirmed=confirmed is not None),
        shape=criterion.shape_factor,
        characteristic_by=criterion.characteristic_by,
        values=(),
    )
    return Chosen(criterion, facts)


def limits(rules: Sequence[Chosen], tested: Sequence[Condition]) -> tuple[Limit, ...]:
    """Return what the engine is asked on behalf of the rules that count."""
    return tuple(limit for one in rules if one.facts.counts for limit in limits_for(one.criterion, tested=tested))


def asked(rules: Sequence[Chosen], tested: Sequence[Condition]) -> tuple[AskedFacts, ...]:
    """Return the same with the rule each comes from."""
    return tuple(
        AskedFacts(
            name=limit.name,
            criterion=one.facts.name,
            condition=limit.condition,
            statistic=limit.statistic,
            limit_mpa=limit.limit_mpa,
            blocks=limit.blocks,
            shape=limit.shape,
            shape_standing=SOURCES[limit.shape].standing if limit.shape else "",
            by=limit.by,
        )
        for one in rules
        if one.facts.counts
        for limit in limits_for(one.criterion, tested=tested)
    )


def tables(rules: Sequence[Chosen]) -> tuple[ShapeFactor, ...]:
    """Return the tables of shape factors that the rules which count call for; no other is looked up."""
    return tuple(dict.fromkeys(one.facts.shape for one in rules if one.facts.counts and one.facts.shape))


def with_values(
    rules: Sequence[Chosen], groups: Sequence[Group], tested: Sequence[Condition]
) -> tuple[CriterionFacts, ...]:
    """Return what is said of every rule, with the characteristic values that its own text makes of the readings."""
    return tuple(replace(one.facts, values=_values(one, groups, tested)) for one in rules)


def _values(one: Chosen, groups: Sequence[Group], tested: Sequence[Condition]) -> tuple[ValueFacts, ...]:
    if not (one.facts.counts and one.facts.characteristic_by):
        return ()
    asked_in = {limit.condition: limit for limit in limits_for(one.criterion, tested=tested)}
    found = []
    for group in groups:
        limit = asked_in.get(group.condition)
        if limit is not None and (taken := readings_for(group, limit)):
            value = characteristic_of(taken, one.facts.characteristic_by)
            found.append(ValueFacts(group.recipe, group.condition, len(taken), value))
    return tuple(found)
