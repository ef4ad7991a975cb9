"""Would more blocks help?: worked out when somebody asks, for it takes longer than the result itself."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from math import hypot
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results import _compute
from service.desk.results._least import together
from service.desk.results._series import Series, series_of
from service.errors import Invalid, Unsettled
from service.phrase import Phrase
from service.trade.strength.detectable_difference import MoreOfBoth, more_of_both
from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.job import Job, job_of
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.looking_ahead import Beliefs
from service.trade.strength.more_blocks import More, more_blocks, planes_of
from service.trade.strength.shape_corrected_limits import as_crushed, said_of
from service.trade.strength.untested_shares import Rung, worth_trying


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
    asked = _compute.asked_of(session, caller, job_id)
    if not asked.groups:
        return NextSteps((), (), (), "Nothing can be said before the first block is crushed and counted.")
    try:
        return _worked_out(asked.groups, asked.limits, asked.settings, asked.said, series_of(asked.recipes))
    except (Invalid, Unsettled) as refusal:
        return NextSteps((), (), (), refusal.sentence)


@lru_cache(maxsize=128)
def _worked_out(
    groups: tuple[Group, ...],
    limits: tuple[Limit, ...],
    settings: Settings,
    said: StrengthAnswer,
    series: tuple[Series, ...],
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
            as_crushed(together(groups, one.labels, limit.condition), limit),
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


def _tested(job: Job, planes: Mapping[str, Plane], said: StrengthAnswer, series: Series, limit: Limit) -> list[Rung]:
    rows = {(one.recipe, one.name): one for one in said.limits}
    found = []
    for label, share in series.shares:
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
