"""What a wall asks of its lowest block."""

from typing import Any

import pytest

from service.errors import Invalid
from service.trade.wall.wall_load import foot_stress_mpa, slenderness, unit_strength_ratio
from tests.cases import cases, near

INCH_MM, FOOT_M, PSI_MPA = 25.4, 0.3048, 0.006894757293


@pytest.mark.parametrize("case", cases("wall"))
def test_a_wall_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    thickness_mm = given.get("thickness_m", 0.14) * 1000
    if "slenderness" in expected:
        found = slenderness(height_m=given["height_m"], thickness_mm=thickness_mm)
        assert found == near(expected["slenderness"], tolerance=case["tolerance"])
    else:
        stress = foot_stress_mpa(
            density_kg_m3=given["density_kg_m3"],
            height_m=given["height_m"],
            thickness_mm=thickness_mm,
            line_load_kn_m=given.get("roof_kN_per_m", 0.0),
        )
        assert stress == near(expected["stress_MPa"], tolerance=case["tolerance"])


def test_a_ten_inch_wall_ten_feet_high_brings_about_eight_psi_by_common_practice_no_published_source() -> None:
    # At 1,900 kg/m3, the usual working value: 1900 x 9.80665 x 3.048 = 56,792 Pa = 8.24 psi.
    stress = foot_stress_mpa(density_kg_m3=1900, height_m=10 * FOOT_M, thickness_mm=10 * INCH_MM)
    assert round(stress / PSI_MPA) == 8
    assert slenderness(height_m=10 * FOOT_M, thickness_mm=10 * INCH_MM) == pytest.approx(12.0, rel=1e-15)


def test_the_ratio_is_that_of_one_block() -> None:
    # Hand: 2.07 / 0.0447183 = 46.29.
    assert unit_strength_ratio(strength_mpa=2.07, foot_stress_mpa=0.0447183) == pytest.approx(46.29, abs=0.005)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"density_kg_m3": 0}, "density_kg_m3"),
        ({"height_m": -1}, "height_m"),
        ({"thickness_mm": 0}, "thickness_mm"),
        ({"line_load_kn_m": -1}, "line_load_kn_m"),
    ],
)
def test_a_wall_that_cannot_be_is_refused_by_its_field(given: dict[str, float], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        foot_stress_mpa(**({"density_kg_m3": 1900, "height_m": 2.4, "thickness_mm": 140} | given))
    assert set(refused.value.fields) == {field}
