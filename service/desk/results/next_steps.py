"""Would more blocks help?: worked out when somebody asks, for it takes longer than the result itself."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results import _compute
from service.desk.results._acts import Act, PricesMissing, acts, missing
from service.desk.results._compute import Asked
from service.desk.results._least import SeriesAnswer
from service.errors import Invalid, Unsettled
from service.phrase import Phrase, Value
from service.trade.strength.detectable_difference import MoreOfBoth, more_of_both
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.more_blocks import More, more_blocks


@dataclass(frozen=True)
class NextSteps:
    """Acts beside each other; more blocks for what is open, and untested shares worth a mix, each as a sentence."""

    more: tuple[More, ...]
    both: tuple[MoreOfBoth, ...]
    shares: tuple[Phrase, ...]
    declined: str
    acts: tuple[Act, ...] = ()
    prices_missing: PricesMissing | None = None


@look("result.next", by=STAFF)
def next_steps(session: Session, caller: Caller, *, job_id: UUID) -> NextSteps:
    """Return what more blocks of a job's recipes would buy, and which untested share is worth a mix."""
    asked = _compute.asked_of(session, caller, job_id)
    if not asked.groups:
        return NextSteps((), (), (), "Nothing can be said before the first block is crushed and counted.")
    try:
        more, both = _worked_out(asked.groups, asked.limits, asked.settings, asked.said)
    except (Invalid, Unsettled) as refusal:
        return NextSteps((), (), (), refusal.sentence)
    answers = _compute.series_answers(asked) if asked.limits else ()
    shares = tuple(one for answer in answers for one in _on_shares(answer, asked))
    found = acts(more, answers, asked, caller.shop)
    return NextSteps(more, both, shares, "", found, missing(found, caller.shop))


@lru_cache(maxsize=128)
def _worked_out(
    groups: tuple[Group, ...], limits: tuple[Limit, ...], settings: Settings, said: StrengthAnswer
) -> tuple[tuple[More, ...], tuple[MoreOfBoth, ...]]:
    return more_blocks(groups, said, limits=limits, settings=settings), more_of_both(groups, said, settings=settings)


_ABOVE = (
    "No tested share of stabiliser is sure to pass, {condition}. We tested {high_share} at most and cannot say "
    "whether more would."
)
_BELOW = "The least tested share, {low_share}, passes already, {condition}. We tested no less."
_ACROSS = (
    "We cannot estimate between {low_share} and {high_share}, {condition}. Blocks with the lower share fell apart or "
    "were not crushed. Mix a share between them to find out."
)


def _on_shares(answer: SeriesAnswer, asked: Asked) -> Iterator[Phrase]:
    """Yield what is said of shares between the recipes of a series, or why nothing is; never of one outside them."""
    if answer.untested or answer.series.varied != "stabiliser":
        yield from answer.sentences
        return
    will_do = {place.recipe for place in asked.said.order if place.verdict == "will do"}
    stood = {(one.condition, one.recipe) for one in asked.said.groups if one.readings and not one.fell_apart}
    for condition in dict.fromkeys(limit.condition for limit in answer.limits):
        crushed = {one.recipe for one in asked.said.groups if one.condition == condition}
        tested = [(label, share) for label, share in answer.series.shares if label in crushed]
        place = next((number for number, (label, _) in enumerate(tested) if label in will_do), None)
        if len(tested) < 2:
            continue
        values: dict[str, Value] = {"condition": condition}
        if place is None:
            yield Phrase(_ABOVE, values | {"high_share": tested[-1][1]})
        elif place == 0:
            yield Phrase(_BELOW, values | {"low_share": tested[0][1]})
        elif (condition, tested[place - 1][0]) not in stood:
            yield Phrase(_ACROSS, values | {"low_share": tested[place - 1][1], "high_share": tested[place][1]})
