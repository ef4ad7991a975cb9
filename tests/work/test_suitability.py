"""`work suitability`: keys, what a curve says of itself, refusals by field."""

import json
from typing import Any

import pytest

from service.errors import Invalid
from service.work.answering import answer_text
from tests.cases import near

BOX = {"length_mm": 600, "width_mm": 40, "depth_mm": 40, "shrinkage_mm": 24}
CURVE = [{"size_mm": 4.75, "share": 0.9}, {"size_mm": 0.075, "share": 0.30}, {"size_mm": 0.002, "share": 0.12}]


def asked(**keys: Any) -> dict[str, Any]:
    return answer_text("suitability", json.dumps(keys))


def test_an_answer_has_verdict_reasons_recipes_and_envelopes() -> None:
    answer = asked(box=BOX, passing=CURVE, plasticity_index=0.08, bulk_density_kg_l={"cement": 1.44, "soil": 1.2})
    assert set(answer) == {"verdict", "reasons", "not_measured", "recipes", "remarks", "envelopes"}
    # Shrinkage 4 %, clay 12 %, silt 18 %, fines 30 %: inside every window that was read.
    assert (answer["verdict"], answer["not_measured"]) == ("use as it is", [])
    # 24 mm is in the band 15 to 30: 1 : 16, and 1.44 / 19.2 = 0.075.
    assert answer["recipes"][0]["share"] == near(0.075, tolerance=1e-12)
    assert {recipe["basis"] for recipe in answer["recipes"]} == {"dry soil"}
    assert [one["worst_excess"] for one in answer["envelopes"][:2]] == [0.0, 0.0]
    silt = [reason["value"] for reason in answer["reasons"] if reason["about"] == "silt_share"]
    assert silt == [near(0.18, tolerance=1e-12)] * 2


def test_a_curve_without_clay_leaves_clay_unmeasured() -> None:
    answer = asked(passing=CURVE[:2])
    assert answer["not_measured"] == ["shrinkage", "clay_share", "silt_share"]


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({}, "box"),
        ({"passing": CURVE, "clay_share": 0.2}, "clay_share"),
        ({"clay_share": 1.1}, "clay_share"),
        ({"box": BOX | {"shrinkage_mm": 600}}, "box.shrinkage_mm"),
        ({"box": BOX, "signs": ["luck"]}, "signs.0"),
        ({"box": BOX, "bulk_density_kg_l": {"cement": 1.4}}, "bulk_density_kg_l.soil"),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_field(keys: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        asked(**keys)
    assert field in refused.value.fields
