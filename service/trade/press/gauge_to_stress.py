"""The stress on the face at the peak that a gauge showed, the gauge's own zero on that day taken off."""

from dataclasses import dataclass

from service.trade.press.calibration import Calibration, Geometry, read_gauge
from service.trade.validation import refuse, require


@dataclass(frozen=True)
class Peak:
    """Force and stress at a gauge reading, and what one graduation of the gauge is worth on the face there."""

    gauge_mpa: float
    shift_mpa: float
    force_kn: float
    stress_mpa: float
    graduation_mpa: float
    scale_uncertainty: float
    calibrated: bool
    in_range: bool | None


def peak_stress(
    press: Geometry | Calibration,
    *,
    gauge_mpa: float,
    face_length_mm: float,
    face_width_mm: float,
    graduation_mpa: float,
    zero_mpa: float = 0.0,
    calibrated_zero_mpa: float = 0.0,
) -> Peak:
    """Return the stress that a gauge reading means.

    Parameters
    ----------
    press : Geometry or Calibration
        The press as it was known on that day.
    gauge_mpa : float
        What the gauge showed at the peak, in MPa; 0 or more.
    face_length_mm, face_width_mm : float
        Sides of the loaded face, in mm; above 0.
    graduation_mpa : float
        One graduation of the gauge, in MPa; above 0.
    zero_mpa : float
        What the gauge showed unloaded on that day, in MPa.
    calibrated_zero_mpa : float
        What it showed unloaded when the press was calibrated; its line holds for that zero.

    Returns
    -------
    Peak
        Force in kN, stress and graduation in MPa on the face, unrounded.

    Raises
    ------
    Invalid
        If the reading is not above the zero (field ``gauge_mpa``), or a value is outside its range.

    Source
    ------
    hydraulic-ram, stress

    Examples
    --------
    A ram of 100 cm2 without friction on a face of 100 cm2 gives gauge and stress alike; the gauge rested at 0.2:

    >>> press = Geometry(ram_diameter_mm=112.8379167, rams=1, efficiency=1.0, zero_mpa=0.0)
    >>> face = {"face_length_mm": 100.0, "face_width_mm": 100.0}
    >>> peak = peak_stress(press, gauge_mpa=5.2, **face, graduation_mpa=0.5, zero_mpa=0.2)
    >>> round(peak.stress_mpa, 6), round(peak.graduation_mpa, 6)
    (5.0, 0.5)
    """
    require(positive={"graduation_mpa": graduation_mpa}, not_negative={"gauge_mpa": gauge_mpa})
    shift = zero_mpa - calibrated_zero_mpa
    if gauge_mpa < shift:
        refuse({"gauge_mpa": "This is below what the gauge showed unloaded."})
    face = {"face_length_mm": face_length_mm, "face_width_mm": face_width_mm}
    read = read_gauge(press, gauge_mpa=gauge_mpa - shift, **face)
    beyond = read_gauge(press, gauge_mpa=gauge_mpa - shift + graduation_mpa, **face)
    return Peak(
        gauge_mpa=gauge_mpa,
        shift_mpa=shift,
        force_kn=read.force_kn,
        stress_mpa=read.stress_mpa,
        graduation_mpa=beyond.stress_mpa - read.stress_mpa,
        scale_uncertainty=read.scale_uncertainty,
        calibrated=read.calibrated,
        in_range=read.in_range,
    )


def zero_moved(*, before_mpa: float, after_mpa: float, graduation_mpa: float) -> bool:
    """Return whether a gauge rested elsewhere after a press session of crushing than before it.

    Parameters
    ----------
    before_mpa, after_mpa : float
        What the gauge showed unloaded before the first block and after the last, in MPa.
    graduation_mpa : float
        One graduation of the gauge, in MPa; above 0.

    Returns
    -------
    bool
        True when the two lie more than a graduation apart: as much may be reading alone.

    Raises
    ------
    Invalid
        If the graduation is not above 0.

    Source
    ------
    own-rule

    Examples
    --------
    >>> zero_moved(before_mpa=0.4, after_mpa=1.0, graduation_mpa=0.5)
    True
    """
    require(positive={"graduation_mpa": graduation_mpa})
    return abs(after_mpa - before_mpa) > graduation_mpa
