"""Rules for strength as data: no number without source and standing, and the right questions for the engine."""

import tomllib

import pytest

from service.errors import Invalid
from service.phrase import Phrase
from service.trade.block.test_conditions import Condition, condition_name
from service.trade.criteria.codes_and_rules import DATA, MPA_IN, limits_for, notes, published, read_criterion
from service.trade.sources import SOURCES

OWN = {
    "key": "own-1", "name": "Shop floor", "body": "what our customers' builders ask for", "edition": "2027",
    "clause": "", "source": "own", "standing": "own", "written_for": "bench block", "specimen": "three bench blocks",
    "orientation": "flat",
    "rules": [{"name": "mean soaked", "statistic": "mean", "limit": 2.5, "unit": "MPa", "states": ["soaked"],
               "soak_hours": 24, "age_days": 28, "blocks": 3}],
}  # fmt: skip


@pytest.mark.parametrize("key", published())
def test_every_published_number_names_a_listed_source_and_its_standing(key):
    row = published()[key]
    assert row.source in SOURCES
    assert SOURCES[row.source].standing == row.standing
    assert row.edition and row.clause and row.specimen and row.written_for
    assert all(rule.limit > 0 and rule.blocks > 0 for rule in row.rules)


def test_the_data_file_holds_what_the_loader_gives():
    rows = tomllib.loads(DATA.read_text("utf-8"))["criterion"]
    assert [row["key"] for row in rows] == list(published())


@pytest.mark.parametrize(
    ("key", "rule", "kpa"),
    [
        pytest.param("ibc-adobe", 0, 2068, id="780 CMR 2109.3.1.1 prints 300 psi as 2068 kPa"),
        pytest.param("ibc-adobe", 1, 1724, id="780 CMR 2109.3.1.1 prints 250 psi as 1724 kPa"),
        pytest.param("nmac-ceb", 0, 2068.427, id="handbook.json U-02 300 psi"),
        pytest.param("nmac-ceb", 1, 2068.427, id="handbook.json U-02 300 psi soaked"),
    ],
)
def test_limits_agree_with_the_printed_kilopascals(key, rule, kpa):
    assert published()[key].rules[rule].limit_mpa * 1000 == pytest.approx(kpa, abs=0.5)


def test_units_of_stress_follow_their_definitions():
    # 1 lbf = 4.4482216152605 N and 1 in = 25.4 mm; 1 kgf/cm2 = 98066.5 Pa (handbook.json U-01, U-07).
    assert MPA_IN["psi"] == pytest.approx(6894.757293e-6, rel=1e-9)
    assert MPA_IN["kgf/cm2"] == pytest.approx(98066.5e-6, rel=1e-15)


def test_the_block_rule_asks_for_each_of_five_dry_and_after_four_hours_under_water():
    limits = limits_for(published()["nmac-ceb"])
    assert [(limit.condition, limit.statistic, limit.blocks) for limit in limits] == [
        ("as cured", "each", 5),
        ("soaked 4 h", "each", 5),
    ]


def test_the_adobe_rule_asks_for_the_mean_and_for_each():
    limits = limits_for(published()["ibc-adobe"], tested=[Condition("air-dry", None, 28)])
    assert [(limit.condition, limit.statistic) for limit in limits] == [
        ("air-dry, 28 days", "mean"),
        ("air-dry, 28 days", "each"),
    ]


@pytest.mark.parametrize(
    ("tested", "judged"),
    [
        ([Condition("soaked", 3.9, 7)], "soaked 4 h"),
        ([Condition("soaked", 4, 7)], "soaked 4 h, 7 days"),
        ([Condition("soaked", 24, 7), Condition("soaked", 4, 7)], "soaked 4 h, 7 days"),
        ([Condition("soaked", 4, 7), Condition("soaked", 4, 28)], "soaked 4 h, 28 days"),
        ([Condition("air-dry", None, 7)], "soaked 4 h"),
    ],
)
def test_a_soaked_demand_is_judged_only_in_a_soak_that_is_long_enough(tested, judged):
    assert limits_for(published()["nmac-ceb"], tested=tested)[1].condition == judged


def test_a_block_younger_than_the_rule_does_not_answer_it():
    criterion = read_criterion(OWN)
    assert limits_for(criterion, tested=[Condition("soaked", 24, 7)])[0].condition == "soaked 24 h, 28 days"
    assert limits_for(criterion, tested=[Condition("soaked", 24, 30)])[0].condition == "soaked 24 h, 30 days"


def test_an_own_rule_comes_back_from_its_copy_unchanged():
    criterion = read_criterion(OWN)
    assert read_criterion(criterion.as_data()) == criterion


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"standing": "hearsay"}, "standing"),
        ({"standing": None}, "standing"),
        ({"standing": "seen"}, "source"),
        ({"body": ""}, "body"),
        ({"name": "x" * 201}, "name"),
        ({"rules": []}, "rules"),
        ({"rules": "each"}, "rules"),
        ({"rules": [7]}, "rules.0"),
        ({"rules": [{**OWN["rules"][0], "limit": -1}]}, "rules.0.limit"),
        ({"rules": [{**OWN["rules"][0], "limit": float("nan")}]}, "rules.0.limit"),
        ({"rules": [{**OWN["rules"][0], "limit": True}]}, "rules.0.limit"),
        ({"rules": [{**OWN["rules"][0], "unit": "tons"}]}, "rules.0.unit"),
        ({"rules": [{**OWN["rules"][0], "statistic": "best"}]}, "rules.0.statistic"),
        ({"rules": [{**OWN["rules"][0], "states": ["wet"]}]}, "rules.0.states"),
        ({"rules": [{**OWN["rules"][0], "soak_hours": None}]}, "rules.0.soak_hours"),
        ({"rules": [{**OWN["rules"][0], "states": ["air-dry"]}]}, "rules.0.soak_hours"),
        ({"rules": [{**OWN["rules"][0], "blocks": 0}]}, "rules.0.blocks"),
        ({"rules": [{**OWN["rules"][0], "age_days": 0}]}, "rules.0.age_days"),
        ({"rules": [OWN["rules"][0], OWN["rules"][0]]}, "rules"),
        ({"remarks": "one"}, "remarks"),
    ],
)
def test_a_rule_that_cannot_be_used_names_its_field(change, field):
    with pytest.raises(Invalid) as refused:
        read_criterion({**OWN, **change})
    assert field in refused.value.fields


def test_a_rule_of_the_shop_is_no_published_one():
    with pytest.raises(Invalid) as refused:
        read_criterion(OWN, published_only=True)
    assert "standing" in refused.value.fields


def test_every_criterion_says_that_the_bench_block_is_not_its_unit():
    for criterion in published().values():
        first = notes(criterion, confirmed=True)[0]
        assert "small blocks" in first.english
        assert first.values["specimen"] == Phrase(criterion.specimen)


def test_a_second_hand_figure_is_unconfirmed_until_the_owner_has_read_it():
    criterion = published()["nmac-ceb"]
    assert criterion.needs_reading
    # One for the figure, one for its limits on other tests, which are not judged until then.
    assert len(notes(criterion, confirmed=False)) == len(notes(criterion, confirmed=True)) + 2
    assert not published()["ibc-adobe"].needs_reading


def test_conditions_are_named_by_state_soak_and_age():
    assert condition_name(state="soaked", soak_hours=4.5, age_days=7) == "soaked 4.5 h, 7 days"
    assert condition_name(state="air-dry", soak_hours=None, age_days=None) == "air-dry"
