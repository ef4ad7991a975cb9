"""`work rule` and `work tolerance`: keys, answers by published numbers, refusals by field."""

import json

import pytest

from service.errors import Invalid
from service.work.answering import answer_text

FIVE = [2.1, 2.4, 2.5, 2.7, 3.0]


def asked(name, **keys):
    return answer_text(name, json.dumps(keys))


def test_a_factor_alone_needs_no_readings():
    # handbook.json TF-05 family: n = 5, coverage 0.95, confidence 0.75 gives 2.463 [computed].
    answer = asked("tolerance", n=5, coverage=0.95, confidence=0.75)
    assert answer["factor"] == pytest.approx(2.46338, abs=1e-5)
    assert answer["lower_mpa"] is None and answer["farthest"] is None


def test_readings_give_their_own_number_and_a_lower_value():
    answer = asked("tolerance", coverage=0.95, confidence=0.75, values_mpa=FIVE)
    # By hand: 2.54 - 2.46338 x 0.33615 = 1.71194.
    assert answer["n"] == 5
    assert answer["lower_mpa"] == pytest.approx(1.71194, abs=0.0001)
    assert answer["farthest"]["place"] == 4 and not answer["farthest"]["strays"]


def test_a_rule_says_its_standing_and_its_spread():
    # handbook.json CH-05: (1 - 1.5 s / mean) x lowest = 1.68312 [memory formula].
    answer = asked("rule", rule="NZS 4298", values_mpa=FIVE)
    assert answer["value_mpa"] == pytest.approx(1.68312, abs=0.0001)
    assert answer["standing"] == "memory"
    assert (answer["lowest_mpa"], answer["factor"]) == (2.1, None)


def test_the_european_rule_takes_either_distribution():
    # handbook.json CH-01 [second-hand factor].
    assert asked("rule", rule="EN 1990", values_mpa=FIVE)["value_mpa"] == pytest.approx(1.75676, abs=0.00005)
    lognormal = asked("rule", rule="EN 1990", values_mpa=FIVE, distribution="lognormal")
    assert lognormal["value_mpa"] == pytest.approx(1.84972, abs=0.00005)


@pytest.mark.parametrize(
    ("name", "keys", "field"),
    [
        ("tolerance", {"coverage": 0.9, "confidence": 0.9}, "n"),
        ("tolerance", {"coverage": 0.9, "confidence": 0.9, "n": 4, "values_mpa": FIVE}, "n"),
        ("tolerance", {"coverage": 0.9, "confidence": 0.9, "values_mpa": [2.0]}, "values_mpa"),
        ("tolerance", {"coverage": 0.9, "confidence": 1, "n": 4}, "confidence"),
        ("rule", {"rule": "NZS 4298", "values_mpa": FIVE, "distribution": "normal"}, "distribution"),
        ("rule", {"rule": "NZS 4298", "values_mpa": FIVE, "variation": 0.1}, "variation"),
        ("rule", {"rule": "mine", "values_mpa": FIVE}, "rule"),
        ("rule", {"rule": "EN 1990", "values_mpa": [2.0, -1.0, 2.0]}, "values_mpa.1"),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_field(name, keys, field):
    with pytest.raises(Invalid) as refused:
        asked(name, **keys)
    assert field in refused.value.fields
