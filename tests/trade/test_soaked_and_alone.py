"""Soaked over dry against hand calculation; recipes that sit with one person or one day alone."""

import math

import pytest

from service.trade.sentences.confounding import alone_remarks, sits_alone
from service.trade.strength.censored_readings import broke
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, GroupStrength, Settings
from service.trade.strength.wet_dry_ratio import Kept, kept_in_water


def said(median: float | None, low: float | None, high: float | None, fell: int = 0) -> GroupStrength:
    return GroupStrength("A", "", 5, 0, fell, median, low, high, None, None, None, None)


def test_the_interval_of_the_ratio_is_the_root_of_both_squares_by_hand():
    # ln(1.2) each way soaked, ln(1.1) each way dry: sqrt(0.18232^2 + 0.09531^2) = 0.20573.
    found = kept_in_water(said(2, 2 / 1.2, 2.4), said(4, 4 / 1.1, 4.4), dry_floor_mpa=None, error_sd=0.0)
    assert found.ratio == 0.5
    assert found.low == pytest.approx(0.5 * math.exp(-0.20573), rel=1e-5)
    assert found.high == pytest.approx(0.5 * math.exp(0.20573), rel=1e-5)


def test_what_press_and_mixes_add_to_both_falls_out_of_the_ratio():
    groups = [
        Group("A", "dry", tuple(broke(stress_mpa=v) for v in (4.0, 4.2, 3.9, 4.1, 4.3))),
        Group("A", "wet", tuple(broke(stress_mpa=v) for v in (2.0, 2.2, 1.9, 2.1, 2.3))),
    ]
    sure = strength(groups, settings=Settings(scale_uncertainty=0.0, batch_sd=0.0)).groups
    vague = strength(groups, settings=Settings(scale_uncertainty=0.08, batch_sd=0.06)).groups
    bare = kept_in_water(sure[1], sure[0], dry_floor_mpa=None, error_sd=0.0)
    same = kept_in_water(vague[1], vague[0], dry_floor_mpa=None, error_sd=0.10)
    assert bare.low is not None and bare.high is not None
    assert same.low == pytest.approx(bare.low, rel=0.01)
    assert same.high == pytest.approx(bare.high, rel=0.01)


def test_nothing_rests_on_strength_that_was_not_measured():
    unbroken = said(None, 9.0, None)
    broken = said(2.0, 1.5, 2.5)
    assert kept_in_water(broken, unbroken, dry_floor_mpa=8.0, error_sd=0.0) == Kept(None, None, 2.5 / 8.0)
    assert kept_in_water(unbroken, broken, dry_floor_mpa=None, error_sd=0.0) == Kept(None, None, None)
    assert kept_in_water(said(2, 1.5, 2.5, fell=1), broken, dry_floor_mpa=None, error_sd=0.0).ratio is None


def test_one_person_for_the_whole_job_sets_no_recipe_apart():
    assert sits_alone({"A": ["t", "t"], "B": ["t"]}) == ()


def test_two_persons_a_recipe_each_set_both_apart():
    assert sits_alone({"A": ["t"], "B": ["o"]}) == ("A", "B")


def test_a_person_shared_with_one_other_recipe_is_enough():
    assert sits_alone({"A": ["t"], "B": ["t", "o"], "C": ["o"]}) == ()


def test_each_way_of_sitting_alone_has_its_own_remark():
    remarks = alone_remarks(
        crushed_by={"A": ["t"], "B": ["o"]}, mixed_by={"A": ["t"], "B": ["t"]}, mixed_on={"A": ["1"], "B": ["2"]}
    )
    assert [("person" in one.english, one.values["recipes"]) for one in remarks] == [
        (True, ("A", "B")),
        (False, ("A", "B")),
    ]
