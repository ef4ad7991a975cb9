"""How force was had from each gauge on each day: the calibration that counted then, or the ram's geometry."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from service.desk.results.result_facts import CalibrationFacts
from service.measured.gauge import GaugeLine, line_on
from service.records.presses import Calibrated, Gauge, Press
from service.records.result_queries import TriedCrushing
from service.shop_clock import ShopClock
from service.trade.press import calibration as pressing


@dataclass(frozen=True)
class Scale(GaugeLine):
    """One line from gauge to force, with its name on the result and whose it is."""

    key: str
    press: Press
    gauge: Gauge


class Scales:
    """The lines that a job's readings were taken by, each made once."""

    def __init__(self, calibrations: Mapping[UUID, list[Calibrated]], *, clock: ShopClock) -> None:
        self._calibrations, self.clock = calibrations, clock
        self._made: dict[UUID, Scale] = {}
        self._on: dict[tuple[UUID, date], Scale] = {}

    def of(self, standing: TriedCrushing | None) -> Scale | None:
        """Return the line that counts for a crushing, None where no gauge was read."""
        if standing is None or standing.gauge is None or standing.press is None or standing.crushing.gauge_mpa is None:
            return None
        return self.on(standing.gauge, standing.press, standing.crushing.crushed_at)

    def on(self, gauge: Gauge, press: Press, at: datetime) -> Scale:
        """Return the line of a gauge that counts at a moment; a line is fitted once a day of a gauge."""
        day = self.clock.day(at)
        found = self._on.get((gauge.id, day))
        if found is None:
            found = self._on[gauge.id, day] = self._line(gauge, press, day)
        return found

    def _line(self, gauge: Gauge, press: Press, day: date) -> Scale:
        known = line_on(self._calibrations.get(gauge.id, []), press, on=day)
        identity = known.calibrated.calibration.id if known.calibrated else gauge.id
        if identity not in self._made:
            key = self._key(known.calibrated)
            self._made[identity] = Scale(known.line, known.calibrated, key, press, gauge)
        return self._made[identity]

    def _key(self, found: Calibrated | None) -> str:
        alike = sum((one.calibrated is None) == (found is None) for one in self._made.values())
        return f"{'C' if found else 'G'}{alike + 1}"


def scales_in_words(read: Iterable[tuple[Scale | None, bool]]) -> tuple[CalibrationFacts, ...]:
    """Return every line that gave a force, with how many readings rest on it and how many came after its end."""
    rests: dict[str, tuple[Scale, list[bool]]] = {}
    for scale, after_end in read:
        if scale:
            rests.setdefault(scale.key, (scale, []))[1].append(after_end)
    return tuple(_said(scale, found) for _, (scale, found) in sorted(rests.items()))


def _said(scale: Scale, readings: list[bool]) -> CalibrationFacts:
    calibration = scale.calibrated.calibration if scale.calibrated else None
    fitted = scale.line if isinstance(scale.line, pressing.Calibration) else None
    ram = scale.line if isinstance(scale.line, pressing.Geometry) else None
    return CalibrationFacts(
        key=scale.key,
        id=calibration.id if calibration else None,
        press=scale.press.name,
        gauge=scale.gauge.name,
        done_on=calibration.done_on if calibration else None,
        valid_until=calibration.valid_until if calibration else None,
        reference=calibration.reference if calibration else None,
        reference_uncertainty=calibration.reference_uncertainty if calibration else None,
        coverage_factor=calibration.coverage_factor if calibration else None,
        zero_mpa=scale.zero_mpa,
        slope_kn_per_mpa=fitted.line.slope if fitted else ram.kn_per_mpa if ram else 0.0,
        intercept_kn=fitted.line.intercept if fitted else 0.0,
        residual_sd_kn=fitted.line.residual_sd if fitted else None,
        lowest_mpa=fitted.lowest_mpa if fitted else None,
        highest_mpa=fitted.highest_mpa if fitted else None,
        points=len(scale.calibrated.points) if scale.calibrated else 0,
        efficiency=ram.efficiency if ram else None,
        ram_diameter_mm=ram.ram_diameter_mm if ram else None,
        rams=ram.rams if ram else None,
        readings=len(readings),
        after_end=sum(readings),
    )
