"""`work strength`: the keys of the contract, the reference answers through it, and refusals by field."""

import json
from pathlib import Path

import pytest

from service.errors import Invalid
from service.work.answering import answer_text
from tests.trade.strength_jobs import apart

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "strength.json").read_text())
BLOCK = {"broke_mpa": 2.4, "graduation_mpa": 0.1}
GROUP = {"recipe": "A", "condition": "soaked", "readings": [BLOCK]}
LIMIT = {"name": "a", "condition": "soaked", "statistic": "mean", "limit_mpa": 2.0, "blocks": 5}


def asked(**keys):
    return answer_text("strength", json.dumps({"groups": [GROUP]} | keys))


@pytest.mark.parametrize(
    "case",
    [one for one in REFERENCE["cases"] if len(one["inputs"]["groups"]) == 1],
    ids=lambda case: f"strength.json {case['id']}: brute quadrature",
)
def test_the_reference_answers_come_through_the_door(case):
    answer = answer_text("strength", json.dumps(case["inputs"]))
    assert set(answer) == {"scatter", "groups", "limits", "pairs", "order"}
    for part, rows in case["expected"].items():
        assert all(off <= 1 for _, off in apart(answer[part], rows))


def test_the_keys_of_every_row_are_those_of_the_contract():
    expected = REFERENCE["cases"][0]["expected"]
    answer = answer_text("strength", json.dumps(REFERENCE["cases"][0]["inputs"]))
    assert {part: set(rows[0]) for part, rows in answer.items()} == {
        part: set(rows[0]) for part, rows in expected.items()
    }


def test_what_is_left_out_has_the_values_of_the_contract():
    prior = {
        "median_mpa": 3.0,
        "log_sd": 1.0,
        "scatter": 0.15,
        "scatter_log_sd": 0.5,
        "spread": 0.3,
        "spread_log_sd": 0.5,
    }
    spelled = {"assurance": 0.95, "margin": 0.1, "scale_uncertainty": 0.0, "batch_sd": 0.05, "limits": [], "costs": {}}
    assert asked(**spelled, prior=prior, groups=[GROUP | {"batches": 1}]) == asked()
    assert asked(prior={"median_mpa": 3.0}) == asked()


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({"groups": []}, "groups"),
        ({"groups": [GROUP | {"readings": []}]}, "groups.0.readings"),
        ({"groups": [GROUP, GROUP]}, "groups.1"),
        ({"groups": [GROUP | {"batches": 2}, GROUP | {"condition": "dry", "batches": 3}]}, "groups.1.batches"),
        ({"groups": [GROUP | {"batches": 0}]}, "groups.0.batches"),
        ({"groups": [GROUP | {"batches": 1.5}]}, "groups.0.batches"),
        ({"groups": [GROUP | {"recipe": ""}]}, "groups.0.recipe"),
        ({"groups": [GROUP | {"recipe": "x" * 201}]}, "groups.0.recipe"),
        ({"groups": [GROUP | {"colour": "red"}]}, "groups.0.colour"),
        ({"groups": [GROUP | {"readings": [BLOCK] * 501}]}, "groups.0.readings"),
        ({"groups": [GROUP | {"readings": [BLOCK, {"broke_mpa": -1.0}]}]}, "groups.0.readings.1.broke_mpa"),
        ({"groups": [GROUP | {"readings": [{"broke_mpa": 0.0}]}]}, "groups.0.readings.0.broke_mpa"),
        ({"groups": [GROUP | {"readings": [{"broke_mpa": "2.4"}]}]}, "groups.0.readings.0.broke_mpa"),
        ({"groups": [GROUP | {"readings": [{"broke_mpa": True}]}]}, "groups.0.readings.0.broke_mpa"),
        ({"groups": [GROUP | {"readings": [{"held_mpa": -2.0}]}]}, "groups.0.readings.0.held_mpa"),
        ({"groups": [GROUP | {"readings": [BLOCK | {"graduation_mpa": -0.1}]}]}, "groups.0.readings.0.graduation_mpa"),
        ({"groups": [GROUP | {"readings": [BLOCK | {"held_mpa": 2.0}]}]}, "groups.0.readings.0.held_mpa"),
        ({"groups": [GROUP | {"readings": [{"held_mpa": 2.0, "fell_apart": True}]}]}, "groups.0.readings.0.fell_apart"),
        ({"groups": [GROUP | {"readings": [{"held_mpa": 2.0, "graduation_mpa": 0.1}]}]},
         "groups.0.readings.0.graduation_mpa"),
        ({"groups": [GROUP | {"readings": [{"fell_apart": 1}]}]}, "groups.0.readings.0.fell_apart"),
        ({"groups": [GROUP | {"readings": [{}]}]}, "groups.0.readings.0.broke_mpa"),
        ({"limits": [LIMIT, LIMIT]}, "limits.1.name"),
        ({"limits": [LIMIT | {"statistic": "median"}]}, "limits.0.statistic"),
        ({"limits": [LIMIT | {"limit_mpa": 0.0}]}, "limits.0.limit_mpa"),
        ({"limits": [LIMIT | {"blocks": 0}]}, "limits.0.blocks"),
        ({"costs": {"B": "0.3"}}, "costs.B"),
        ({"costs": {"A": 0.3}}, "costs.A"),
        ({"costs": {"A": "-0.3"}}, "costs.A"),
        ({"assurance": 1.0}, "assurance"),
        ({"assurance": 0.0}, "assurance"),
        ({"margin": -0.1}, "margin"),
        ({"scale_uncertainty": -0.1}, "scale_uncertainty"),
        ({"batch_sd": "0.05"}, "batch_sd"),
        ({"prior": {"spread": 0.0}}, "prior.spread"),
        ({"prior": {"mean": 3.0}}, "prior.mean"),
        ({"seed": 1}, "seed"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_by_its_field(keys, field):
    with pytest.raises(Invalid) as refused:
        asked(**keys)
    assert field in refused.value.fields


def test_a_key_given_twice_is_refused():
    with pytest.raises(Invalid) as refused:
        answer_text("strength", '{"groups": [{"recipe": "A", "recipe": "B", "condition": "dry", "readings": []}]}')
    assert "groups.0.recipe" in refused.value.fields


@pytest.mark.parametrize("number", ["NaN", "Infinity", "1e999"])
def test_what_is_no_number_is_refused(number):
    with pytest.raises(Invalid) as refused:
        answer_text("strength", json.dumps({"groups": [GROUP]}).replace("2.4", number))
    assert "groups.0.readings.0.broke_mpa" in refused.value.fields


def test_a_block_that_broke_within_the_first_graduation_is_read_from_nothing():
    # The contract: [max(0, b - g / 2), b + g / 2], so that 0 with a graduation of 0.2 is 0 to 0.1 MPa.
    low = asked(groups=[GROUP | {"readings": [{"broke_mpa": 0.0, "graduation_mpa": 0.2}] * 3}])
    same = asked(groups=[GROUP | {"readings": [{"broke_mpa": 0.05, "graduation_mpa": 0.1}] * 3}])
    assert low["groups"] == same["groups"] and low["groups"][0]["median_mpa"] < 0.1


def test_a_block_that_broke_at_nothing_needs_a_graduation():
    with pytest.raises(Invalid) as refused:
        asked(groups=[GROUP | {"readings": [{"broke_mpa": 0.0}]}])
    assert refused.value.fields == {
        "groups.0.readings.0.broke_mpa": "A block without a graduation must have broken above 0."
    }
