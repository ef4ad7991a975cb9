"""`work classify`: the keys of the contract, and refusals by field."""

import json

import pytest

from service.errors import Invalid
from service.work.answering import answer_text

SOIL = {"passing": [{"size_mm": 4.75, "share": 1.0}, {"size_mm": 0.075, "share": 0.6}]}


def asked(**keys):
    return answer_text("classify", json.dumps(SOIL | keys))


def test_an_answer_has_symbol_name_and_steps():
    # Index 20 above 0.73 x 17 = 12.4, LL below 50, 40 % coarse and all of it sand (ASTM D2487, Fig. 1).
    answer = asked(liquid_limit=0.37, plastic_limit=0.17, liquid_limit_oven_dried=None)
    assert set(answer) == {"symbol", "name", "steps"}
    assert (answer["symbol"], answer["name"]) == ("CL", "Sandy lean clay")
    assert all(isinstance(step, str) for step in answer["steps"])


def test_a_soil_without_a_thread_is_a_silt():
    assert asked(non_plastic=True)["symbol"] == "ML"


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({}, "liquid_limit"),
        ({"liquid_limit": "0.4", "plastic_limit": 0.2}, "liquid_limit"),
        ({"liquid_limit": 0.4, "plastic_limit": -0.2}, "plastic_limit"),
        ({"non_plastic": 1}, "non_plastic"),
        ({"non_plastic": True, "colour": "red"}, "colour"),
        ({"non_plastic": True, "passing": [{"size_mm": 1, "share": 0.1}, {"size_mm": 0.5, "share": 0.2}]},
         "passing.1.share"),
    ],
)  # fmt: skip
def test_what_cannot_be_used_is_refused_by_its_field(keys, field):
    with pytest.raises(Invalid) as refused:
        asked(**keys)
    assert field in refused.value.fields
