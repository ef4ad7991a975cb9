"""A limit on a corrected strength: each reading times its own block's factor, and nothing else is touched."""

import math
from dataclasses import replace

import pytest

from service.trade.block.shape_factors import shape_factor
from service.trade.strength.censored_readings import broke, corrected, fell_apart, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Limit, Settings
from service.trade.strength.limit_rules import characteristic_of, rule_of
from service.trade.strength.prior import Prior
from service.trade.strength.shape_corrected_limits import limit_as_crushed_mpa, readings_for, said_of
from service.words.sentences import say

# 90 x 140 mm: EN 772-1 Annex A gives 0.877 (checks/handbook.json, SFi-90-140), as second-hand.
EN_90_140 = 0.8766666667
STRESSES = (2.1, 2.4, 2.5, 2.7, 3.0)
BROKEN = tuple(broke(stress_mpa=stress, graduation_mpa=0.05) for stress in STRESSES)


def group(factors: tuple[float | None, ...], readings=BROKEN) -> Group:
    return Group("A", "dry", readings, 1, (("en-772-1", factors),))


def limit(mpa: float, statistic="each", **more) -> Limit:
    return Limit("corrected", "dry", statistic, mpa, 5, shape="en-772-1", **more)


def test_each_reading_is_taken_times_the_factor_of_its_own_block():
    factors = (0.9, 0.88, 0.877, 0.87, 0.86)
    taken = readings_for(group(factors), limit(2.0))
    # 2.1 x 0.9 = 1.89 and so on, by hand.
    assert [one.stress_mpa for one in taken] == pytest.approx([1.89, 2.112, 2.1925, 2.349, 2.58], rel=1e-12)


def test_the_factor_of_the_checks_is_the_one_that_is_used():
    factor = shape_factor("en-772-1", height_mm=90, width_mm=140)
    assert factor == pytest.approx(EN_90_140, abs=5e-4)
    assert corrected(broke(stress_mpa=2.0), factor=factor).stress_mpa == pytest.approx(2 * EN_90_140, abs=1e-3)


def test_a_held_block_stays_at_least_and_a_fallen_one_nothing():
    assert corrected(held(stress_mpa=10.0), factor=0.7) == held(stress_mpa=7.0)
    taken = readings_for(group((None, 0.7), (fell_apart(), held(stress_mpa=10.0))), limit(2.0))
    assert [one.outcome for one in taken] == ["fell apart", "held"]


def test_a_limit_without_a_table_takes_the_readings_as_crushed():
    plain = Limit("plain", "dry", "each", 2.0, 5)
    assert readings_for(group((0.5,) * 5), plain) == BROKEN
    assert limit_as_crushed_mpa(group((0.5,) * 5), plain) == 2.0


def test_the_rule_is_judged_on_the_corrected_readings():
    # The lowest as crushed is 2.1, corrected 2.1 x 0.88 = 1.848: above 1.8, below 2.0.
    for mpa, rule in ((1.8, "met"), (2.0, "not met")):
        answer = strength([group((0.88,) * 5)], limits=[limit(mpa)])
        assert answer.limits[0].rule == rule
    assert strength([group((0.88,) * 5)], limits=[replace(limit(2.0), shape="")]).limits[0].rule == "met"


@pytest.mark.parametrize("statistic", ["each", "mean", "characteristic"])
def test_one_factor_for_all_is_the_same_as_measuring_in_another_unit(statistic):
    factor = 0.6
    asked = strength([group((factor,) * 5)], limits=[limit(1.3, statistic)])
    scaled = Group("A", "dry", tuple(corrected(one, factor=factor) for one in BROKEN), 1)
    other = strength(
        [scaled],
        limits=[replace(limit(1.3, statistic), shape="")],
        settings=Settings(prior=Prior(median_mpa=3.0 * factor)),
    )
    assert asked.limits[0].assurance == pytest.approx(other.limits[0].assurance, abs=2e-3)
    assert asked.order[0].assurance == pytest.approx(other.order[0].assurance, abs=2e-3)


def test_the_strength_that_is_shown_stays_as_crushed():
    with_limit = strength([group((0.5,) * 5)], limits=[limit(1.0)])
    without = strength([Group("A", "dry", BROKEN, 1)], limits=[replace(limit(1.0), shape="")])
    assert with_limit.groups == without.groups and with_limit.scatter == without.scatter


def test_two_limits_of_which_one_is_corrected_hold_at_once_no_surer_than_the_harder():
    both = strength([group((0.5,) * 5)], limits=[limit(1.0), Limit("plain", "dry", "each", 1.0, 5)])
    hard = next(one.assurance for one in both.limits if one.name == "corrected")
    # On one and the same next blocks 1.0 after a factor of 0.5 is 2.0 as crushed, which holds 1.0 within it.
    assert both.order[0].assurance == pytest.approx(hard, abs=2e-3)


def test_blocks_for_which_the_table_has_nothing_are_not_judged():
    answer = strength([group((None,) * 5)], limits=[limit(1.0)])
    assert (answer.limits[0].rule, answer.limits[0].counted, answer.limits[0].assurance) == ("no readings", 0, None)
    assert answer.order[0].verdict == "not settled"
    assert math.isinf(limit_as_crushed_mpa(group((None,) * 5), limit(1.0)))


def test_a_fallen_block_fails_a_corrected_limit_too():
    answer = strength([group((0.9, None), (broke(stress_mpa=5.0), fell_apart()))], limits=[limit(1.0)])
    assert (answer.limits[0].rule, answer.limits[0].assurance) == ("not met", 0.0)


def test_five_readings_are_judged_by_the_value_of_five_specimens():
    # s = 0.33615, mean 2.54: (1 - 1.5 x 0.33615 / 2.54) x 2.1 = 1.6831, by hand.
    asked = Limit("of five", "dry", "characteristic", 1.68, 5, by="nzs-4298")
    assert rule_of(BROKEN, asked) == "met"
    assert rule_of(BROKEN, replace(asked, limit_mpa=1.69)) == "not met"
    assert rule_of(BROKEN[:4], asked) == "cannot tell"
    assert rule_of((*BROKEN[:4], held(stress_mpa=9.0)), asked) == "cannot tell"
    assert rule_of((*BROKEN[:4], fell_apart()), asked) == "not met"


def test_readings_are_judged_by_the_printed_factor_of_en_1990():
    # 2.54 - 2.33 x 0.33615 = 1.7568, by hand.
    assert characteristic_of(BROKEN, "en-1990-d1") == pytest.approx(1.7568, abs=5e-5)
    asked = Limit("5 %", "dry", "characteristic", 1.75, 5, by="en-1990-d1")
    assert rule_of(BROKEN, asked) == "met"
    # Three of them: mean 2.3333, s 0.20817, factor 3.37: 1.6318.
    assert rule_of(BROKEN[:3], replace(asked, limit_mpa=1.63)) == "too few"
    assert rule_of(BROKEN[:3], replace(asked, limit_mpa=1.64)) == "cannot tell"


def test_a_characteristic_limit_without_a_way_stays_to_the_assurance_alone():
    assert rule_of(BROKEN, Limit("5 %", "dry", "characteristic", 1.75, 5)) is None


def test_a_corrected_limit_says_so_in_a_sentence():
    assert say(said_of(limit(1.3)), units="metric").endswith(", corrected for the shape of the block,")
