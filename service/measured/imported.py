"""What a reading out of an older file comes to: its stress on the face, and the step that its last digit tells."""

from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from service.errors import Invalid
from service.measured.gauge import line_on
from service.records.imports import ImportedReading
from service.records.presses import Calibrated, Gauge, Press
from service.trade.press.gauge_to_stress import peak_stress
from service.trade.strength import censored_readings


@dataclass(frozen=True)
class ImportedStress:
    """Force and stress in kN and MPa, and the step of the stress; None where the file gave no face."""

    stress_mpa: float
    graduation_mpa: float
    force_kn: float | None


def imported_stress(
    one: ImportedReading,
    gauges: Mapping[UUID, tuple[Gauge, Press]],
    calibrations: Mapping[UUID, list[Calibrated]],
) -> ImportedStress | None:
    """Return the stress of a loaded block: as the file says, from its force, or from a gauge of ours on its day."""
    area = one.length_mm * one.width_mm if one.length_mm and one.width_mm else None
    step = one.step or 0.0
    if one.stress_mpa is not None:
        return ImportedStress(one.stress_mpa, step, one.stress_mpa * area / 1000 if area else None)
    if one.force_kn is not None and area:
        return ImportedStress(one.force_kn * 1000 / area, step * 1000 / area, one.force_kn)
    if one.gauge_mpa is None or one.gauge_id is None or one.crushed_on is None:
        return None
    gauge, press = gauges[one.gauge_id]
    line = line_on(calibrations.get(gauge.id, []), press, on=one.crushed_on)
    try:
        peak = peak_stress(
            line.line,
            gauge_mpa=one.gauge_mpa,
            face_length_mm=one.length_mm or 0.0,
            face_width_mm=one.width_mm or 0.0,
            graduation_mpa=max(gauge.graduation_mpa, step),
            zero_mpa=line.zero_mpa,
            calibrated_zero_mpa=line.zero_mpa,
        )
    except Invalid:
        return None
    return ImportedStress(peak.stress_mpa, peak.graduation_mpa, peak.force_kn)


def imported_reading(one: ImportedReading, stress: ImportedStress | None) -> censored_readings.Reading | None:
    """Return what the engine takes of a reading, None where it says nothing."""
    if one.outcome == "fell apart":
        return censored_readings.fell_apart()
    if stress is None or stress.stress_mpa <= 0:
        return None
    if one.outcome == "held":
        return censored_readings.held(stress_mpa=stress.stress_mpa)
    if one.outcome == "broke":
        return censored_readings.broke(stress_mpa=stress.stress_mpa, graduation_mpa=stress.graduation_mpa)
    return None
