"""What the curve through the shares of one material says of a job: cached, for nothing in it changes by looking."""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache

from service.desk.results._series import Series, Varied
from service.desk.results._within import Within, range_sentences, round_shares, within
from service.errors import Invalid, Unsettled
from service.phrase import Phrase, Value
from service.trade.strength.content_curve.cells import Row
from service.trade.strength.content_curve.curve_prior import ADDED_SAND, WATER, CurvePrior
from service.trade.strength.estimate_result import Group, Limit, OrderAnswer, Settings
from service.trade.strength.shape_corrected_limits import as_crushed
from service.trade.strength.stabiliser_content import ContentAnswer, chances, content

# Own rule: nobody weighs out a share of stabiliser or water more finely than by a quarter of a percent, of sand by one.
STEP = {"stabiliser": 0.0025, "sand": 0.01, "water": 0.0025}
# Own rule: as many blocks as most codes ask for, from two mixes, for one mix is one mix.
BLOCKS, MIXES = 5, 2
_POINTS = 33
# Two shares show no curve where strength may rise and fall; and a peak below 3 % is none.
_FOR_A_CURVE, _A_PEAK = 3, 1.03


@dataclass(frozen=True)
class LeastShare:
    """The share worth pressing between two recipes: about so much, untested, and between which recipes."""

    share: float
    leaner: str
    richer: str


@dataclass(frozen=True)
class SeriesAnswer:
    """What is said of one series: the curve, or why there is none; the untested share worth pressing; the sentences.

    ``to_plan`` is the share that one tap plans: the untested one, else one that would show a curve. ``chance`` is that
    the untested share meets every limit.
    """

    series: Series
    said: ContentAnswer | None
    limits: tuple[Limit, ...]
    untested: LeastShare | None
    to_plan: LeastShare | None
    sentences: tuple[Phrase, ...]
    chance: float | None = None


def answered(
    series: Series,
    rows: tuple[Row, ...],
    groups: Sequence[Group],
    limits: Sequence[Limit],
    settings: Settings,
    order: Sequence[OrderAnswer],
    costs: Mapping[str, Decimal],
) -> SeriesAnswer:
    """Return what the blocks of a series say of the shares between them."""
    limits = tuple(as_crushed(together(groups, series.labels, limit.condition), limit) for limit in limits)
    if series.varied == "stabiliser" and len({share for _, share in series.shares if share}) < 2:
        one = Phrase(_ONE_SHARE, {"name": series.material})
        return SeriesAnswer(series, None, limits, None, _between(series, *_ends(series)), (one,))
    try:
        said = _said(rows, limits, settings, series.varied)
    except (Invalid, Unsettled) as refusal:
        return SeriesAnswer(series, None, limits, None, None, (Phrase(refusal.sentence),))
    will_do = tuple(place.recipe for place in order if place.verdict == "will do")
    if series.varied != "stabiliser":
        if len({share for _, share in series.shares}) < _FOR_A_CURVE:
            return SeriesAnswer(series, said, limits, None, _between(series, *_ends(series)), (_no_curve(series),))
        return _of_range(series, rows, said, limits, settings, will_do, costs)
    leanest = next((label for label, _ in series.shares if label in will_do), None)
    untested = _untested(series, said, leanest)
    sentences = _sentences(series, said, untested, leanest, costs)
    chance = said.least.assurance if said.least and untested else None
    return SeriesAnswer(series, said, limits, untested, untested, sentences, chance)


def _of_range(
    series: Series,
    rows: tuple[Row, ...],
    said: ContentAnswer,
    limits: tuple[Limit, ...],
    settings: Settings,
    will_do: tuple[str, ...],
    costs: Mapping[str, Decimal],
) -> SeriesAnswer:
    """Return what is said of sand or water, of which more is not always stronger: a range, and what in it to press."""
    strongest = _of_water(series, said, limits) if series.varied == "water" else None
    before = strongest.sentences if strongest else ()
    to_plan = strongest.to_plan if strongest else None
    shares = round_shares(series, STEP[series.varied])
    sure = dict(zip(shares, _chances(rows, shares, limits, settings, series.varied), strict=True)) if limits else {}
    if not any(sure.values()) and not set(will_do) & series.labels:
        why = (said.why,) if limits and said.why else ()
        return SeriesAnswer(series, said, limits, None, to_plan, (*before, *why))
    found = within(series, sure, wanted=settings.assurance, will_do=will_do, costs=costs)
    told = range_sentences(series, found, wanted=settings.assurance, costs=costs, confirm=_confirm())
    if found.share is None:
        return SeriesAnswer(series, said, limits, None, to_plan, (*before, *told))
    place = _beside(series, found)
    kept = tuple(one for one in before if one != _confirm())
    return SeriesAnswer(series, said, limits, place, place, (*kept, *told), found.chance)


def _beside(series: Series, found: Within) -> LeastShare:
    """Return the untested share of a range with the recipes on either side of it."""
    share = found.share or 0.0
    leaner = [label for label, one in series.shares if one < share]
    richer = [label for label, one in series.shares if one > share]
    return LeastShare(share, leaner[-1], richer[0])


def _of_water(series: Series, said: ContentAnswer, limits: tuple[Limit, ...]) -> SeriesAnswer:
    """Return where strength is highest, and whether a water between the tested ones may be stronger."""
    conditions = tuple(dict.fromkeys(one.condition for one in said.at))
    condition = next((one for one in conditions if one.startswith("soaked")), conditions[0])
    here = [(one.strength_mpa, one.share, one.kind) for one in said.at if one.condition == condition]
    known = [(mpa, share, kind) for mpa, share, kind in here if mpa is not None]
    tested = max(((mpa, share) for mpa, share, kind in known if kind == "tested"), default=None)
    peak = max(((mpa, share) for mpa, share, _ in known), default=None)
    if tested is None or peak is None:
        return SeriesAnswer(series, said, limits, None, None, ())
    near = round(round(peak[1] / STEP["water"]) * STEP["water"], 6)
    place = _between(series, near, near)
    if peak[0] < _A_PEAK * tested[0] or place is None:
        values: dict[str, Value] = {"tested_share": tested[1], "condition": condition}
        return SeriesAnswer(series, said, limits, None, None, (Phrase(_STRONGEST, values),))
    values = {"about_share": place.share, "condition": condition}
    return SeriesAnswer(series, said, limits, None, place, (Phrase(_PEAK, values), _confirm()))


_STRONGEST = "The blocks with {tested_share} water were the strongest, {condition}."
_PEAK = "Strength may be highest with about {about_share} water, {condition}."
_ONE_SHARE = "One share of {name} shows no curve. Press another share too."
_NO_CURVE = (
    "We tested only two shares of {name}. Strength may be highest between them. "
    "Press a recipe with a share between them."
)


def _no_curve(series: Series) -> Phrase:
    return Phrase(_NO_CURVE, {"name": series.material})


def _confirm() -> Phrase:
    sentence = "We have not tested it; {blocks} blocks from {mixes} batches would confirm it."
    return Phrase(sentence, {"blocks": BLOCKS, "mixes": MIXES})


def _ends(series: Series) -> tuple[float, float]:
    return series.shares[0][1], series.shares[-1][1]


def _between(series: Series, low: float, high: float) -> LeastShare | None:
    """Return the share in the middle, a round one, with the recipes on either side; None where it was tested."""
    step = STEP[series.varied]
    share = round(round((low + high) / 2 / step) * step, 6)
    leaner = [label for label, one in series.shares if one < share]
    richer = [label for label, one in series.shares if one > share]
    if not leaner or not richer or any(abs(one - share) < step / 2 for _, one in series.shares):
        return None
    return LeastShare(share, leaner[-1], richer[0])


@lru_cache(maxsize=128)
def _said(rows: tuple[Row, ...], limits: tuple[Limit, ...], settings: Settings, varied: Varied) -> ContentAnswer:
    return content(
        rows,
        at=_drawn(rows, varied),
        limits=limits,
        wanted=settings.assurance,
        prior=_prior(settings, varied),
        scale_sd=settings.scale_uncertainty,
    )


@lru_cache(maxsize=128)
def _chances(
    rows: tuple[Row, ...], shares: tuple[float, ...], limits: tuple[Limit, ...], settings: Settings, varied: Varied
) -> tuple[float, ...]:
    return chances(rows, shares, limits, prior=_prior(settings, varied), scale_sd=settings.scale_uncertainty)


def _prior(settings: Settings, varied: Varied) -> CurvePrior:
    believed = settings.prior
    return replace(
        {"stabiliser": CurvePrior(), "sand": ADDED_SAND, "water": WATER}[varied],
        median_mpa=believed.median_mpa,
        log_sd=believed.log_sd,
        scatter=believed.scatter,
        scatter_log_sd=believed.scatter_log_sd,
    )


def _drawn(rows: Sequence[Row], varied: Varied) -> tuple[float, ...]:
    """Return where the curve is drawn: of a stabiliser a fifth beyond the tested shares, of sand and water within."""
    shares = sorted({row.share for row in rows})
    if varied != "stabiliser" and len(shares) < _FOR_A_CURVE:
        return tuple(shares)
    low, high = (0.8 * shares[0], 1.2 * shares[-1]) if varied == "stabiliser" else (shares[0], shares[-1])
    return tuple(sorted({*shares, *(low + (high - low) * n / (_POINTS - 1) for n in range(_POINTS))}))


def _untested(series: Series, said: ContentAnswer, leanest: str | None) -> LeastShare | None:
    """Return the least share, a round one, if it lies between two recipes and below the leanest that will do."""
    least = said.least
    if least is None or least.kind != "between":
        return None
    step = STEP[series.varied]
    share = round(math.ceil(least.share / step - 1e-9) * step, 6)
    leaner = [label for label, one in series.shares if one < share]
    richer = [label for label, one in series.shares if one > share]
    tested = dict(series.shares)
    if not leaner or not richer or share in tested.values() or (leanest and share >= tested[leanest]):
        return None
    return LeastShare(share, leaner[-1], richer[0])


def _sentences(
    series: Series,
    said: ContentAnswer,
    untested: LeastShare | None,
    leanest: str | None,
    costs: Mapping[str, Decimal],
) -> tuple[Phrase, ...]:
    if untested is None:
        return (said.why,) if said.why and leanest is None else ()
    about: dict[str, Value] = {"about_share": untested.share, "name": series.material}
    sentences = [Phrase("About {about_share} {name} may be enough.", about), _confirm()]
    saved = _saved(series, untested, leanest, costs)
    if saved and leanest:
        values = {**about, "saved_money": saved, "recipe": leanest}
        english = "{about_share} {name} would save about {saved_money} a block against recipe {recipe}."
        sentences.append(Phrase(english, values))
    return tuple(sentences)


def _saved(series: Series, untested: LeastShare, leanest: str | None, costs: Mapping[str, Decimal]) -> Decimal | None:
    """Return what a block would save against the leanest that will do; cost runs straight between two shares."""
    low, high = costs.get(untested.leaner), costs.get(untested.richer)
    if leanest is None or low is None or high is None or costs.get(leanest) is None:
        return None
    shares = dict(series.shares)
    start, end = shares[untested.leaner], shares[untested.richer]
    part = Decimal(str(round((untested.share - start) / (end - start), 6)))
    saved = costs[leanest] - (low + (high - low) * part)
    return saved if saved > 0 else None


def together(groups: Sequence[Group], labels: Collection[str], condition: str) -> Group:
    """Return the blocks of some recipes in one condition as one group: a share between has a shape between."""
    mine = [one for one in groups if one.recipe in labels and one.condition == condition]
    tables = dict.fromkeys(table for one in mine for table, _ in one.factors)
    factors = tuple((table, tuple(f for one in mine for f in dict(one.factors)[table])) for table in tables)
    readings = tuple(reading for one in mine for reading in one.readings)
    return Group("", condition, readings, factors=factors)
