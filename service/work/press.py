"""`press`: gauge, force and stress, by geometry or by calibration, either way round."""

from typing import Any

from pydantic import ConfigDict

from service.trade.press.calibration import (
    Calibration,
    CalibrationPoint,
    Geometry,
    fit_calibration,
    gauge_for_stress,
    press_by_geometry,
    read_gauge,
)
from service.trade.press.loading_rate import gauge_rate
from service.trade.validation import refuse
from service.work.calculation import Calculation, Count, Given, NotNegative, Positive, Way, either, first_way_taken

BY_CALIBRATION = Way(("points",))
BY_GEOMETRY = Way(("ram_diameter_mm", "efficiency"), ("rams", "zero_mpa"))
FROM_STRESS = Way(("stress_mpa",))
FROM_GAUGE = Way(("gauge_mpa",))
RATES = ("stress_rate_mpa_s", "load_rate_kn_s")
# A limit given in one unit and a force worked out from another meet in rounding.
ROUNDING = 1e-9
NO_LIMIT = "No working limit was given. Read the press's plate before you pump."


class PointGiven(Given):
    """What the gauge showed at a known force."""

    gauge_mpa: NotNegative
    force_kn: NotNegative


class PressGiven(Given):
    """A press, a face, the gauge or the stress, where the press is to stop, and if asked for a rate of loading."""

    model_config = ConfigDict(
        json_schema_extra={
            "allOf": [
                either(BY_CALIBRATION, BY_GEOMETRY),
                either(FROM_STRESS, FROM_GAUGE),
                {"not": {"required": list(RATES)}},
            ]
        }
    )

    ram_diameter_mm: Positive | None = None
    rams: Count = 1
    efficiency: Positive | None = None
    zero_mpa: float = 0.0
    points: list[PointGiven] | None = None
    face_length_mm: Positive
    face_width_mm: Positive
    gauge_mpa: NotNegative | None = None
    stress_mpa: float | None = None
    working_limit_kn: Positive | None = None
    stress_rate_mpa_s: Positive | None = None
    load_rate_kn_s: Positive | None = None


def calculate(given: PressGiven) -> dict[str, Any]:
    """Return gauge, force and stress, what they are worth, and the line of a calibration."""
    press = _press(given)
    first_way_taken(given, first=FROM_STRESS, second=FROM_GAUGE)
    face = {"face_length_mm": given.face_length_mm, "face_width_mm": given.face_width_mm}
    if given.stress_mpa is not None:
        reading = gauge_for_stress(press, stress_mpa=given.stress_mpa, **face)
    else:
        assert given.gauge_mpa is not None
        reading = read_gauge(press, gauge_mpa=given.gauge_mpa, **face)
    if given.working_limit_kn is not None and reading.force_kn > given.working_limit_kn * (1 + ROUNDING):
        refuse(_above(by_stress=given.stress_mpa is not None))
    answer: dict[str, Any] = {
        "gauge_mpa": reading.gauge_mpa,
        "force_kn": reading.force_kn,
        "stress_mpa": reading.stress_mpa,
        "gauge_per_stress": reading.gauge_per_stress,
        "calibrated": reading.calibrated,
        "scale_uncertainty": reading.scale_uncertainty,
    }
    if isinstance(press, Calibration):
        answer |= {
            "slope_kn_per_mpa": press.line.slope,
            "intercept_kn": press.line.intercept,
            "residual_sd_kn": press.line.residual_sd,
            "in_range": reading.in_range,
        }
    return answer | _stop(press, given.working_limit_kn) | _rate(press, given)


def _above(*, by_stress: bool) -> dict[str, str]:
    if by_stress:
        return {"stress_mpa": "This needs more force than the working limit of the press."}
    return {"gauge_mpa": "This is above the working limit of the press. Look at the number and its unit."}


def _stop(press: Geometry | Calibration, working_limit_kn: float | None) -> dict[str, Any]:
    """Return where the gauge is to stop, or that nobody said how much the press may bear."""
    if working_limit_kn is None:
        return {"stop_gauge_mpa": None, "remark": NO_LIMIT}
    return {"stop_gauge_mpa": press.gauge_mpa(working_limit_kn)}


def _rate(press: Geometry | Calibration, given: PressGiven) -> dict[str, float]:
    """Return the rate of loading as force, stress and climb of the gauge, nothing when none is asked for."""
    asked = {name: getattr(given, name) for name in RATES if getattr(given, name) is not None}
    if not asked:
        return {}
    found = gauge_rate(press, face_length_mm=given.face_length_mm, face_width_mm=given.face_width_mm, **asked)
    return {
        "load_rate_kn_s": found.load_rate_kn_s,
        "stress_rate_mpa_s": found.stress_rate_mpa_s,
        "gauge_rate_mpa_s": found.gauge_rate_mpa_s,
    }


def _press(given: PressGiven) -> Geometry | Calibration:
    first_way_taken(given, first=BY_CALIBRATION, second=BY_GEOMETRY)
    if given.points is not None:
        return fit_calibration([CalibrationPoint(point.gauge_mpa, point.force_kn) for point in given.points])
    assert given.ram_diameter_mm is not None and given.efficiency is not None
    return press_by_geometry(
        ram_diameter_mm=given.ram_diameter_mm,
        efficiency=given.efficiency,
        rams=given.rams,
        zero_mpa=given.zero_mpa,
    )


CALCULATION = Calculation(
    model=PressGiven,
    run=calculate,
    formula="force = efficiency x rams x pi d^2 / 4 x (gauge - zero), or the calibration line; stress = force / face; "
    "climb of the gauge = rate of stress x face / slope of the line",
    source_keys=("hydraulic-ram", "stress", "gum-h3"),
)
