"""`work blend`: the keys of the contract, and refusals by field."""

import json

import pytest

from service.errors import Invalid
from service.work.answering import answer_text

NATIVE = {"name": "native", "passing": [{"size_mm": 2.0, "share": 1.0}, {"size_mm": 0.075, "share": 0.6}]}
SAND = {"name": "sand", "passing": [{"size_mm": 4.75, "share": 1.0}, {"size_mm": 0.075, "share": 0.0}]}
ENVELOPE = [{"size_mm": 0.075, "low": 0.15, "high": 0.35}]


def asked(**keys):
    return answer_text("blend", json.dumps({"soils": [NATIVE, SAND], "envelope": ENVELOPE} | keys))


def test_an_answer_has_the_keys_of_the_contract():
    answer = asked()
    # 0.6 w = 0.35 at most, 0.15 at least: 7/12 and 1/4 of the native soil; the most of it is taken.
    assert set(answer) == {"shares", "worst_excess", "feasible", "range", "passing"}
    assert answer["shares"]["native"] == pytest.approx(7 / 12, abs=1e-8)
    assert answer["range"]["native"] == pytest.approx([1 / 4, 7 / 12], abs=1e-6)
    assert answer["feasible"] is True
    assert [point["size_mm"] for point in answer["passing"]] == [4.75, 2.0, 0.075]


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({"soils": [NATIVE, SAND | {"passing": [{"size_mm": 1, "share": 0.5}, {"size_mm": 0.5, "share": 0.6}]}]},
         "soils.1.passing.1.share"),
        ({"envelope": [{"size_mm": 0.01, "low": 0, "high": 1}]}, "soils.0.passing"),
        ({"envelope": [{"size_mm": 0.1, "low": 0, "high": 1.5}]}, "envelope.0.high"),
        ({"soils": [NATIVE, NATIVE]}, "soils.1.name"),
        ({"weights": []}, "weights"),
    ],
)  # fmt: skip
def test_what_cannot_be_blended_is_refused_by_its_field(keys, field):
    with pytest.raises(Invalid) as refused:
        asked(**keys)
    assert field in refused.value.fields
