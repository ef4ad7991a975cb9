"""A gauge on a day: the line from what it shows to force, and where it is to stop."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from service.errors import Invalid
from service.records.presses import Calibrated, Gauge, Mould, Press, PressSession, in_force
from service.trade.press import calibration as pressing
from service.typed import Typed

# A limit typed in one unit and a gauge typed in another meet in rounding, not in force.
ROUNDING = 1e-9
# Further off than this share of the dial is a broken gauge or a wrong unit; common practice, no published source.
FARTHEST_ZERO = 0.1


@dataclass(frozen=True)
class GaugeLine:
    """The line from gauge to force that counts on a day, and its calibration; without one the rams alone."""

    line: pressing.Geometry | pressing.Calibration
    calibrated: Calibrated | None

    @property
    def zero_mpa(self) -> float:
        """What the gauge showed unloaded when its line was made."""
        return self.calibrated.calibration.zero_mpa if self.calibrated else 0.0

    @property
    def valid_until(self) -> date | None:
        """The last day of the calibration, None without one."""
        return self.calibrated.calibration.valid_until if self.calibrated else None

    @property
    def range_mpa(self) -> tuple[float, float] | None:
        """From where to where the calibration goes, None without one."""
        return None if isinstance(self.line, pressing.Geometry) else (self.line.lowest_mpa, self.line.highest_mpa)

    def covers(self, gauge_mpa: float) -> bool | None:
        """Return whether the calibration reaches over a gauge reading; None without a calibration."""
        return None if isinstance(self.line, pressing.Geometry) else self.line.in_range(gauge_mpa)

    def over_on(self, day: date) -> bool:
        """Return whether the calibration had run out by a day."""
        return self.valid_until is not None and self.valid_until < day

    def shift_mpa(self, press_session: PressSession | None) -> float:
        """Return how far the gauge stood from the zero of its line in a press session of crushing."""
        return press_session.zero_before_mpa - self.zero_mpa if press_session else 0.0

    def force_kn(self, gauge_mpa: float, press_session: PressSession | None) -> float:
        """Return the force at a reading of a press session; below zero where the gauge stood under its own zero."""
        return self.line.force_kn(gauge_mpa - self.shift_mpa(press_session))

    def gauge_for(self, stress_mpa: float, mould: Mould) -> float:
        """Return what the gauge must show for a stress on the face of a mould."""
        face = {"face_length_mm": mould.length_mm, "face_width_mm": mould.width_mm}
        return pressing.gauge_for_stress(self.line, stress_mpa=stress_mpa, **face).gauge_mpa

    def stop_mpa(self, press: Press, gauge: Gauge, press_session: PressSession | None = None) -> float:
        """Return where the gauge is to stop: at the working limit of the press, and never beyond its own dial."""
        most_kn = press.working_limit_kn if press.working_limit_kn is not None else press.rating_kn
        if most_kn is None:
            return gauge.full_scale_mpa
        return min(gauge.full_scale_mpa, self.line.gauge_mpa(most_kn) + self.shift_mpa(press_session))


def line_on(calibrations: Sequence[Calibrated], press: Press, *, on: date) -> GaugeLine:
    """Return the line of a gauge on a day: by its calibration in force then, or by the geometry of the ram."""
    found = in_force(list(calibrations), on=on)
    if found is None:
        return GaugeLine(
            pressing.press_by_geometry(
                ram_diameter_mm=press.ram_diameter_mm, rams=press.rams, efficiency=press.efficiency
            ),
            None,
        )
    points = [pressing.CalibrationPoint(one.gauge_mpa, one.force_kn) for one in found.points]
    return GaugeLine(pressing.fit_calibration(points), found)


def above(gauge_mpa: float, stop_mpa: float) -> bool:
    """Return whether a reading lies above where the gauge was to stop."""
    return gauge_mpa > stop_mpa * (1 + ROUNDING)


ABOVE = "This is above the working limit of the press. Look at the number and its unit."
SAID = "Tick this only where the gauge did show it."


def limit_faults(typed: Typed | None, stop_mpa: float, *, field: str, above_limit: bool) -> dict[str, str]:
    """Return what is refused of a reading above where the gauge was to stop, nothing where it is said to be so."""
    if typed is None or above_limit or not above(typed.value, stop_mpa):
        return {}
    return {field: ABOVE, "above_limit": SAID}


def check_zero(zero: Typed, gauge: Gauge, *, field: str) -> None:
    """Refuse what a gauge is said to show unloaded where no gauge in order shows it."""
    if abs(zero.value) > FARTHEST_ZERO * gauge.full_scale_mpa:
        sentence = "This is far from zero. Look at the unit, or stop using the gauge."
        raise Invalid(sentence, {field: sentence})
