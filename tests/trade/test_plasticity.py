"""Liquid and plastic limit, the chart's lines and the shrinkage box."""

from typing import Any

import pytest

from service.errors import Invalid
from service.trade.soil.plasticity import FlowPoint, limits_of, linear_shrinkage, liquid_limit
from tests.cases import cases, near


@pytest.mark.parametrize("case", cases("limits")[:1])
def test_the_flow_line_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    flow = [FlowPoint(blows, water / 100) for blows, water in zip(given["N"], given["w"], strict=True)]
    soil = limits_of(flow=flow, plastic=[given["PL"] / 100])
    assert soil.liquid_limit * 100 == near(expected["LL"], tolerance=case["tolerance"])
    assert soil.plasticity_index * 100 == near(expected["PI"], tolerance=case["tolerance"])
    # The same case notes the least-squares answer and how it is reported.
    assert soil.liquid_limit * 100 == near(39.67, tolerance=0.005)
    assert (soil.flow_index or 0) * 100 == near(10.72, tolerance=0.01)
    reported = soil.reported
    assert (reported.liquid_limit, reported.plastic_limit, reported.plasticity_index) == (40, 19, 21)


@pytest.mark.parametrize("case", cases("limits")[1:])
def test_one_point_agrees_with_the_source_within_the_change_of_its_exponent(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    found = liquid_limit([FlowPoint(given["n"], given["theta"])])
    assert found.liquid_limit == near(expected["LL"], tolerance=case["tolerance"])
    assert (found.flow_index, found.flow_r2) == (None, None)


def test_one_point_away_from_25_blows_uses_the_exponent_of_the_standard() -> None:
    # Hand: 0.40 x (30 / 25)^0.121 = 0.40 x exp(0.121 x 0.18232156) = 0.40 x 1.0223062 = 0.4089225.
    assert liquid_limit([FlowPoint(30, 0.40)]).liquid_limit == pytest.approx(0.4089225, abs=1e-7)


@pytest.mark.parametrize("case", cases("plasticity_lines"))
def test_the_lines_of_the_chart_agree_with_the_source(case: dict[str, Any]) -> None:
    given, expected, within = case["inputs"], case["expected"], case["tolerance"]
    plastic = given["PL"] if "PL" in given else given["LL"] - given.get("PI", 0)
    soil = limits_of(flow=[FlowPoint(25, given["LL"] / 100)], plastic=[plastic / 100])
    assert soil.a_line_index * 100 == near(expected["A_line_PI"], tolerance=within)
    assert soil.u_line_index * 100 == near(expected.get("U_line_PI", 90 * (given["LL"] / 100 - 0.08)), tolerance=within)
    assert soil.plasticity_index * 100 == near(expected.get("PI", given.get("PI", 0)), tolerance=within)
    # A clay by its symbol lies above the A-line, a silt below it.
    if expected.get("symbol") in ("CH", "SC"):
        assert soil.above_a_line
    if expected.get("symbol") in ("MH", "SM", "GW-GM"):
        assert not soil.above_a_line


def test_on_the_a_line_counts_as_above_it() -> None:
    # Hand: 0.73 x (0.37 - 0.20) = 0.1241 = 0.37 - 0.2459.
    soil = limits_of(flow=[FlowPoint(25, 0.37)], plastic=[0.2459])
    assert soil.above_a_line
    assert not limits_of(flow=[FlowPoint(25, 0.37)], plastic=[0.2460]).above_a_line


def test_a_point_above_the_u_line_is_marked() -> None:
    # Hand: 0.9 x (0.37 - 0.08) = 0.261; 0.37 - 0.10 = 0.27 lies above, 0.37 - 0.109 = 0.261 on it.
    assert limits_of(flow=[FlowPoint(25, 0.37)], plastic=[0.10]).above_u_line
    assert not limits_of(flow=[FlowPoint(25, 0.37)], plastic=[0.109]).above_u_line


def test_half_a_percent_is_reported_up() -> None:
    soil = limits_of(flow=[FlowPoint(25, 0.345)], plastic=[0.165])
    assert (soil.reported.liquid_limit, soil.reported.plastic_limit) == (35, 17)
    assert soil.reported.plasticity_index == 18


def test_threads_give_their_mean_and_range() -> None:
    soil = limits_of(flow=[FlowPoint(25, 0.40)], plastic=[0.187, 0.191])
    assert soil.plastic_limit == pytest.approx(0.189, rel=1e-15)
    assert soil.plastic_range == pytest.approx(0.004, rel=1e-12)


@pytest.mark.parametrize("plastic", [None, [0.45]])
def test_a_soil_without_a_thread_or_below_zero_is_non_plastic(plastic: list[float] | None) -> None:
    soil = limits_of(flow=[FlowPoint(25, 0.40)], plastic=plastic)
    assert soil.non_plastic
    assert (soil.plasticity_index, soil.reported.plasticity_index) == (0, 0)


def test_an_index_of_exactly_zero_is_not_below_zero() -> None:
    assert not limits_of(flow=[FlowPoint(25, 0.40)], plastic=[0.40]).non_plastic


def test_points_on_a_level_line_have_no_share_explained() -> None:
    level = liquid_limit([FlowPoint(15, 0.4), FlowPoint(25, 0.4), FlowPoint(35, 0.4)])
    assert (level.liquid_limit, level.flow_r2) == (pytest.approx(0.4, rel=1e-15), None)


@pytest.mark.parametrize(
    ("flow", "field"),
    [
        ([], "flow"),
        ([FlowPoint(20, 0.4), FlowPoint(30, 0.38)], "flow"),
        ([FlowPoint(20, 0.4), FlowPoint(20, 0.41), FlowPoint(20, 0.39)], "flow"),
        ([FlowPoint(19, 0.4)], "flow.0.blows"),
        ([FlowPoint(31, 0.4)], "flow.0.blows"),
        ([FlowPoint(4, 0.5), FlowPoint(20, 0.4), FlowPoint(30, 0.38)], "flow.0.blows"),
        ([FlowPoint(10, 0.5), FlowPoint(20, 0.4), FlowPoint(61, 0.3)], "flow.2.blows"),
        ([FlowPoint(25, 0.0)], "flow.0.water"),
    ],
)
def test_flow_points_that_cannot_be_are_refused_by_their_field(flow: list[FlowPoint], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        liquid_limit(flow)
    assert set(refused.value.fields) == {field}


@pytest.mark.parametrize(("plastic", "field"), [([], "plastic"), ([0.2, -0.1], "plastic.1")])
def test_threads_that_cannot_be_are_refused_by_their_field(plastic: list[float], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        limits_of(flow=[FlowPoint(25, 0.4)], plastic=plastic)
    assert set(refused.value.fields) == {field}


@pytest.mark.parametrize("case", cases("shrinkage"))
def test_shrinkage_agrees_with_the_source(case: dict[str, Any]) -> None:
    given, expected = case["inputs"], case["expected"]
    if "shrinkage_mm" in given:
        share = linear_shrinkage(box_length_mm=given["mould_mm"], shrinkage_mm=given["shrinkage_mm"])
        assert share * 100 == near(expected["percent"], tolerance=case["tolerance"])
    else:
        for end in ("low", "high"):
            share = linear_shrinkage(box_length_mm=given["mould_mm"], shrinkage_mm=expected[f"{end}_mm"])
            assert share * 100 == near(given[f"{end}_percent"], tolerance=case["tolerance"])


@pytest.mark.parametrize(
    ("box_length_mm", "shrinkage_mm", "field"),
    [(600, 600, "shrinkage_mm"), (600, -1, "shrinkage_mm"), (0, 0, "box_length_mm")],
)
def test_a_box_that_cannot_be_is_refused_by_its_field(box_length_mm: float, shrinkage_mm: float, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        linear_shrinkage(box_length_mm=box_length_mm, shrinkage_mm=shrinkage_mm)
    assert set(refused.value.fields) == {field}
