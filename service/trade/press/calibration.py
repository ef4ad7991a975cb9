"""Gauge, force and stress on the block's face: from the ram's geometry or from a calibration."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.trade.linear_fit import Line, fit_line
from service.trade.validation import refuse, require

# What a reading by geometry alone is worth: an assumption, stated with every result that rests on it.
GEOMETRY_UNCERTAINTY = 0.05


@dataclass(frozen=True)
class Geometry:
    """A press known by its rams: force is efficiency times ram area times gauge above zero."""

    ram_diameter_mm: float
    rams: int
    efficiency: float
    zero_mpa: float

    @property
    def kn_per_mpa(self) -> float:
        """Return the force that one MPa on the gauge makes."""
        return self.efficiency * self.rams * math.pi * self.ram_diameter_mm**2 / 4 / 1000

    def force_kn(self, gauge_mpa: float) -> float:
        """Return the force at this gauge."""
        return self.kn_per_mpa * (gauge_mpa - self.zero_mpa)

    def gauge_mpa(self, force_kn: float) -> float:
        """Return the gauge at this force."""
        return self.zero_mpa + force_kn / self.kn_per_mpa

    def scale_uncertainty(self, *, gauge_mpa: float, force_kn: float) -> float:
        """Return the relative uncertainty that all readings share, the same at every gauge and force."""
        return GEOMETRY_UNCERTAINTY


@dataclass(frozen=True)
class CalibrationPoint:
    """One point of a calibration: what the gauge showed at a known force."""

    gauge_mpa: float
    force_kn: float


@dataclass(frozen=True)
class Calibration:
    """A press known by a line through calibration points, and the range they cover."""

    line: Line
    lowest_mpa: float
    highest_mpa: float

    def force_kn(self, gauge_mpa: float) -> float:
        """Return the force at this gauge."""
        return self.line.at(gauge_mpa)

    def gauge_mpa(self, force_kn: float) -> float:
        """Return the gauge at this force."""
        return (force_kn - self.line.intercept) / self.line.slope

    def scale_uncertainty(self, *, gauge_mpa: float, force_kn: float) -> float:
        """Return the standard uncertainty of the line at this gauge over the force there."""
        return self.line.uncertainty_at(gauge_mpa) / force_kn

    def in_range(self, gauge_mpa: float) -> bool:
        """Return whether this gauge lies from the lowest to the highest point."""
        return self.lowest_mpa <= gauge_mpa <= self.highest_mpa


@dataclass(frozen=True)
class PressReading:
    """Gauge, force and stress that belong together; ``in_range`` is None without a calibration."""

    gauge_mpa: float
    force_kn: float
    stress_mpa: float
    gauge_per_stress: float
    scale_uncertainty: float
    calibrated: bool
    in_range: bool | None


def standard_uncertainty(*, stated: float, coverage_factor: float) -> float:
    """Return the standard uncertainty behind one that a certificate states with its coverage factor.

    Parameters
    ----------
    stated : float
        Expanded uncertainty as a share of the reading; 0 or above.
    coverage_factor : float
        The factor k by which the certificate multiplied; 1 or above.

    Returns
    -------
    float
        A share of the reading, unrounded.

    Raises
    ------
    Invalid
        If the uncertainty is below 0 or the factor is not above 0.

    Source
    ------
    gum-6.2

    Examples
    --------
    Certified within 1 % with k = 2:

    >>> standard_uncertainty(stated=0.01, coverage_factor=2)
    0.005
    """
    require(not_negative={"stated": stated}, positive={"coverage_factor": coverage_factor})
    return stated / coverage_factor


def press_by_geometry(*, ram_diameter_mm: float, efficiency: float, rams: int = 1, zero_mpa: float = 0.0) -> Geometry:
    """Return a press known by its rams.

    Parameters
    ----------
    ram_diameter_mm : float
        Diameter of one ram, in mm; above 0.
    efficiency : float
        Share of the hydraulic force that reaches the block, friction taken off; above 0, at most 1.
    rams : int
        Rams that push together; 1 or more.
    zero_mpa : float
        What the gauge shows without pressure, in MPa.

    Returns
    -------
    Geometry
        The press.

    Raises
    ------
    Invalid
        If a value is outside its range.

    Source
    ------
    hydraulic-ram

    Examples
    --------
    A 76.2 mm ram has 4,560.4 mm2; 30 MPa on it with 5 % friction make 129.97 kN:

    >>> press = press_by_geometry(ram_diameter_mm=76.2, efficiency=0.95)
    >>> round(press.force_kn(30), 2)
    129.97
    """
    require(positive={"ram_diameter_mm": ram_diameter_mm, "rams": rams, "efficiency": efficiency})
    if efficiency > 1:
        refuse({"efficiency": "This must be at most 1: friction takes force, it gives none."})
    return Geometry(ram_diameter_mm=ram_diameter_mm, rams=rams, efficiency=efficiency, zero_mpa=zero_mpa)


def fit_calibration(points: Sequence[CalibrationPoint]) -> Calibration:
    """Return the calibration line of a press: least squares of force on gauge, with intercept.

    Parameters
    ----------
    points : Sequence[CalibrationPoint]
        Three or more, over two or more different gauges; gauge in MPa, force in kN, both 0 or more.

    Returns
    -------
    Calibration
        The line, its uncertainty, and the range of the points.

    Raises
    ------
    Invalid
        If there are too few points (field ``points``), a negative one, or force does not rise with the gauge.

    Source
    ------
    gum-h3 : the line and its standard uncertainty.

    Examples
    --------
    Force exactly 4.3 kN for each MPa, from 0.5 kN:

    >>> points = [CalibrationPoint(gauge, 0.5 + 4.3 * gauge) for gauge in (5.0, 15.0, 25.0)]
    >>> round(fit_calibration(points).force_kn(20.0), 6)
    86.5
    """
    measured = {f"points.{index}.gauge_mpa": point.gauge_mpa for index, point in enumerate(points)}
    measured |= {f"points.{index}.force_kn": point.force_kn for index, point in enumerate(points)}
    require(not_negative=measured)
    if len(points) < 3:
        refuse({"points": "A calibration needs at least 3 points."})
    gauges = [point.gauge_mpa for point in points]
    if len(set(gauges)) < 2:
        refuse({"points": "A calibration needs points at 2 or more different gauges."})
    line = fit_line(x=gauges, y=[point.force_kn for point in points])
    if line.slope <= 0:
        refuse({"points": "The force must rise with the gauge."})
    return Calibration(line=line, lowest_mpa=min(gauges), highest_mpa=max(gauges))


def stress_on_face(*, force_kn: float, face_length_mm: float, face_width_mm: float) -> float:
    """Return the stress that a force makes on a face.

    Parameters
    ----------
    force_kn : float
        Force, in kN.
    face_length_mm, face_width_mm : float
        Sides of the loaded face, in mm; above 0.

    Returns
    -------
    float
        Stress in MPa, unrounded.

    Raises
    ------
    Invalid
        If a side is not above 0.

    Source
    ------
    stress : force over loaded area.

    Examples
    --------
    >>> stress_on_face(force_kn=20.0, face_length_mm=100, face_width_mm=100)
    2.0
    """
    require(positive={"face_length_mm": face_length_mm, "face_width_mm": face_width_mm})
    return force_kn * 1000 / (face_length_mm * face_width_mm)


def read_gauge(
    press: Geometry | Calibration, *, gauge_mpa: float, face_length_mm: float, face_width_mm: float
) -> PressReading:
    """Return force and stress at a gauge reading.

    Parameters
    ----------
    press : Geometry or Calibration
        The press, by geometry or by calibration.
    gauge_mpa : float
        What the gauge shows, in MPa; 0 or more.
    face_length_mm, face_width_mm : float
        Sides of the loaded face, in mm; above 0.

    Returns
    -------
    PressReading
        Gauge, force, stress and what they are worth; unrounded. A gauge outside the calibration is answered.

    Raises
    ------
    Invalid
        If the force is not above 0 (field ``gauge_mpa``), or a value is outside its range.

    Source
    ------
    hydraulic-ram, stress

    Examples
    --------
    >>> press = press_by_geometry(ram_diameter_mm=76.2, efficiency=0.95)
    >>> round(read_gauge(press, gauge_mpa=30, face_length_mm=140, face_width_mm=90).stress_mpa, 3)
    10.315
    """
    require(not_negative={"gauge_mpa": gauge_mpa})
    force_kn = press.force_kn(gauge_mpa)
    stress_mpa = stress_on_face(force_kn=force_kn, face_length_mm=face_length_mm, face_width_mm=face_width_mm)
    if stress_mpa <= 0:
        refuse({"gauge_mpa": "At this gauge the press makes no force."})
    return _reading(press, gauge_mpa=gauge_mpa, force_kn=force_kn, stress_mpa=stress_mpa)


def gauge_for_stress(
    press: Geometry | Calibration, *, stress_mpa: float, face_length_mm: float, face_width_mm: float
) -> PressReading:
    """Return the gauge reading that makes a stress.

    Parameters
    ----------
    press : Geometry or Calibration
        The press, by geometry or by calibration.
    stress_mpa : float
        Wanted stress on the face, in MPa; above 0.
    face_length_mm, face_width_mm : float
        Sides of the loaded face, in mm; above 0.

    Returns
    -------
    PressReading
        Gauge, force, stress and what they are worth; unrounded.

    Raises
    ------
    Invalid
        If the stress is not above 0 (field ``stress_mpa``), or a side is not.

    Source
    ------
    hydraulic-ram, stress

    Examples
    --------
    >>> press = press_by_geometry(ram_diameter_mm=76.2, efficiency=0.95)
    >>> round(gauge_for_stress(press, stress_mpa=2.0, face_length_mm=140, face_width_mm=90).gauge_mpa, 3)
    5.817
    """
    require(positive={"stress_mpa": stress_mpa, "face_length_mm": face_length_mm, "face_width_mm": face_width_mm})
    force_kn = stress_mpa * face_length_mm * face_width_mm / 1000
    return _reading(press, gauge_mpa=press.gauge_mpa(force_kn), force_kn=force_kn, stress_mpa=stress_mpa)


def _reading(press: Geometry | Calibration, *, gauge_mpa: float, force_kn: float, stress_mpa: float) -> PressReading:
    calibrated = isinstance(press, Calibration)
    return PressReading(
        gauge_mpa=gauge_mpa,
        force_kn=force_kn,
        stress_mpa=stress_mpa,
        gauge_per_stress=gauge_mpa / stress_mpa,
        scale_uncertainty=press.scale_uncertainty(gauge_mpa=gauge_mpa, force_kn=force_kn),
        calibrated=calibrated,
        in_range=press.in_range(gauge_mpa) if isinstance(press, Calibration) else None,
    )
