"""From a gauge to stress on the face: the line that counts on a day, and what the tablet needs to draw it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from service.errors import Invalid
from service.records.block_queries import GaugeAtHand
from service.records.crushings import Crushing
from service.records.presses import Calibrated, Gauge, Press, PressSession, in_force
from service.trade.press import calibration
from service.trade.press.gauge_to_stress import Peak, peak_stress

NEWTONS_PER_KN = 1000.0


@dataclass(frozen=True)
class Scale:
    """One line from gauge to force, and the calibration it comes from if there is one."""

    line: calibration.Geometry | calibration.Calibration
    zero_mpa: float
    valid_until: date | None
    least_mpa: float | None
    most_mpa: float | None

    def shift_mpa(self, spell: PressSession | None) -> float:
        """Return how far the gauge stood from the zero of its line in a spell of crushing."""
        return spell.zero_before_mpa - self.zero_mpa if spell else 0.0

    def limit_mpa(self, press: Press, spell: PressSession | None) -> float | None:
        """Return what the gauge shows at the working limit of the press."""
        if press.working_limit_kn is None:
            return None
        return self.line.gauge_mpa(press.working_limit_kn) + self.shift_mpa(spell)


@dataclass(frozen=True)
class SpellView:
    """An open spell of crushing, with the line that turns its gauge into stress while it is typed."""

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
    limit_mpa: float | None
    working_limit_kn: float | None
    full_scale_mpa: float
    calibrated: bool
    over_since: date | None


def scale_on(calibrations: Sequence[Calibrated], press: Press, *, on: date) -> Scale:
    """Return the line of a gauge on a day: its calibration in force then, or the geometry of the ram."""
    found = in_force(list(calibrations), on=on)
    if found is None:
        line = calibration.press_by_geometry(
            ram_diameter_mm=press.ram_diameter_mm, rams=press.rams, efficiency=press.efficiency
        )
        return Scale(line, 0.0, None, None, None)
    fitted = calibration.fit_calibration([calibration.CalibrationPoint(p.gauge_mpa, p.force_kn) for p in found.points])
    kept = found.calibration
    return Scale(fitted, kept.zero_mpa, kept.valid_until, fitted.lowest_mpa, fitted.highest_mpa)


def spell_view(hand: GaugeAtHand, calibrations: Sequence[Calibrated], *, today: date) -> SpellView | None:
    """Return the spell that is open at a gauge, or None."""
    gauge, press, spell, opened_by = hand
    if spell is None:
        return None
    scale = scale_on(calibrations, press, on=today)
    zero_n = scale.line.force_kn(0.0) * NEWTONS_PER_KN
    over = scale.valid_until if scale.valid_until is not None and scale.valid_until < today else None
    return SpellView(
        id=spell.id,
        gauge_id=gauge.id,
        gauge=gauge.name,
        press=press.name,
        unit=gauge.unit,
        opened_by=opened_by.name if opened_by else "",
        zero_before_mpa=spell.zero_before_mpa,
        slope_n_per_mpa=_slope(scale.line) * NEWTONS_PER_KN,
        intercept_n=zero_n,
        shift_mpa=scale.shift_mpa(spell),
        least_mpa=scale.least_mpa if scale.least_mpa is not None else 0.0,
        most_mpa=scale.most_mpa if scale.most_mpa is not None else gauge.full_scale_mpa,
        limit_mpa=scale.limit_mpa(press, spell),
        working_limit_kn=press.working_limit_kn,
        full_scale_mpa=gauge.full_scale_mpa,
        calibrated=scale.valid_until is not None,
        over_since=over,
    )


def _slope(line: calibration.Geometry | calibration.Calibration) -> float:
    return line.kn_per_mpa if isinstance(line, calibration.Geometry) else line.line.slope


def peak_of(crushing: Crushing, gauge: Gauge | None, spell: PressSession | None, scale: Scale | None) -> Peak | None:
    """Return force and stress at the peak, or None where the gauge stood at its zero or none was read."""
    if gauge is None or scale is None or crushing.gauge_mpa is None:
        return None
    if crushing.length_mm is None or crushing.width_mm is None:
        return None
    try:
        return peak_stress(
            scale.line,
            gauge_mpa=crushing.gauge_mpa,
            face_length_mm=crushing.length_mm,
            face_width_mm=crushing.width_mm,
            graduation_mpa=gauge.graduation_mpa,
            zero_mpa=spell.zero_before_mpa if spell else scale.zero_mpa,
            calibrated_zero_mpa=scale.zero_mpa,
        )
    except Invalid:
        return None
