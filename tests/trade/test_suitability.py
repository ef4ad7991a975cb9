"""Verdicts rest on what was read, never on memory; signs stop; recipes say their basis and source."""

from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.soil.grading import Passing, curve_of
from service.trade.soil.grading_envelopes import distance_outside, published_envelopes
from service.trade.soil.starting_recipes import Box, BulkDensities, band_soil_parts, share_from_parts, start_for
from service.trade.soil.suitability import Measure, Sign, Threshold, judge, published_thresholds
from service.trade.sources import SOURCES
from tests.cases import cases, near


# references.md, section 3: bounds as printed there, each bound inside, a hair beyond it outside.
@pytest.mark.parametrize(
    ("measured", "verdict"),
    [
        ({"shrinkage": 15 / 600}, "use as it is"),  # handbook.json SH-lim: 15 to 54 mm of 600 [seen]
        ({"shrinkage": 14.9 / 600}, "amend"),
        ({"shrinkage": 54 / 600}, "use as it is"),
        ({"shrinkage": 54.1 / 600}, "amend"),
        ({"clay_share": 0.10}, "use as it is"),  # BRU 1974: 10 to 35 % [second-hand]
        ({"clay_share": 0.099}, "amend"),
        ({"clay_share": 0.34}, "amend"),  # an extension note: at most about a third [seen]
        ({"silt_share": 0.33}, "use as it is"),
        ({"silt_share": 0.34}, "amend"),
        ({"fines_share": 0.15}, "use as it is"),  # a housing department: clay and silt 15 to 35 % [seen]
        ({"fines_share": 0.149}, "amend"),
        ({"fines_share": 0.35}, "use as it is"),
        ({"fines_share": 0.351}, "amend"),
        ({"shrinkage": 0.05, "fines_share": 0.5}, "amend"),
    ],
)
def test_the_verdict_turns_at_the_published_bounds(measured: dict[Measure, float], verdict: str) -> None:
    assert judge(measured).verdict == verdict


def test_the_simple_mix_target_is_used_as_it_is() -> None:
    # Sand 65, silt 15, clay 20 % [seen].
    judged = judge({"sand_share": 0.65, "silt_share": 0.15, "clay_share": 0.20, "fines_share": 0.35})
    assert judged.verdict == "use as it is"
    assert judged.not_measured == ("shrinkage",)


measures = st.dictionaries(st.sampled_from(get_args(Measure)), st.floats(0, 1), min_size=1)


@given(measured=measures)
def test_nothing_from_memory_drives_a_verdict(measured: dict[Measure, float]) -> None:
    read = [rule for rule in published_thresholds() if rule.standing != "memory"]
    try:
        judged = judge(measured)
    except Invalid:
        assert not any(rule.measure in measured for rule in read)
        return
    assert judged.verdict == judge(measured, thresholds=read).verdict
    assert all(reason.drives == (reason.standing != "memory") for reason in judged.reasons)
    assert all(reason.source in SOURCES for reason in judged.reasons)


def test_a_measure_that_only_memory_speaks_of_is_no_ground_for_a_verdict() -> None:
    with pytest.raises(Invalid) as refused:
        judge({"plasticity_index": 0.10})
    assert "box" in refused.value.fields


@pytest.mark.parametrize("sign", get_args(Sign))
def test_any_sign_stops_every_recipe(sign: Sign) -> None:
    judged = judge({"shrinkage": 0.05}, signs=[sign])
    start = start_for(judged, plasticity_index=0.2, box=Box(600, 40, 40, 30))
    assert start.recipes == () and "sign stops" in start.remarks[0]
    assert judged.verdict == ("use as it is" if sign == "sulfates" else "not for blocks")


def test_a_stopping_sign_needs_no_measure() -> None:
    assert judge({}, signs=["organics"]).verdict == "not for blocks"


def test_the_shop_may_hold_soils_to_its_own_bounds() -> None:
    own = Threshold("own", "clay_share", 0.05, 0.15, "Too little.", "Too much.", "own", "own")
    (reason,) = judge({"clay_share": 0.2}, thresholds=[own]).reasons
    assert (reason.says, reason.drives) == ("Too much.", True)


@pytest.mark.parametrize("case", [case for case in cases("shrinkage") if "shrinkage_mm" in case.values[0]["inputs"]])
def test_the_bands_of_the_box_agree_with_the_source(case: dict[str, Any]) -> None:
    parts = band_soil_parts(shrinkage_mm=case["inputs"]["shrinkage_mm"])
    assert f"1:{parts}" == case["expected"]["cement_to_soil"]


def test_above_60_mm_there_is_no_band() -> None:
    assert band_soil_parts(shrinkage_mm=60.1) is None


def test_parts_become_a_share_by_measured_densities_only() -> None:
    box = Box(600, 40, 40, 30)
    judged = judge({"shrinkage": 0.05})
    guessless = start_for(judged, box=box).recipes[0]
    assert (guessless.soil_parts, guessless.share) == (14, None) and "none is guessed" in guessless.remark
    # 1 : 14 at 1.44 and 1.20 kg/l: 1.44 / 16.8 = 0.085714 by hand.
    measured = start_for(judged, box=box, densities=BulkDensities(1.44, 1.20)).recipes[0]
    assert measured.share == near(0.085714, tolerance=0.000001)
    # handbook.json RT-16 [computed]: 1 : 16 of equal densities is 6.25 % of soil.
    assert share_from_parts(soil_parts=16, densities=BulkDensities(1.3, 1.3)) == near(0.0625, tolerance=1e-12)


@pytest.mark.parametrize(
    ("box", "word"),
    [(Box(600, 40, 40, 10), "overrules"), (Box(600, 40, 40, 58), "overrules"), (Box(600, 40, 40, 61), "above 60 mm"),
     (Box(500, 40, 40, 20), "600 x 40 x 40")],
)  # fmt: skip
def test_the_bands_are_overruled_outside_their_window_and_their_box(box: Box, word: str) -> None:
    start = start_for(judge({"shrinkage": box.shrinkage_mm / box.length_mm}), box=box)
    assert [recipe for recipe in start.recipes if recipe.soil_parts] == []
    assert any(word in remark for remark in start.remarks)


def test_a_box_of_24_inches_is_the_same_box_and_one_far_off_is_named_by_its_side() -> None:
    # 24 x 1-1/2 x 1-1/2 in are 609.6 x 38.1 x 38.1 mm. The band from 15 mm on says 1 : 16, that from 30 mm on 1 : 14.
    inches = Box(609.6, 38.1, 38.1, 30.2)
    found = start_for(judge({"shrinkage": 30.2 / 609.6}), box=inches).recipes
    # 30.2 mm of 609.6 are 29.72 mm of 600: still the band below 30.
    assert [one.soil_parts for one in found if one.soil_parts] == [16]
    far = start_for(judge({"shrinkage": 0.05}), box=Box(600, 50, 38, 30))
    (told,) = [one for one in far.remarks if "Too far from it" in one]
    assert told.endswith("Too far from it: width 50 mm.")


def test_cement_starts_in_the_range_found_economic() -> None:
    # QJEG 1986: 5 to 9 % [seen]; a thesis after Webb and Lockwood: above 4 MPa [second-hand].
    recipes = start_for(judge({"shrinkage": 0.05})).recipes
    assert [recipe.share for recipe in recipes] == [0.05, 0.07, 0.09]
    assert {(recipe.stabiliser, recipe.press_low_mpa, recipe.standing) for recipe in recipes} == {("cement", 4, "seen")}


@pytest.mark.parametrize(("index", "lime", "differ"), [(0.099, 0, False), (0.10, 1, True), (0.12, 1, False)])
def test_lime_is_offered_from_the_index_that_bodies_give_and_their_difference_is_said(
    index: float, lime: int, differ: bool
) -> None:
    # PI 10 by a trade body, PI 12 by US Army engineers [both second-hand].
    start = start_for(judge({"shrinkage": 0.05}), plasticity_index=index)
    found = [recipe for recipe in start.recipes if recipe.stabiliser == "lime"]
    assert len(found) == lime
    assert all(recipe.share is None and recipe.press_high_mpa == 2 for recipe in found)
    assert any("bodies differ" in remark for remark in start.remarks) is differ


def test_a_soil_to_be_blended_is_tested_again_first() -> None:
    assert "once it is blended" in start_for(judge({"fines_share": 0.6})).remarks[0]


def test_distance_from_an_envelope_is_that_of_its_worst_size() -> None:
    soil = curve_of([Passing(4.75, 1.0), Passing(0.075, 0.45), Passing(0.002, 0.05)])
    found = {one.key: distance_outside(soil, one.bounds) for one in published_envelopes()}
    # By hand: 0.45 - 0.35; 0.10 - 0.05; the larger of 0.10 and 0.20 - 0.05.
    assert found == {
        "fines-window": near(0.10, tolerance=1e-12),
        "clay-window": near(0.05, tolerance=1e-12),
        "simple-mix": near(0.15, tolerance=1e-12),
    }
    short = curve_of([Passing(4.75, 1.0), Passing(0.075, 0.2)])
    assert distance_outside(short, published_envelopes()[0].bounds) == 0
    assert distance_outside(short, published_envelopes()[1].bounds) is None


@pytest.mark.parametrize(
    ("measured", "field"), [({"clay_share": 1.2}, "clay_share"), ({"shrinkage": -0.1}, "shrinkage")]
)
def test_shares_that_cannot_be_are_refused_by_their_field(measured: dict[Measure, float], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        judge(measured)
    assert field in refused.value.fields
