"""The rules a job is held against, as they stood when they were chosen, and which of them may decide anything."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from service.desk.results.shape import AskedFacts, CriterionFacts
from service.records.criteria import CriterionCheck
from service.records.jobs import JobCriterion
from service.trade.conditions import Condition
from service.trade.criteria import Criterion, limits_for, notes, read_criterion
from service.trade.strength_answer import Limit


@dataclass(frozen=True)
class Chosen:
    """A rule of the job, and what is said of it."""

    criterion: Criterion
    facts: CriterionFacts


def chosen(rows: Sequence[tuple[JobCriterion, list[CriterionCheck]]], *, zone: str) -> tuple[Chosen, ...]:
    """Return the rules of a job; one from memory counts only after the owner noted that its text was read."""
    return tuple(_one(row, checks, zone=zone) for row, checks in rows)


def _one(row: JobCriterion, checks: Sequence[CriterionCheck], *, zone: str) -> Chosen:
    criterion = read_criterion(json.loads(row.rules))
    confirmed = checks[0].checked_at.astimezone(ZoneInfo(zone)).date() if checks else None
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
    )
    return Chosen(criterion, facts)


def limits(rules: Sequence[Chosen], tested: Sequence[Condition]) -> tuple[Limit, ...]:
    """Return what the engine is asked on behalf of the rules that count."""
    return tuple(limit for one in rules if one.facts.counts for limit in limits_for(one.criterion, tested=tested))


def asked(rules: Sequence[Chosen], tested: Sequence[Condition]) -> tuple[AskedFacts, ...]:
    """Return the same with the rule each comes from."""
    return tuple(
        AskedFacts(limit.name, one.facts.name, limit.condition, limit.statistic, limit.limit_mpa, limit.blocks)
        for one in rules
        if one.facts.counts
        for limit in limits_for(one.criterion, tested=tested)
    )
