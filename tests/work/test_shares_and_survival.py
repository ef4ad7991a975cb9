"""`work shares` and `work survival`: the keys of the contract, values by hand, and refusals by field."""

import json

import pytest

from service.errors import Invalid
from service.work.answering import answer_text

LIMIT = {"name": "a", "condition": "soaked", "statistic": "mean", "limit_mpa": 2.0, "blocks": 5}
ASKED = {"shares": [0.04, 0.08], "limits": [LIMIT], "blocks": [3]}


def answer(name, given):
    return answer_text(name, json.dumps(given))


def test_the_keys_of_shares_are_those_of_the_contract():
    found = answer("shares", ASKED)
    keys = {"shares", "blocks", "mixes", "blocks_in_all", "settled", "passes", "fails"}
    assert set(found) == {"best", "plans"} and set(found["best"]) == keys
    assert [set(one) for one in found["plans"]] == [keys]
    # Two shares of three blocks in one condition.
    assert found["best"]["blocks_in_all"] == 6


def test_a_sandy_soil_is_likelier_to_pass_than_a_fat_clay():
    # Of the seven soils the sand-loess bore 3.9 MPa with 8 % cement, the illite clay 1.1.
    sandy = answer("shares", ASKED | {"soil": {"fines": 0.2, "liquid_limit": 0.2}})
    fat = answer("shares", ASKED | {"soil": {"fines": 0.95, "liquid_limit": 0.7}})
    assert sandy["best"]["passes"] > fat["best"]["passes"] + 0.05


def test_what_is_stated_outranks_what_the_soil_says():
    stated = ASKED | {"prior": {"median_mpa": 9.0, "log_sd": 0.1}}
    assert answer("shares", stated) == answer("shares", stated | {"soil": {"fines": 0.95, "liquid_limit": 0.7}})


def test_survival_of_one_recipe_is_the_rule_of_succession():
    # (5 + 1) / (5 + 2) of the next block; the 5 % point of Beta(6, 1) is 0.05 ** (1 / 6).
    given = {"recipes": [{"recipe": "A", "share": 0.06, "survived": 5, "fell_apart": 0}]}
    (found,) = answer("survival", given)["recipes"]
    assert found["chance"] == pytest.approx(6 / 7, abs=1e-4)
    assert found["at_least"] == pytest.approx(0.05 ** (1 / 6), abs=0.004)
    assert set(found) == {"recipe", "share", "chance", "at_least"}


@pytest.mark.parametrize(
    ("name", "given", "field"),
    [
        ("shares", ASKED | {"shares": [0.04, 0.04]}, "shares"),
        ("shares", ASKED | {"mixes": 5}, "mixes"),
        ("shares", ASKED | {"aim": "cheapest"}, "aim"),
        ("shares", ASKED | {"soil": {"fines": 1.4}}, "soil.fines"),
        (
            "survival",
            {"recipes": [{"recipe": "A", "share": 0.1, "survived": 0, "fell_apart": 0}]},
            "recipes.0.survived",
        ),
        (
            "survival",
            {"recipes": [{"recipe": "A", "share": 0.1, "survived": 1, "fell_apart": 0}] * 2},
            "recipes.1.recipe",
        ),
    ],
)
def test_what_cannot_be_answered_is_refused_by_field(name, given, field):
    with pytest.raises(Invalid) as refusal:
        answer(name, given)
    assert field in refusal.value.fields
