"""How fast the needle of a gauge must climb for the rates of loading that the criteria of a job ask for."""

import json
from collections.abc import Sequence
from dataclasses import dataclass

from service.records.block_queries import WholeBlock
from service.records.jobs import JobCriterion
from service.trade.press.calibration import Calibration, Geometry
from service.trade.press.loading_rate import gauge_rate, rates_of


@dataclass(frozen=True)
class RateLine:
    """A rate of loading as its source gives it, and the climb of the gauge on this press and block, low and high."""

    asked_by: tuple[str, ...]
    test: str
    low: float
    high: float
    unit: str
    gauge_low_mpa_s: float
    gauge_high_mpa_s: float
    seconds_a_mark: tuple[float, float]
    says: str
    source: str
    standing: str


def rate_lines(
    line: Geometry | Calibration,
    criteria: Sequence[JobCriterion],
    *,
    face_mm: tuple[float, float],
    graduation_mpa: float,
) -> list[RateLine]:
    """Return every rate that the criteria ask for, on this gauge and this face."""
    names = {one.key: str(json.loads(one.rules)["name"]) for one in criteria}
    length, width = face_mm
    lines = []
    for rate in rates_of(names):
        low, high = (gauge_rate(line, face_length_mm=length, face_width_mm=width, **end) for end in rate.ends)
        lines.append(
            RateLine(
                tuple(names[key] for key in rate.criteria if key in names),
                rate.test,
                rate.low,
                rate.high,
                rate.unit,
                low.gauge_rate_mpa_s,
                high.gauge_rate_mpa_s,
                (graduation_mpa / high.gauge_rate_mpa_s, graduation_mpa / low.gauge_rate_mpa_s),
                rate.says,
                rate.source,
                rate.standing,
            )
        )
    return lines


def face_of(whole: WholeBlock, orientation: str) -> tuple[float, float] | None:
    """Return the sides of the face that is loaded, None where the height was never measured."""
    length, width, height = whole.block.length_mm, whole.block.width_mm, whole.height_mm
    if orientation == "flat":
        return length, width
    if height is None:
        return None
    return (length, height) if orientation == "on edge" else (width, height)
