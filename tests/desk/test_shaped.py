"""A rule on a corrected strength in a job's result: raw and corrected stress of each block."""

import json
from dataclasses import replace

import pytest

from service.desk import codes as desk
from service.desk.results import live, next_steps
from service.trade.criteria.codes_and_rules import Criterion, published
from service.words.sentences import say
from tests.cast import Cast
from tests.trials import POINTS, a_tried_job, correct

# Least squares through POINTS by hand: mean gauge 15.6, mean force 67.62, Sxy 1366.94, Sxx 317.2.
SLOPE = 1366.94 / 317.2
INTERCEPT = 67.62 - 15.6 * SLOPE
# 100 mm high, 90 mm wide. Krefeld between 1.0 (0.70) and 3.0 (0.85); EN 772-1 between 50 (1.15) and 100 mm (1.00).
KREFELD = 0.70 + 0.15 * (100 / 90 - 1) / 2
EN_772_1 = 1.15 - 0.15 * 40 / 50
NZS = published()["nzs-4298-1998-standard"]


def stress(gauge: float) -> float:
    return (INTERCEPT + SLOPE * gauge) * 1000 / (140 * 90)


def of_limit(mpa: float) -> Criterion:
    return replace(NZS, rules=(replace(NZS.rules[0], limit=mpa),))


def read(cast: Cast) -> None:
    desk.note_reading(cast.olu, key=NZS.key, note="Edition 1998, read in the library.")


def result(cast: Cast, tried):
    return live.live(cast.tess, job_id=tried.job_id).result


def test_a_corrected_rule_can_be_put_to_a_job_once_its_text_was_read(cast):
    before = {one.criterion.key: one.usable for one in desk.known(cast.olu)}
    read(cast)
    after = {one.criterion.key: one.usable for one in desk.known(cast.olu)}
    assert (before[NZS.key], after[NZS.key]) == (False, True)


def test_before_it_was_read_nothing_is_corrected(cast):
    found = result(cast, a_tried_job(cast, rules=NZS))
    assert all(one.crushed.shaped == () for one in found.readings) and found.asked == ()


def test_raw_and_corrected_stress_stand_beside_each_other(cast):
    read(cast)
    found = result(cast, a_tried_job(cast, rules=NZS))
    crushed = next(one for one in found.readings if one.block == "1-A1").crushed
    assert len(POINTS) == 5 and crushed.stress.stress_mpa == pytest.approx(stress(12.4), rel=1e-9)
    (shaped,) = crushed.shaped
    assert (shaped.table, shaped.height_mm, shaped.width_mm) == ("krefeld", 100.0, 90.0)
    assert shaped.factor == pytest.approx(KREFELD, rel=1e-12)
    assert shaped.stress_mpa == pytest.approx(stress(12.4) * KREFELD, rel=1e-9)


def test_the_rule_is_judged_on_the_corrected_stress_and_the_strength_is_shown_as_crushed(cast):
    read(cast)
    # The lowest of A as cured is 11.9 on the gauge: 4.10 MPa as crushed, 2.90 corrected.
    assert stress(11.9) > 3.5 > stress(11.9) * KREFELD
    found = result(cast, a_tried_job(cast, rules=of_limit(3.5)))
    assert next(one.rule for one in found.limits if one.recipe == "A") == "not met"
    raw = next(one.said for one in found.groups if one.said.recipe == "A" and not one.soaked)
    assert raw.low_mpa < stress(12.8) and raw.high_mpa > stress(12.4)


def test_the_value_of_five_specimens_is_made_of_the_corrected_readings(cast):
    read(cast)
    found = result(cast, a_tried_job(cast, rules=NZS))
    (facts,) = found.criteria
    value = next(one for one in facts.values if one.recipe == "A")
    five = [stress(gauge) * KREFELD for gauge in (12.4, 13.1, 11.9, 12.8, 13.4)]
    mean = sum(five) / 5
    sd = (sum((one - mean) ** 2 for one in five) / 4) ** 0.5
    assert value.value_mpa == pytest.approx((1 - 1.5 * sd / mean) * min(five), rel=1e-9)
    # Four of B were held: there is no mean to work from.
    assert next(one for one in facts.values if one.recipe == "B").value_mpa is None


def test_a_block_crushed_on_edge_without_its_height_has_no_factor(cast):
    read(cast)
    tried = a_tried_job(cast, rules=NZS)
    correct(cast, tried, "1-A1", "It lay on edge.", orientation="on edge")
    found = result(cast, tried)
    shaped = next(one for one in found.readings if one.block == "1-A1").crushed.shaped[0]
    assert (shaped.factor, shaped.stress_mpa) == (None, None)
    assert next(one.counted for one in found.limits if one.recipe == "A") == 4


def test_the_height_between_the_platens_counts_where_it_was_typed(cast):
    read(cast)
    tried = a_tried_job(cast, rules=replace(NZS, shape_factor="en-772-1"))
    correct(cast, tried, "1-A1", "It lay on edge.", orientation="on edge", width_mm=100.0, height_mm=90.0)
    found = result(cast, tried)
    by_block = {one.block: one.crushed.shaped[0] for one in found.readings if one.crushed.shaped}
    assert by_block["1-A2"].factor == pytest.approx(EN_772_1, rel=1e-12)
    # 90 mm high, 100 mm wide: between 65 (0.85) and 100 mm (1.00).
    assert by_block["1-A1"].factor == pytest.approx(0.85 + 0.15 * 25 / 35, rel=1e-12)


def test_the_data_of_a_result_hold_both(cast):
    read(cast)
    data = json.loads(live.live(cast.tess, job_id=a_tried_job(cast, rules=NZS).job_id).data)
    one = next(one for one in data["readings"] if one["block"] == "1-A1")["crushed"]
    assert one["shaped"][0]["stress_mpa"] == pytest.approx(one["stress"]["stress_mpa"] * KREFELD)
    assert data["asked"][0]["shape"] == "krefeld"


def test_the_answer_says_that_the_limit_is_on_a_corrected_strength(cast):
    read(cast)
    found = result(cast, a_tried_job(cast, rules=NZS))
    assert "corrected for the shape of the block" in " ".join(say(one) for one in found.answer)


def test_what_more_blocks_would_buy_is_worked_out_for_a_corrected_limit_too(cast):
    read(cast)
    tried = a_tried_job(cast, rules=of_limit(2.9), peaks={"A": {"as cured": [12.4, 13.1, 12.3, 12.8], "soaked": [7.0]}})
    found = next_steps.next_steps(cast.tess, job_id=tried.job_id)
    assert found.declined == "" and len(found.more) == 1
    assert "2.9 MPa (421 psi), corrected for the shape of the block," in say(found.more[0].phrase())
