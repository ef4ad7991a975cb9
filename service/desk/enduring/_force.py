"""The force that bent a block: as it was read, or from the gauge by the line that counted on that day."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from service.phrase import Phrase
from service.records.durability_tests import Flexure, Told
from service.records.presses import Calibrated, Press, in_force
from service.trade.press import calibration


@dataclass(frozen=True)
class Force:
    """A force, and what is to be said against it; None where the gauge showed no more than its zero."""

    force_kn: float | None
    flags: tuple[Phrase, ...]


def force_of(told: Told, calibrations: Mapping[UUID, list[Calibrated]], zone: ZoneInfo) -> Force:
    """Return the force of a bending."""
    row = told.row
    if not isinstance(row, Flexure) or row.gauge_mpa is None or told.press is None or row.gauge_id is None:
        return Force(row.force_kn if isinstance(row, Flexure) else None, ())
    found = in_force(list(calibrations.get(row.gauge_id, [])), on=_day(row.done_at, zone))
    shift = (told.spell.zero_before_mpa if told.spell else 0.0) - (found.calibration.zero_mpa if found else 0.0)
    gauge_mpa = row.gauge_mpa - shift
    if found is None:
        force = _ram(told.press).force_kn(gauge_mpa)
        return Force(force if force > 0 else None, (_NOT_CALIBRATED,))
    line = calibration.fit_calibration([calibration.CalibrationPoint(p.gauge_mpa, p.force_kn) for p in found.points])
    force = line.force_kn(gauge_mpa)
    over = _day(row.done_at, zone) > found.calibration.valid_until
    return Force(force if force > 0 else None, tuple(_flags(line, gauge_mpa, ended=over)))


def _day(at: datetime, zone: ZoneInfo) -> date:
    return at.astimezone(zone).date()


def _ram(press: Press) -> calibration.Geometry:
    return calibration.press_by_geometry(
        ram_diameter_mm=press.ram_diameter_mm, rams=press.rams, efficiency=press.efficiency
    )


def _flags(line: calibration.Calibration, gauge_mpa: float, *, ended: bool) -> Iterator[Phrase]:
    if not line.lowest_mpa <= gauge_mpa <= line.highest_mpa:
        yield Phrase(
            "The gauge stood beyond the calibration, which goes from {least_mpa} to {most_mpa}.",
            {"least_mpa": line.lowest_mpa, "most_mpa": line.highest_mpa},
        )
    if ended:
        yield Phrase("The calibration of the gauge had run out on that day.")


_NOT_CALIBRATED = Phrase("No calibration counted on that day: the force comes from the size of the ram alone.")
