"""`content`: strength against the share of a stabiliser, and the least share that will do."""

from dataclasses import asdict
from typing import Annotated, Any

from pydantic import Field

from service.errors import Refusal
from service.phrase import Phrase
from service.trade.strength.content_curve.cells import Row
from service.trade.strength.content_curve.curve_prior import CurvePrior
from service.trade.strength.estimate_result import Limit
from service.trade.strength.stabiliser_content import content
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, Name, Positive
from service.work.strength import LimitGiven, ReadingGiven, reading_of


class RowGiven(Given):
    """The blocks of one share of stabiliser, in one condition, of one mix."""

    share: Positive
    condition: Name
    mix: Name | None = None
    readings: Annotated[list[ReadingGiven], Field(min_length=1)]


class CurvePriorGiven(Given):
    """What is believed before the first reading."""

    median_mpa: Positive = CurvePrior.median_mpa
    log_sd: Positive = CurvePrior.log_sd
    slope: float = CurvePrior.slope
    slope_sd: Positive = CurvePrior.slope_sd
    bend: float = CurvePrior.bend
    bend_sd: Positive = CurvePrior.bend_sd
    scatter: Positive = CurvePrior.scatter
    scatter_log_sd: Positive = CurvePrior.scatter_log_sd
    off_curve: Positive = CurvePrior.off_curve
    off_curve_log_sd: Positive = CurvePrior.off_curve_log_sd
    own_way: Positive = CurvePrior.own_way
    own_way_log_sd: Positive = CurvePrior.own_way_log_sd
    mixes: Positive = CurvePrior.mixes
    mixes_log_sd: Positive = CurvePrior.mixes_log_sd


class ContentGiven(Given):
    """Readings by share, the shares asked for, the limits, and how sure is sure enough."""

    rows: Annotated[list[RowGiven], Field(min_length=1)]
    at: Annotated[list[Positive], Field(default_factory=list)]
    limits: Annotated[list[LimitGiven], Field(default_factory=list)]
    assurance: Annotated[float, Field(gt=0, lt=1)] = 0.95
    prior: CurvePriorGiven = CurvePriorGiven()


def calculate(given: ContentGiven) -> dict[str, Any]:
    """Return strength at each share, the slope, and the least share at which every limit holds."""
    answer = content(
        _rows(given.rows),
        at=given.at,
        limits=[Limit(**limit.model_dump()) for limit in given.limits],
        wanted=given.assurance,
        prior=CurvePrior(**given.prior.model_dump()),
    )
    return {
        "least": asdict(answer.least) if answer.least else None,
        "why": _in_words(answer.why) if answer.why else None,
        "at": [asdict(one) for one in answer.at],
        "slope": asdict(answer.slope),
    }


def _in_words(phrase: Phrase) -> str:
    """Return a sentence with its numbers as a program reads them: MPa, and percent."""
    written = {
        name: f"{value:.4g} MPa"
        if name.endswith("_mpa")
        else f"{100 * value:.4g} %"
        if isinstance(value, float)
        else value
        for name, value in phrase.values.items()
    }
    return phrase.english.format_map(written)


def _rows(given: list[RowGiven]) -> list[Row]:
    faults: dict[str, str] = {}
    rows = []
    for number, row in enumerate(given):
        readings = []
        for place, one in enumerate(row.readings):
            try:
                readings.append(reading_of(one))
            except Refusal as refusal:
                faults |= refusal.under(f"rows.{number}.readings.{place}").fields
        rows.append(Row(row.share, row.condition, tuple(readings), row.mix))
    if faults:
        refuse(faults)
    return rows


CALCULATION = Calculation(
    model=ContentGiven,
    run=calculate,
    formula="ln y = theta + slope x + bend x² + u + v + d + e; x = ln(share + 0.5 %)",
    source_keys=("strength-model", "content-slope", "ep-gaussian"),
)
