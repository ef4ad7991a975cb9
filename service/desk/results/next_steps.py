"""What more blocks would buy: worked out when somebody asks, for it takes longer than the result itself."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import hypot
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results import _working
from service.desk.results.recipe_shape import RecipeFacts
from service.errors import Invalid, Unsettled
from service.phrase import Phrase
from service.trade.strength.detectable_difference import MoreOfBoth, more_of_both
from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.job import Job, job_of
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.more_blocks import Beliefs, More, more_blocks, planes_of
from service.trade.strength.shape_corrected_limits import as_crushed, said_of
from service.trade.strength.untested_shares import Rung, worth_trying

# A recipe may differ from its neighbour in the share of one stabiliser; this is all that makes a series.
_Series = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class NextSteps:
    """More blocks for limits and comparisons that are open, and untested shares worth a mix, each as a sentence."""

    more: tuple[More, ...]
    both: tuple[MoreOfBoth, ...]
    shares: tuple[Phrase, ...]
    declined: str


@look("result.next", by=STAFF)
def next_steps(session: Session, caller: Caller, *, job_id: UUID) -> NextSteps:
    """Return what more blocks of a job's recipes would buy, and which untested share is worth a mix."""
    asked = _working.asked_of(session, caller, job_id)
    if not asked.groups:
        return NextSteps((), (), (), "Nothing can be said before the first block is crushed and counted.")
    try:
        return _worked_out(asked.groups, asked.limits, asked.settings, asked.said, _series(asked.recipes))
    except (Invalid, Unsettled) as refusal:
        return NextSteps((), (), (), refusal.sentence)


@lru_cache(maxsize=128)
def _worked_out(
    groups: tuple[Group, ...],
    limits: tuple[Limit, ...],
    settings: Settings,
    said: StrengthAnswer,
    series: tuple[_Series, ...],
) -> NextSteps:
    more = more_blocks(groups, said, limits=limits, settings=settings)
    both = more_of_both(groups, said, settings=settings)
    if not series or not limits:
        return NextSteps(more, both, (), "")
    job = job_of(groups, limits, {}, settings)
    planes = planes_of(job)
    shares = tuple(
        worth_trying(
            tested,
            as_crushed(_together(groups, one, limit), limit),
            spread=settings.prior.spread,
            error_sd=hypot(settings.scale_uncertainty, settings.batch_sd),
            wanted=settings.assurance,
            amount=said_of(limit),
        )
        for limit in limits
        for one in series
        if len(tested := _tested(job, planes, said, one, limit)) > 1
    )
    return NextSteps(more, both, shares, "")


def _together(groups: Sequence[Group], series: _Series, limit: Limit) -> Group:
    """Return the blocks of a series in one condition as one group: a share between them has a shape between theirs."""
    labels = {label for label, _ in series}
    mine = [one for one in groups if one.recipe in labels and one.condition == limit.condition]
    tables = dict.fromkeys(table for one in mine for table, _ in one.factors)
    factors = tuple((table, tuple(f for one in mine for f in dict(one.factors)[table])) for table in tables)
    readings = tuple(reading for one in mine for reading in one.readings)
    return Group("", limit.condition, readings, factors=factors)


def _tested(job: Job, planes: Mapping[str, Plane], said: StrengthAnswer, series: _Series, limit: Limit) -> list[Rung]:
    rows = {(one.recipe, one.name): one for one in said.limits}
    found = []
    for label, share in series:
        readings = job.readings(limit.condition, label)
        number = job.numbers.get((limit.condition, label))
        if not readings:
            continue
        held = [one.low_mpa for one in readings if one.outcome == "held"]
        found.append(
            Rung(
                label=label,
                share=share,
                fell_apart=any(one.outcome == "fell apart" for one in readings),
                assurance=rows[label, limit.name].assurance,
                beliefs=Beliefs.of(planes[limit.condition], number) if number is not None else None,
                most_mpa=max(held) if held and job.all_held(limit.condition, label) else None,
                fell_elsewhere=_fell_elsewhere(job, label, limit),
            )
        )
    return found


def _fell_elsewhere(job: Job, label: str, limit: Limit) -> str | None:
    others = dict.fromkeys(one.condition for one in job.limits if one.condition != limit.condition)
    fell = (c for c in others if any(one.outcome == "fell apart" for one in job.readings(c, label)))
    return next(fell, None)


def _series(recipes: Sequence[RecipeFacts]) -> tuple[_Series, ...]:
    """Return the recipes that differ in the share of one stabiliser alone, none counting as a share of nothing."""
    by_soil: dict[tuple[tuple[str, float], ...], list[RecipeFacts]] = {}
    for one in recipes:
        soil = tuple((part.name, part.share) for part in one.parts if part.role == "component")
        by_soil.setdefault(soil, []).append(one)
    found = []
    for alike in by_soil.values():
        names = {part.name for one in alike for part in one.parts if part.role == "stabiliser"}
        for name in sorted(names):
            mine = [one for one in alike if _others(one, name) == 0]
            shares = {one.label: _share(one, name) for one in mine}
            if len(set(shares.values())) > 1:
                found.append(tuple(sorted(shares.items(), key=lambda item: (item[1], item[0]))))
    return tuple(found)


def _others(recipe: RecipeFacts, name: str) -> int:
    return sum(part.role == "stabiliser" and part.name != name for part in recipe.parts)


def _share(recipe: RecipeFacts, name: str) -> float:
    return sum(part.over_dry_soil or 0.0 for part in recipe.parts if part.role == "stabiliser" and part.name == name)
