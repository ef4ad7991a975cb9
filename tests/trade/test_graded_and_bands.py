"""One curve from sieves, hydrometer and oversize; and a shop's own bands in the place of the published."""

import pytest

from service.errors import Invalid
from service.trade.soil.grading import Sieve
from service.trade.soil.hydrometer import Blank, Reading
from service.trade.soil.joined_curve import Oversize, Sieving, Suspension, graded
from service.trade.soil.soil_limits import bands_with, published_bands
from service.trade.soil.starting_recipes import band_soil_parts
from service.trade.soil.suitability import judge
from service.trade.sources import SOURCES

# By hand: 20 of 100 g are washed out, 20 g stay on 2 mm, 40 g on 0.075 mm, 20 g reach the pan: 80 % and 40 % pass.
SIEVING = Sieving([Sieve(2.0, 20), Sieve(0.075, 40)], 20, 100, 80)


def suspension(reading: float) -> Suspension:
    return Suspension([Reading(120, reading, 20)], [Blank(5, 20)], 50, 2.65, 2.0, 0.0, 1000)


def test_the_hydrometer_goes_on_below_the_sieves_as_a_share_of_the_whole_by_hand():
    # 15 above the blank of 50 g at Gs 2.65 are 30 % of the specimen, which is the 80 % that passed 2 mm: 24 %.
    found = graded(SIEVING, suspension=suspension(20))
    assert [point.share for point in found.curve.points] == pytest.approx([0.8, 0.4, 0.24])
    assert [point.share for point in found.by_hydrometer] == pytest.approx([0.24])
    assert found.curve.points[-1].size_mm < 0.075


def test_more_than_the_finest_sieve_let_through_is_held_and_said():
    # 35 above the blank are 70 % of the specimen, 56 % of the whole, yet only 40 % passed 0.075 mm.
    found = graded(SIEVING, suspension=suspension(40))
    assert found.curve.points[-1].share == pytest.approx(0.4)
    assert any("held to the sieve" in remark for remark in found.remarks)


def test_a_hydrometer_separated_beyond_the_sieves_is_left_out_and_said():
    too_coarse = Suspension([Reading(120, 20, 20)], [Blank(5, 20)], 50, 2.65, 9.5, 0.0, 1000)
    found = graded(SIEVING, suspension=too_coarse)
    assert found.by_hydrometer == () and "not joined" in found.remarks[0]


def test_oversize_taken_off_is_put_back_in_the_curve_of_the_soil_as_dug_by_hand():
    # A quarter was taken off at 6 mm: 0.75 of 80 % and of 40 % pass 2 mm and 0.075 mm, and 75 % pass 6 mm.
    found = graded(SIEVING, oversize=Oversize(6.0, 0.25))
    assert found.as_dug is not None
    assert [(p.size_mm, p.share) for p in found.as_dug.points] == [
        (6.0, 0.75),
        (2.0, pytest.approx(0.6)),
        (0.075, pytest.approx(0.3)),
    ]
    assert found.curve.points[0].share == 0.8


def test_a_soil_that_was_all_oversize_is_refused():
    with pytest.raises(Invalid) as refused:
        graded(SIEVING, oversize=Oversize(6.0, 1.0))
    assert "oversize_share" in refused.value.fields


def test_the_limit_of_loss_is_half_a_percent_from_memory_of_its_source():
    loss = published_bands().loss
    assert (loss.high, loss.standing) == (0.005, SOURCES[loss.source].standing) == (0.005, "memory")


def test_an_own_threshold_takes_the_place_of_the_published_and_drives():
    # The published index from memory drives nothing; the shop's own copy, which it answers for, does.
    own = {"threshold:index-best": {"low": 0.05, "high": 0.20, "rests_on": "Forty soils of ours"}}
    rules = bands_with(own).thresholds
    assert [rule.key for rule in rules] == [rule.key for rule in published_bands().thresholds]
    assert judge({"shrinkage": 0.05, "plasticity_index": 0.25}).verdict == "use as it is"
    judged = judge({"shrinkage": 0.05, "plasticity_index": 0.25}, thresholds=rules)
    assert judged.verdict == "amend"
    assert judge({"shrinkage": 0.05, "plasticity_index": 0.18}, thresholds=rules).verdict == "use as it is"
    assert ("own", "Forty soils of ours") in {(reason.standing, reason.source) for reason in judged.reasons}


def test_own_shrinkage_bands_say_which_volumes_are_started_with():
    own = bands_with({"shrinkage-bands": {"bands": [[0, 20], [20, 10]], "to_mm": 50, "rests_on": "Our press"}})
    parts = [band_soil_parts(shrinkage_mm=mm, bands=own.shrinkage) for mm in (19.9, 20, 50, 50.1)]
    assert parts == [20, 10, 10, None]


@pytest.mark.parametrize(
    ("key", "values", "field"),
    [
        ("sieve-loss", {"high": 0.01, "rests_on": " "}, "rests_on"),
        ("sieve-loss", {"high": 0.0}, "high"),
        ("threshold:clay-window", {"low": 0.3, "high": 0.2}, "high"),
        ("threshold:clay-window", {}, "high"),
        ("envelope:simple-mix", {"bounds": []}, "bounds"),
        ("envelope:simple-mix", {"bounds": [{"size_mm": 1, "low": 0.5, "high": 0.4}]}, "bounds.0.high"),
        ("envelope:own-1", {"bounds": [{"size_mm": 0, "low": 0.1, "high": 0.4}]}, "bounds.0.size_mm"),
        ("shrinkage-bands", {"bands": [[5, 18]], "to_mm": 60}, "bands"),
        ("shrinkage-bands", {"bands": [[0, 18], [30, 12]], "to_mm": 20}, "to_mm"),
        ("no-such-band", {}, "key"),
    ],
)
def test_a_copy_that_makes_no_sense_is_refused_at_its_field(key, values, field):
    with pytest.raises(Invalid) as refused:
        bands_with({key: {"rests_on": "A text", **values}})
    assert field in refused.value.fields
