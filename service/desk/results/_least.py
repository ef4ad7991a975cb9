"""What the curve through the shares of one stabiliser says of a job: cached, for nothing in it changes by looking."""

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from service.desk.results._series import Series
from service.errors import Invalid, Unsettled
from service.phrase import Phrase, Value
from service.trade.strength.content_curve.cells import Row
from service.trade.strength.content_curve.prior import CurvePrior
from service.trade.strength.estimate_result import Group, Limit, OrderAnswer, Settings
from service.trade.strength.shape_corrected_limits import as_crushed
from service.trade.strength.stabiliser_content import ContentAnswer, content

# Own rule: nobody weighs out a share more finely than by a quarter of a percent.
STEP = 0.0025
# Own rule: as many blocks as most codes ask for, from two mixes, for one mix is one mix.
BLOCKS, MIXES = 5, 2
_POINTS = 33


@dataclass(frozen=True)
class LeastShare:
    """The share worth pressing between two recipes: about so much, untested, and between which recipes."""

    share: float
    leaner: str
    richer: str


@dataclass(frozen=True)
class SeriesAnswer:
    """What is said of one series: the curve, or why there is none; the untested share worth pressing; the sentences."""

    series: Series
    said: ContentAnswer | None
    limits: tuple[Limit, ...]
    untested: LeastShare | None
    sentences: tuple[Phrase, ...]


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
    try:
        said = _said(rows, limits, settings)
    except (Invalid, Unsettled) as refusal:
        return SeriesAnswer(series, None, limits, None, (Phrase(refusal.sentence),))
    will_do = [place.recipe for place in order if place.verdict == "will do"]
    leanest = next((label for label, _ in series.shares if label in will_do), None)
    untested = _untested(series, said, leanest)
    return SeriesAnswer(series, said, limits, untested, _sentences(series, said, untested, leanest, costs))


@lru_cache(maxsize=128)
def _said(rows: tuple[Row, ...], limits: tuple[Limit, ...], settings: Settings) -> ContentAnswer:
    believed = settings.prior
    prior = CurvePrior(
        median_mpa=believed.median_mpa,
        log_sd=believed.log_sd,
        scatter=believed.scatter,
        scatter_log_sd=believed.scatter_log_sd,
    )
    return content(
        rows,
        at=_drawn(rows),
        limits=limits,
        wanted=settings.assurance,
        prior=prior,
        scale_sd=settings.scale_uncertainty,
    )


def _drawn(rows: Sequence[Row]) -> tuple[float, ...]:
    shares = sorted({row.share for row in rows})
    low, high = 0.8 * shares[0], 1.2 * shares[-1]
    return tuple(sorted({*shares, *(low + (high - low) * n / (_POINTS - 1) for n in range(_POINTS))}))


def _untested(series: Series, said: ContentAnswer, leanest: str | None) -> LeastShare | None:
    """Return the least share, a round one, if it lies between two recipes and below the leanest that will do."""
    least = said.least
    if least is None or least.kind != "between":
        return None
    share = round(math.ceil(least.share / STEP - 1e-9) * STEP, 6)
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
    about: dict[str, Value] = {"about_share": untested.share, "name": series.stabiliser}
    confirm = "We have not tested it: press {blocks} blocks from {mixes} batches to confirm."
    sentences = [
        Phrase("About {about_share} {name} may be enough.", about),
        Phrase(confirm, {"blocks": BLOCKS, "mixes": MIXES}),
    ]
    saved = _saved(series, untested, leanest, costs)
    if saved and leanest:
        values: dict[str, Value] = {"saved_money": saved, "recipe": leanest}
        sentences.append(Phrase("It would save about {saved_money} a block against recipe {recipe}.", values))
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
