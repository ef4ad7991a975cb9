"""What an official asks of a result, counted plainly: numbers of the readings themselves, beside those of the model."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from statistics import fmean, stdev
from zoneinfo import ZoneInfo

from service.desk.results.result_facts import AskedFacts, CrushedFacts, GroupFacts, ReadingFacts, Result
from service.trade.strength.estimate_result import LimitAnswer

# Where no gauge was read, stresses are shown to hundredths.
FINEST_MPA = 0.01


@dataclass(frozen=True)
class Plain:
    """The counted blocks of one recipe in one condition; mean and deviation where all of them broke."""

    group: GroupFacts
    counted: int
    broke: int
    lowest_mpa: float | None
    mean_mpa: float | None
    sd_mpa: float | None
    high_mpa: float | None
    median_mpa: float | None


@dataclass(frozen=True)
class Judged:
    """One limit with what it comes to for each recipe."""

    asked: AskedFacts
    read_as: str
    rows: tuple[LimitAnswer, ...]


@dataclass(frozen=True)
class PutTo:
    """The blocks by which a rule is judged where more were crushed than it asks for: the first ones crushed."""

    recipe: str
    condition: str
    counted: int
    blocks: tuple[str, ...]


@dataclass(frozen=True)
class Evidence:
    """The second and third page."""

    step_mpa: float
    plain: tuple[Plain, ...]
    judged: tuple[Judged, ...]
    put_to: tuple[PutTo, ...]
    alike: dict[str, str | None]
    # How the highest reading was caught, and of how many of the loaded blocks; none where it was never written down.
    peaks: Mapping[str, int]
    # Mean rate of loading of the blocks that were timed, lowest and highest, in MPa/s.
    rates_mpa_s: tuple[float, float] | None
    timed: int
    loaded: int
    deviations: tuple[ReadingFacts, ...]
    crushed_by: tuple[str, ...]
    first_crushed: date | None
    last_crushed: date | None


def evidence(result: Result, *, zone: str) -> Evidence:
    """Return what the readings of a result come to without any model, and what all of them share."""
    stresses = [one.crushed.stress for one in result.readings if one.crushed and one.crushed.stress]
    crushed = [one.crushed for one in result.readings if one.crushed]
    rates = [one.rate_mpa_s for one in stresses if one.rate_mpa_s is not None]
    days = sorted(_day(one.crushed_at, zone) for one in crushed)
    return Evidence(
        step_mpa=widest_step_mpa(result),
        plain=tuple(_plain(one, result.readings) for one in result.groups),
        judged=_judged(result),
        put_to=_put_to(result),
        alike={name: _same(crushed, name) for name in ("orientation", "faces")},
        peaks=Counter(one.peak_read for one in crushed if one.stress and one.peak_read),
        rates_mpa_s=(min(rates), max(rates)) if rates else None,
        timed=len(rates),
        loaded=len(stresses),
        deviations=tuple(one for one in result.readings if _deviates(one)),
        crushed_by=tuple(dict.fromkeys(one.crushed_by for one in crushed)),
        first_crushed=days[0] if days else None,
        last_crushed=days[-1] if days else None,
    )


def widest_step_mpa(result: Result) -> float:
    """Return the widest step of the gauges that were read, as stress: no figure tells more."""
    stresses = (one.crushed.stress for one in result.readings if one.crushed)
    return max((one.graduation_mpa for one in stresses if one), default=FINEST_MPA)


def _plain(group: GroupFacts, readings: Sequence[ReadingFacts]) -> Plain:
    said = group.said
    mine = [one for one in readings if (one.recipe, one.condition) == (said.recipe, said.condition)]
    counted = [one.crushed for one in mine if one.fate == "counted" and one.crushed]
    broke = [one.stress.stress_mpa for one in counted if one.outcome == "broke" and one.stress]
    whole = len(broke) == len(counted)
    top = group.beyond_mpa
    return Plain(
        group=group,
        counted=len(counted),
        broke=len(broke),
        lowest_mpa=min(broke, default=None),
        mean_mpa=fmean(broke) if broke and whole else None,
        sd_mpa=stdev(broke) if len(broke) > 1 and whole else None,
        # An interval ends where measuring stopped.
        high_mpa=said.high_mpa if top is None else None,
        median_mpa=said.median_mpa if top is None or (said.median_mpa or 0.0) <= top else None,
    )


def _judged(result: Result) -> tuple[Judged, ...]:
    read_as = {one.name: one.standing for one in result.criteria}
    return tuple(
        Judged(one, read_as.get(one.criterion, ""), tuple(row for row in result.limits if row.name == one.name))
        for one in result.asked
    )


def _put_to(result: Result) -> tuple[PutTo, ...]:
    """Return which blocks each rule is put to, where it is put to some of those that were crushed."""
    asked = {one.name: one for one in result.asked}
    found: dict[PutTo, None] = {}
    for row in result.limits:
        if row.rule is None or row.counted <= row.required or row.name not in asked:
            continue
        condition = asked[row.name].condition
        mine = [one for one in result.readings if (one.recipe, one.condition) == (row.recipe, condition)]
        crushed = sorted((one for one in mine if one.fate == "counted"), key=lambda one: one.turn)
        found[PutTo(row.recipe, condition, row.counted, tuple(one.block for one in crushed[: row.required]))] = None
    return tuple(found)


def _deviates(one: ReadingFacts) -> bool:
    """Return whether something about a block has to be told besides its reading."""
    stress = one.crushed.stress if one.crushed else None
    weak = stress is not None and (stress.after_end or stress.zero_wandered or stress.in_range is False)
    return (
        bool(
            one.fate not in ("counted", "waiting") or one.strays or one.stands_out or one.earlier or one.cracked_because
        )
        or weak
    )


def _same(crushed: Sequence[CrushedFacts], name: str) -> str | None:
    found = {getattr(one, name) for one in crushed}
    return found.pop() if len(found) == 1 else None


def _day(moment: datetime, zone: str) -> date:
    return moment.astimezone(ZoneInfo(zone)).date()
