"""An open press session of crushing: what the tablet needs to draw its line from gauge to stress, and where to stop."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from service.measured.gauge import line_on
from service.records.block_queries import GaugeAtHand
from service.records.presses import Calibrated
from service.trade.press import calibration as pressing

NEWTONS_PER_KN = 1000.0


@dataclass(frozen=True)
class PressSessionView:
    """An open press session of crushing, with the line that turns its gauge into stress while it is typed."""

    id: UUID
    gauge_id: UUID
    gauge: str
    press: str
    unit: str
    opened_by: str
    zero_before_mpa: float
    slope_n_per_mpa: float
    intercept_n: float
    shift_mpa: float
    least_mpa: float
    most_mpa: float
    limit_mpa: float
    working_limit_kn: float | None
    full_scale_mpa: float
    graduation_mpa: float
    calibrated: bool
    over_since: date | None


def press_session_view(
    hand: GaugeAtHand, calibrations: Sequence[Calibrated], *, today: date
) -> PressSessionView | None:
    """Return the press session that is open at a gauge, or None."""
    gauge, press, press_session, opened_by = hand
    if press_session is None:
        return None
    known = line_on(calibrations, press, on=today)
    least_mpa, most_mpa = known.range_mpa or (0.0, gauge.full_scale_mpa)
    return PressSessionView(
        id=press_session.id,
        gauge_id=gauge.id,
        gauge=gauge.name,
        press=press.name,
        unit=gauge.unit,
        opened_by=opened_by.name if opened_by else "",
        zero_before_mpa=press_session.zero_before_mpa,
        slope_n_per_mpa=_slope(known.line) * NEWTONS_PER_KN,
        intercept_n=known.line.force_kn(0.0) * NEWTONS_PER_KN,
        shift_mpa=known.shift_mpa(press_session),
        least_mpa=least_mpa,
        most_mpa=most_mpa,
        limit_mpa=known.stop_mpa(press, gauge, press_session),
        working_limit_kn=press.working_limit_kn,
        full_scale_mpa=gauge.full_scale_mpa,
        graduation_mpa=gauge.graduation_mpa,
        calibrated=known.calibrated is not None,
        over_since=known.valid_until if known.over_on(today) else None,
    )


def _slope(line: pressing.Geometry | pressing.Calibration) -> float:
    return line.kn_per_mpa if isinstance(line, pressing.Geometry) else line.line.slope
