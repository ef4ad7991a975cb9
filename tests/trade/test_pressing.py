"""Gauge, force and stress."""

import math
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.linear_fit import fit_line
from service.trade.press.calibration import (
    CalibrationPoint,
    fit_calibration,
    gauge_for_stress,
    press_by_geometry,
    read_gauge,
    stress_on_face,
)
from tests.cases import cases, near

PSI_MPA = 0.006894757293


@pytest.mark.parametrize("case", cases("stress"))
def test_stress_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    stress = stress_on_face(
        force_kn=given["force_kN"], face_length_mm=given["length_mm"], face_width_mm=given["width_mm"]
    )
    assert stress == near(expected["stress_MPa"], tolerance=case["tolerance"])


@pytest.mark.parametrize("case", cases("lines")[:1])
def test_a_calibration_line_agrees_with_the_guide(case: dict[str, Any]) -> None:
    given, expected, within = case["inputs"], case["expected"], case["tolerance"]
    line = fit_line(x=given["reading_c"], y=given["correction_c"])
    t0, there = given["t0"], given["predict_at"]
    assert line.at(t0) == near(expected["intercept"], tolerance=within["intercept"])
    assert line.uncertainty_at(t0) == near(expected["u_intercept"], tolerance=within["u_intercept"])
    assert line.slope == near(expected["slope"], tolerance=within["slope"])
    assert line.at(there) == near(expected["correction_30"], tolerance=within["correction_30"])
    assert line.uncertainty_at(there) == near(expected["u_correction_30"], tolerance=within["u_correction_30"])


@pytest.mark.parametrize("case", cases("lines")[1:])
def test_a_calibration_line_agrees_with_the_technical_specification(case: dict[str, Any]) -> None:
    given, expected, within = case["inputs"], case["expected"], case["tolerance"]
    line = fit_line(x=given["x"], y=given["y"])
    assert line.intercept == near(expected["a"], tolerance=within["a"])
    assert line.slope == near(expected["b"], tolerance=within["b"])
    # The specification takes the scatter of the readings as known; ours is estimated, and its square over the
    # known one, times n - 2, is chi-squared.
    known = given["u_y"]
    assert (line.residual_sd / known) ** 2 * 4 == near(expected["chi2"], tolerance=within["chi2"])
    assert line.uncertainty_at(0) * known / line.residual_sd == near(expected["u_a"], tolerance=within["u_a"])
    inverse = (given["inverse_y"] - line.intercept) / line.slope
    assert inverse == near(expected["x1"], tolerance=within["x1"])


@pytest.mark.parametrize(("gauge_psi", "stress_psi", "within"), [(6000, 2000, 1), (5500, 1830, 5), (4000, 1330, 5)])
def test_a_bench_press_shows_three_times_the_stress_by_common_practice_no_published_source(
    gauge_psi: float, stress_psi: float, within: float
) -> None:
    # A ram of a third of the face: 12,600 mm2 / 3 = 4,200 mm2, 73.127 mm across, without friction.
    press = press_by_geometry(ram_diameter_mm=math.sqrt(4 * 4200 / math.pi), efficiency=1.0)
    read = read_gauge(press, gauge_mpa=gauge_psi * PSI_MPA, face_length_mm=140, face_width_mm=90)
    assert read.stress_mpa / PSI_MPA == pytest.approx(stress_psi, abs=within)
    assert read.gauge_per_stress == pytest.approx(3.0, rel=1e-12)


def test_two_rams_push_twice_and_a_standing_zero_is_taken_off() -> None:
    # Hand: area pi 50^2 / 4 = 1963.495 mm2; 2 x 0.9 x 1963.495 x (20 - 0.5) / 1000 = 68.919 kN.
    press = press_by_geometry(ram_diameter_mm=50, rams=2, efficiency=0.9, zero_mpa=0.5)
    assert press.force_kn(20) == pytest.approx(68.919, abs=0.001)


def test_scatter_of_points_stands_in_the_shared_uncertainty() -> None:
    # Hand: gauges 0, 10, 20, forces 0, 43, 80. Slope 80 / 20 = 4, mean 41 at 10, intercept 1, residuals -1, 2, -1:
    # s = sqrt(6 / 1); at 10 the line's uncertainty is s / sqrt 3 = sqrt 2; over 41 kN.
    press = fit_calibration([CalibrationPoint(0, 0), CalibrationPoint(10, 43), CalibrationPoint(20, 80)])
    assert press.line.slope == pytest.approx(4.0, rel=1e-14)
    assert press.line.intercept == pytest.approx(1.0, rel=1e-13)
    assert press.line.residual_sd == pytest.approx(math.sqrt(6), rel=1e-14)
    read = read_gauge(press, gauge_mpa=10, face_length_mm=100, face_width_mm=100)
    assert read.scale_uncertainty == pytest.approx(math.sqrt(2) / 41, rel=1e-13)


@pytest.mark.parametrize(("gauge_mpa", "inside"), [(5, True), (25, True), (25.1, False), (4.9, False)])
def test_a_gauge_outside_the_points_is_answered_and_marked(gauge_mpa: float, inside: bool) -> None:
    press = fit_calibration([CalibrationPoint(5, 22), CalibrationPoint(15, 65), CalibrationPoint(25, 109)])
    read = read_gauge(press, gauge_mpa=gauge_mpa, face_length_mm=140, face_width_mm=90)
    assert read.in_range is inside
    assert read.calibrated


def test_a_force_that_falls_with_the_gauge_is_no_calibration() -> None:
    with pytest.raises(Invalid) as refused:
        fit_calibration([CalibrationPoint(5, 90), CalibrationPoint(15, 60), CalibrationPoint(25, 30)])
    assert set(refused.value.fields) == {"points"}


faces = {"face_length_mm": st.floats(50, 500), "face_width_mm": st.floats(50, 500)}


@given(
    diameter=st.floats(10, 300),
    rams=st.integers(1, 4),
    efficiency=st.floats(0.5, 1.0),
    zero=st.floats(-1, 1),
    stress=st.floats(0.01, 100),
    **faces,
)
@settings(max_examples=200, deadline=None)
def test_by_geometry_the_gauge_for_a_stress_gives_that_stress(
    diameter: float,
    rams: int,
    efficiency: float,
    zero: float,
    stress: float,
    face_length_mm: float,
    face_width_mm: float,
) -> None:
    press = press_by_geometry(ram_diameter_mm=diameter, rams=rams, efficiency=efficiency, zero_mpa=zero)
    face = {"face_length_mm": face_length_mm, "face_width_mm": face_width_mm}
    there = gauge_for_stress(press, stress_mpa=stress, **face)
    assume(there.gauge_mpa >= 0)
    back = read_gauge(press, gauge_mpa=there.gauge_mpa, **face)
    # The zero is taken off and put on again, which costs a small stress some digits.
    assert back.stress_mpa == pytest.approx(stress, rel=1e-9)


@given(
    points=st.lists(
        st.tuples(st.integers(0, 60), st.integers(-5, 5)), min_size=3, max_size=12, unique_by=lambda point: point[0]
    ),
    stress=st.floats(1, 30),
)
@settings(max_examples=200, deadline=None)
def test_by_calibration_the_gauge_for_a_stress_gives_that_stress(points: list[tuple[int, int]], stress: float) -> None:
    press = fit_calibration([CalibrationPoint(gauge, 30 + 40 * gauge + off) for gauge, off in points])
    there = gauge_for_stress(press, stress_mpa=stress, face_length_mm=200, face_width_mm=200)
    assume(there.gauge_mpa >= 0)
    back = read_gauge(press, gauge_mpa=there.gauge_mpa, face_length_mm=200, face_width_mm=200)
    assert back.stress_mpa == pytest.approx(stress, rel=1e-9)
