"""Shape factors: every cell of the printed tables, straight lines between, nothing where they are empty."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.block.shape_factors import (
    EN_772_1,
    EN_772_1_HEIGHTS_MM,
    EN_772_1_WIDTHS_MM,
    cylinder_strength_at_other_ratio_mpa,
    en_772_1_factor,
    heathcote_jankulovski_factor,
    krefeld_factor,
)
from tests.cases import cases, near

CASES = cases("shape")


def about(word: str) -> list[Any]:
    return [case for case in CASES if word in case.values[0]["inputs"] and "raw_MPa" not in case.values[0]["inputs"]]


@pytest.mark.parametrize("case", about("width_mm"))
def test_the_factor_of_the_european_table_agrees_with_the_source(case: dict[str, Any]) -> None:
    found = en_772_1_factor(**case["inputs"])
    assert found == near(case["expected"]["delta"], tolerance=max(case["tolerance"], 1e-12))


@pytest.mark.parametrize("case", about("h_over_t"))
def test_the_earth_block_factors_agree_with_the_source(case: dict[str, Any]) -> None:
    sides = {"height_mm": max(case["inputs"]["h_over_t"], 1e-12) * 140, "thickness_mm": 140}
    tolerance = max(case["tolerance"], 1e-11)
    assert krefeld_factor(**sides) == near(case["expected"]["krefeld"], tolerance=tolerance)
    found = heathcote_jankulovski_factor(**sides)
    assert found == near(case["expected"]["heathcote_jankulovski"], tolerance=tolerance)


def test_the_worked_block_agrees_with_the_source() -> None:
    (row,) = [case.values[0] for case in CASES if case.values[0]["id"] == "AR-ex"]
    given_, expected = row["inputs"], row["expected"]
    sides = {"height_mm": given_["height_mm"], "thickness_mm": given_["thickness_mm"]}
    assert given_["raw_MPa"] * krefeld_factor(**sides) == near(expected["krefeld_MPa"], tolerance=0.001)
    assert given_["raw_MPa"] * heathcote_jankulovski_factor(**sides) == near(expected["hj_MPa"], tolerance=0.001)


def test_a_tall_unit_has_factor_one_for_both_earth_tables() -> None:
    assert krefeld_factor(height_mm=700, thickness_mm=100) == 1
    assert heathcote_jankulovski_factor(height_mm=500, thickness_mm=100) == 1


def test_beyond_250_mm_the_european_table_stands_still() -> None:
    assert en_772_1_factor(height_mm=400, width_mm=300) == 1.15


@pytest.mark.parametrize(
    ("height_mm", "width_mm"), [(39.9, 100), (100, 49.9), (40, 150), (50, 200), (45, 120), (60, 160)]
)
def test_where_the_european_table_is_empty_there_is_no_factor(height_mm: float, width_mm: float) -> None:
    assert en_772_1_factor(height_mm=height_mm, width_mm=width_mm) is None


@given(height_mm=st.floats(40, 400), width_mm=st.floats(50, 400))
def test_the_european_factor_lies_among_the_table_and_falls_with_width(height_mm: float, width_mm: float) -> None:
    found = en_772_1_factor(height_mm=height_mm, width_mm=width_mm)
    wider = en_772_1_factor(height_mm=height_mm, width_mm=width_mm * 1.1)
    if found is not None:
        assert 0.65 - 1e-12 <= found <= 1.55 + 1e-12
    if found is not None and wider is not None:
        assert wider <= found + 1e-12
    assert len(EN_772_1) == len(EN_772_1_HEIGHTS_MM)
    assert {len(row) for row in EN_772_1} == {len(EN_772_1_WIDTHS_MM)}


def test_cylinders_go_from_either_ratio_to_the_other_and_back() -> None:
    # handbook.json D1633-1 [seen]: 101.6 x 116.4 mm is h/d 1.15; D1633-3 [memory]: 2.0 at 2.00 is 2.2 at 1.15.
    ratio, squat = cylinder_strength_at_other_ratio_mpa(strength_mpa=2.0, height_mm=142.2, diameter_mm=71.1) or (0, 0)
    assert (ratio, squat) == (1.15, near(2.2, tolerance=1e-12))
    ratio, back = cylinder_strength_at_other_ratio_mpa(strength_mpa=squat, height_mm=116.4, diameter_mm=101.6) or (0, 0)
    assert (ratio, back) == (2.00, near(2.0, tolerance=1e-12))
    assert cylinder_strength_at_other_ratio_mpa(strength_mpa=2.0, height_mm=150, diameter_mm=100) is None


def test_lengths_that_are_none_are_refused() -> None:
    with pytest.raises(Invalid) as refused:
        en_772_1_factor(height_mm=0, width_mm=100)
    assert "height_mm" in refused.value.fields
