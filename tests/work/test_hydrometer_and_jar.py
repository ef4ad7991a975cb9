"""`work hydrometer` and `work jar`: keys, one published answer, refusals by field."""

import json
from typing import Any

import pytest

from service.errors import Invalid
from service.work.answering import answer_text
from tests.cases import near

READINGS = [
    {"minutes": 2, "reading": 31.7, "temperature_c": 23},
    {"minutes": 180, "reading": 16.7, "temperature_c": 23},
    {"minutes": 1440, "reading": 13.0, "temperature_c": 23},
]
GIVEN = {
    "readings": READINGS,
    "blanks": [{"reading": 0, "temperature_c": 23}],
    "dry_mass_g": 50,
    "specific_gravity": 2.65,
}
SIEVES = [{"size_mm": 2.0, "share": 0.8}, {"size_mm": 0.075, "share": 0.6}]


def hydrometer(**keys: Any) -> dict[str, Any]:
    return answer_text("hydrometer", json.dumps(GIVEN | keys))


def test_readings_alone_give_points_and_say_whose_depths_were_used() -> None:
    # The clay loam of tests/trade/test_hydrometer.py: 0.634 finer than 0.03102 mm [second-hand].
    answer = hydrometer()
    assert answer["points"][0]["share"] == near(0.634, tolerance=1e-9)
    assert answer["points"][0]["size_mm"] == pytest.approx(0.03102, rel=0.003)
    assert "usual 152H" in answer["remark"]
    # 0.002 mm lies between the last two readings.
    assert 0.26 < answer["clay_share"] < 0.334


def test_with_the_sieves_shares_are_of_the_whole_soil() -> None:
    answer = hydrometer(passing=SIEVES, separation_mm=2.0)
    assert [point["share"] for point in answer["passing"]][:3] == [0.8, 0.6, near(0.634 * 0.8, tolerance=1e-9)]
    assert (answer["capped"], answer["left_out"]) == (False, 0)


def test_a_measured_hydrometer_needs_no_remark() -> None:
    own = {"depth_at_0_mm": 105, "depth_at_50_mm": 23, "bulb_length_mm": 140, "bulb_volume_ml": 67,
           "cylinder_area_cm2": 27.8}  # fmt: skip
    answer = hydrometer(hydrometer=own)
    assert answer["remark"] is None
    assert answer["points"] == hydrometer()["points"]


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({"passing": SIEVES}, "separation_mm"),
        ({"separation_mm": 2.0}, "passing"),
        ({"specific_gravity": 1}, "specific_gravity"),
        ({"blanks": [{"reading": 0}]}, "blanks.0.temperature_c"),
        ({"readings": [READINGS[0] | {"reading": "31"}]}, "readings.0.reading"),
    ],
)
def test_what_the_hydrometer_cannot_use_is_refused_by_its_field(keys: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        hydrometer(**keys)
    assert field in refused.value.fields


def test_a_jar_says_that_it_is_rough() -> None:
    answer = answer_text("jar", json.dumps({"sand_mm": 65, "silt_mm": 15, "clay_mm": 20}))
    assert answer["rough"] is True and answer["remark"].startswith("Rough")
    assert (answer["gravel_share"], answer["clay_share"]) == (0.0, 0.2)
