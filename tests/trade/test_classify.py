"""Soil classes: every published group and name, every boundary on its side, and an answer for every curve."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.soil.classification import classify
from service.trade.soil.fines import fines_of, whole_percent
from service.trade.soil.grading import Passing, curve_of

ROWS = json.loads((Path(__file__).parent.parent / "reference" / "classify.json").read_text("utf-8"))
LIMITS = ("liquid_limit", "plastic_limit", "non_plastic")


def curve(*points):
    return curve_of([Passing(size_mm, share) for size_mm, share in points])


def of(fines, *, below_gravel=1.0, **limits):
    points = [(19, 1.0), (4.75, below_gravel), (0.075, fines)] if below_gravel < 1 else [(4.75, 1.0), (0.075, fines)]
    return classify(curve(*points), **limits)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['id']} [{row['standing']}]")
def test_the_class_agrees_with_the_source(row):
    points = [(point["size_mm"], point["share"]) for point in row["passing"]]
    found = classify(curve(*points), **{key: row[key] for key in LIMITS if key in row})
    assert found.symbol == row["symbol"]
    assert found.name == row.get("name", found.name)


# The boundaries of ASTM D2487, sections 11 to 13 (memory): the rule stands beside each pair.
@pytest.mark.parametrize(
    ("fines", "limits", "symbol"),
    [
        (0.50, {"liquid_limit": 0.40, "plastic_limit": 0.20}, "CL"),  # half is fine-grained
        (0.499, {"liquid_limit": 0.40, "plastic_limit": 0.20}, "SC"),
        (0.9, {"liquid_limit": 0.495, "plastic_limit": 0.20}, "CH"),  # 49.5 is reported 50, which is high
        (0.9, {"liquid_limit": 0.494, "plastic_limit": 0.20}, "CL"),
        (0.9, {"liquid_limit": 0.29, "plastic_limit": 0.22}, "CL-ML"),  # index 7 is still silty clay
        (0.9, {"liquid_limit": 0.29, "plastic_limit": 0.21}, "CL"),
        (0.9, {"liquid_limit": 0.24, "plastic_limit": 0.20}, "CL-ML"),  # index 4 is no longer silt
        (0.9, {"liquid_limit": 0.24, "plastic_limit": 0.21}, "ML"),
        (0.9, {"liquid_limit": 0.20, "plastic_limit": 0.12}, "CL"),
        (0.9, {"liquid_limit": 0.60, "plastic_limit": 0.308}, "MH"),  # 60 - 31 = 29, A-line 29.2
        (0.9, {"liquid_limit": 0.60, "plastic_limit": 0.304}, "CH"),  # 60 - 30 = 30
        (0.9, {"non_plastic": True}, "ML"),
        (0.9, {"liquid_limit": 0.55, "non_plastic": True}, "MH"),
        (0.9, {"liquid_limit": 0.20, "plastic_limit": 0.25}, "ML"),  # an index below zero is no plasticity
        (0.121, {"liquid_limit": 0.40, "plastic_limit": 0.20}, "SC"),  # above 12 % the fines decide
        (0.12, {"liquid_limit": 0.40, "plastic_limit": 0.20}, "SW-SC"),  # 12 % is still two symbols; Cu 6.35 below
        (0.05, {"liquid_limit": 0.40, "plastic_limit": 0.20}, "SP-SC"),
        (0.049, {}, "SP"),
    ],
)
def test_each_boundary_falls_on_its_side(fines, limits, symbol):
    points = curve((0.5, 1.0), (0.3, 0.6), (0.2, 0.3), (0.15, 0.15), (0.075, fines)) if fines < 0.15 else None
    found = classify(points, **limits) if points else of(fines, **limits)
    assert found.symbol == symbol


@pytest.mark.parametrize(
    ("below_gravel", "fines", "name"),
    [
        (1.0, 0.85, "Lean clay with sand"),  # 15 % coarse is named
        (1.0, 0.851, "Lean clay"),
        (1.0, 0.70, "Sandy lean clay"),  # 30 % coarse stands in front
        (1.0, 0.701, "Lean clay with sand"),
        (0.9, 0.80, "Lean clay with sand"),  # as much sand as gravel counts as sand
        (0.8, 0.60, "Sandy lean clay with gravel"),
        (0.95, 0.80, "Lean clay with sand"),  # 0.95 - 0.80 is 15 %, whatever its last binary digit
    ],
)
def test_the_15_and_30_percent_rules_include_their_bound(below_gravel, fines, name):
    assert of(fines, below_gravel=below_gravel, liquid_limit=0.40, plastic_limit=0.20).name == name


def test_half_of_the_coarse_part_above_4_75_mm_is_still_a_sand():
    limits = {"liquid_limit": 0.40, "plastic_limit": 0.20}
    assert of(0.2, below_gravel=0.6, **limits).symbol == "SC"
    assert of(0.2, below_gravel=0.599, **limits).symbol == "GC"


# By hand, D10 and D60 on points: Cu = D60 / D10, Cc = D30^2 / (D10 D60).
@pytest.mark.parametrize(
    ("d10", "d30", "d60", "symbol"),
    [
        (0.1, 0.31, 1.0, "SP"),  # Cc 0.961
        (0.1, 0.32, 1.0, "SW"),  # Cc 1.024
        (0.1, 0.547, 1.0, "SW"),  # Cc 2.992
        (0.1, 0.549, 1.0, "SP"),  # Cc 3.014
        (0.1, 0.3, 0.6, "SW"),  # Cu 6 exactly, although 0.6 / 0.1 is a little less in binary
        (0.1, 0.3, 0.59, "SP"),  # Cu 5.9
        (5, 11, 20, "GW"),  # Cu 4 exactly, Cc 1.21
        (5, 11, 19.9, "GP"),  # Cu 3.98
    ],
)
def test_a_clean_soil_is_well_graded_within_the_bounds_of_cu_and_cc(d10, d30, d60, symbol):
    assert classify(curve((75, 1.0), (d60, 0.6), (d30, 0.3), (d10, 0.1), (0.075, 0.0))).symbol == symbol


@pytest.mark.parametrize(
    ("oven", "symbol", "name"),
    [
        (0.29, "OL", "Organic clay"),  # 29 / 40 is below 0.75
        (0.30, "CL", "Lean clay"),  # 30 / 40 is 0.75 exactly: inorganic
        (0.295, "CL", "Lean clay"),  # limits are taken to whole percent first
    ],
)
def test_a_liquid_limit_that_falls_below_three_quarters_in_the_oven_is_organic(oven, symbol, name):
    found = of(0.9, liquid_limit=0.40, plastic_limit=0.20, liquid_limit_oven_dried=oven)
    assert (found.symbol, found.name) == (symbol, name)


def test_organic_soils_are_named_by_the_a_line():
    assert of(0.9, liquid_limit=0.60, plastic_limit=0.50, liquid_limit_oven_dried=0.40).name == "Organic silt"
    assert of(0.9, liquid_limit=0.60, plastic_limit=0.50, liquid_limit_oven_dried=0.40).symbol == "OH"
    assert of(0.9, liquid_limit=0.70, plastic_limit=0.30, liquid_limit_oven_dried=0.40).name == "Organic clay"
    assert of(0.9, liquid_limit=0.26, plastic_limit=0.20, liquid_limit_oven_dried=0.15).name == "Organic clay"


def test_organic_fines_of_a_sand_are_named():
    found = of(0.2, below_gravel=0.8, liquid_limit=0.40, plastic_limit=0.20, liquid_limit_oven_dried=0.25)
    assert found.name == "Clayey sand with gravel and organic fines"


def test_only_the_part_below_75_mm_is_classified_and_the_rest_is_named():
    # 20 % cobbles aside, 0.36 / 0.8 = 45 % are fines: coarse-grained, 0.4 / 0.8 = half of it finer than 4.75 mm.
    soil = curve((100, 1.0), (75, 0.8), (4.75, 0.6), (0.075, 0.36))
    found = classify(soil, liquid_limit=0.40, plastic_limit=0.20)
    assert (found.symbol, found.name) == ("SC", "Clayey sand with gravel and cobbles")
    boulders = classify(curve((500, 1.0), (300, 0.9), (75, 0.8), (0.075, 0.79)), liquid_limit=0.4, plastic_limit=0.2)
    assert boulders.name == "Lean clay with cobbles and boulders"


def test_a_curve_that_stops_above_10_percent_is_drawn_on_to_d10():
    # 0.15 at 0.15 mm and 0.12 at 0.075 mm: 0.10 lies two thirds of an octave further down, at 0.0472 mm.
    # Cu = 0.3 / 0.0472 = 6.35, Cc = 0.2^2 / (0.0472 x 0.3) = 2.82: well graded.
    soil = curve((0.5, 1.0), (0.3, 0.6), (0.2, 0.3), (0.15, 0.15), (0.075, 0.12))
    found = classify(soil, liquid_limit=0.40, plastic_limit=0.20)
    assert "Cu is 6.35" in " ".join(found.steps) and "Cc 2.82" in " ".join(found.steps)
    assert found.symbol == "SW-SC"


def test_a_curve_that_levels_out_above_10_percent_is_poorly_graded():
    soil = curve((4.75, 1.0), (0.3, 0.6), (0.15, 0.12), (0.075, 0.12))
    assert classify(soil, non_plastic=True).symbol == "SP-SM"


@pytest.mark.parametrize(
    ("points", "limits", "field"),
    [
        ([(4.75, 0.9), (0.15, 0.2)], {"non_plastic": True}, "passing"),
        ([(2, 0.9), (0.075, 0.2)], {"non_plastic": True}, "passing"),
        ([(4.75, 0.5), (0.075, 0.02)], {}, "passing"),
        ([(200, 1.0), (75, 0.0), (0.075, 0.0)], {}, "passing"),
        ([(4.75, 1.0), (0.075, 0.05)], {}, "liquid_limit"),
        ([(4.75, 1.0), (0.075, 0.5)], {"liquid_limit": 0.4}, "plastic_limit"),
        ([(4.75, 1.0), (0.075, 0.5)], {"plastic_limit": 0.4, "non_plastic": True}, "plastic_limit"),
        ([(4.75, 1.0), (0.075, 0.01)], {"plastic_limit": 0.4, "non_plastic": True}, "plastic_limit"),
        ([(4.75, 1.0), (0.075, 0.5)], {"liquid_limit_oven_dried": 0.2, "non_plastic": True}, "liquid_limit"),
        ([(4.75, 1.0), (0.075, 0.5)], {"liquid_limit": 0.0, "plastic_limit": 0.2}, "liquid_limit"),
    ],
)
def test_what_cannot_be_classified_is_refused_by_its_field(points, limits, field):
    with pytest.raises(Invalid) as refused:
        classify(curve(*points), **limits)
    assert field in refused.value.fields


def test_a_point_above_the_u_line_is_remarked():
    steps = fines_of(liquid_limit=0.37, plastic_limit=0.10).steps
    assert "above the U-line" in steps[0]
    assert not any("U-line" in step for step in fines_of(liquid_limit=0.37, plastic_limit=0.17).steps)


def test_whole_percents_round_half_up_on_what_was_typed():
    assert [whole_percent(share) for share in (0.285, 0.2849, 0.145, 0.005)] == [29, 28, 15, 1]


SYMBOLS = {
    *("GW", "GP", "GM", "GC", "GC-GM", "GW-GM", "GW-GC", "GP-GM", "GP-GC", "CL", "CL-ML", "ML", "OL"),
    *("SW", "SP", "SM", "SC", "SC-SM", "SW-SM", "SW-SC", "SP-SM", "SP-SC", "CH", "MH", "OH"),
}


@given(
    sizes=st.lists(st.floats(0.0001, 400), min_size=1, max_size=12, unique=True),
    shares=st.lists(st.floats(0, 1), min_size=14, max_size=14),
    liquid=st.floats(0.01, 2.0),
    plastic=st.floats(0.01, 2.0),
    oven=st.none() | st.floats(0.01, 2.0),
)
def test_every_curve_that_starts_at_one_has_exactly_one_class(sizes, shares, liquid, plastic, oven):
    places = sorted({*sizes, 0.07, 500.0}, reverse=True)
    falling = [1.0, *sorted(shares[: len(places) - 1], reverse=True)]
    soil = curve(*zip(places, falling, strict=True))
    if soil.share_at(75) < 0.001:
        return
    found = classify(soil, liquid_limit=liquid, plastic_limit=plastic, liquid_limit_oven_dried=oven)
    assert found.symbol in SYMBOLS
    assert found.name[0].isupper() and all(step.endswith(".") for step in found.steps)
