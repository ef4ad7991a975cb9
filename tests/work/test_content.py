"""`work content`: the keys of the contract, and refusals by field."""

import json

import pytest

from service.errors import Invalid
from service.work.answering import answer_text

ROWS = [
    {"share": 0.04, "condition": "soaked", "mix": "A1", "readings": [{"broke_mpa": 1.9}, {"broke_mpa": 2.2}]},
    {"share": 0.08, "condition": "soaked", "readings": [{"broke_mpa": 3.9, "graduation_mpa": 0.2}, {"held_mpa": 4.1}]},
]
LIMIT = {"name": "a", "condition": "soaked", "statistic": "mean", "limit_mpa": 2.0, "blocks": 5}


def asked(**keys):
    return answer_text("content", json.dumps({"rows": ROWS} | keys))


def test_the_keys_are_those_of_the_contract():
    found = asked(at=[0.06, 0.1], limits=[LIMIT])
    assert set(found) == {"at", "slope", "least", "why"}
    assert [set(one) for one in found["at"]] == [
        {
            "share",
            "condition",
            "kind",
            "strength_mpa",
            "low_mpa",
            "high_mpa",
            "next_low_mpa",
            "next_high_mpa",
        }
    ] * 2
    assert set(found["slope"]) == {"median", "low", "high"}
    assert set(found["least"]) == {"share", "kind", "assurance"} and found["why"] is None


def test_every_share_asked_for_is_answered_in_every_condition():
    dry = {"share": 0.04, "condition": "dry", "readings": [{"broke_mpa": 5.0}]}
    found = asked(rows=[*ROWS, dry], at=[0.05, 0.04])["at"]
    assert [(one["share"], one["condition"], one["kind"]) for one in found] == [
        (0.05, "soaked", "between"),
        (0.05, "dry", "outside"),
        (0.04, "soaked", "tested"),
        (0.04, "dry", "tested"),
    ]


def test_without_limits_no_share_is_given_and_it_says_why():
    found = asked()
    assert (found["at"], found["least"], found["why"]) == ([], None, "No limit was given.")


def test_why_is_said_with_its_numbers():
    assert asked(limits=[LIMIT | {"limit_mpa": 9.0}])["why"] == "No block reached 9 MPa, soaked."


def test_what_is_left_out_has_its_default():
    prior = {"median_mpa": 3.0, "log_sd": 1.0, "slope": 1.1, "slope_sd": 0.4}
    assert asked(at=[0.06], limits=[], assurance=0.95, prior=prior) == asked(at=[0.06])


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({"rows": []}, "rows"),
        ({"rows": ROWS[:1]}, "rows"),
        ({"rows": [row | {"readings": [{"held_mpa": 2.0}]} for row in ROWS]}, "rows"),
        ({"rows": [row | {"readings": [{"fell_apart": True}]} for row in ROWS]}, "rows"),
        ({"rows": [ROWS[0] | {"share": 0}, ROWS[1]]}, "rows.0.share"),
        ({"rows": [ROWS[0] | {"readings": []}, ROWS[1]]}, "rows.0.readings"),
        ({"rows": [ROWS[0] | {"readings": [{"broke_mpa": 2, "held_mpa": 2}]}, ROWS[1]]}, "rows.0.readings.0.broke_mpa"),
        ({"rows": [ROWS[0] | {"readings": [{"broke_mpa": 0}]}, ROWS[1]]}, "rows.0.readings.0.broke_mpa"),
        ({"rows": [ROWS[0] | {"soil": "A"}, ROWS[1]]}, "rows.0.soil"),
        ({"rows": [ROWS[0] | {"mix": ""}, ROWS[1]]}, "rows.0.mix"),
        ({"at": [0.06, 0.0199]}, "at.1"),
        ({"at": [0.161]}, "at.0"),
        ({"at": [-0.06]}, "at.0"),
        ({"at": 0.06}, "at"),
        ({"limits": [LIMIT, LIMIT]}, "limits.1.name"),
        ({"limits": [LIMIT | {"statistic": "median"}]}, "limits.0.statistic"),
        ({"assurance": 1}, "assurance"),
        ({"prior": {"slope_sd": 0}}, "prior.slope_sd"),
        ({"prior": {"tau": 1}}, "prior.tau"),
        ({"margin": 0.1}, "margin"),
    ],
)  # fmt: skip
def test_a_refusal_names_its_field(keys, field):
    with pytest.raises(Invalid) as refusal:
        asked(**keys)
    assert field in refusal.value.fields


def test_half_the_least_and_twice_the_greatest_are_still_answered():
    assert [one["kind"] for one in asked(at=[0.02, 0.16])["at"]] == ["outside", "outside"]
