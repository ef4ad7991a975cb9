"""`work shape`: the raw strength beside each table, and refusals by field."""

import json
from typing import Any

import pytest

from service.errors import Invalid
from service.work.answering import answer_text
from tests.cases import near


def asked(**keys: Any) -> dict[str, Any]:
    return answer_text("shape", json.dumps({"strength_mpa": 4.2, "height_mm": 90} | keys))


def test_a_block_gets_three_factors_each_with_its_standing() -> None:
    # handbook.json AR-ex [memory] and SFi-90-140 [second-hand]: 2.44, 1.56 and 4.2 x 0.87714 MPa.
    answer = asked(thickness_mm=140)
    assert answer["strength_mpa"] == 4.2
    assert answer["krefeld"]["strength_mpa"] == near(2.44, tolerance=0.001)
    assert answer["heathcote_jankulovski"]["strength_mpa"] == near(1.56, tolerance=0.001)
    assert answer["en_772_1"]["strength_mpa"] == near(4.2 * 0.87714, tolerance=0.0005)
    standings = {name: answer[name]["standing"] for name in ("krefeld", "heathcote_jankulovski", "en_772_1")}
    assert standings == {"krefeld": "memory", "heathcote_jankulovski": "memory", "en_772_1": "second-hand"}
    assert "astm_d1633" not in answer


def test_a_cylinder_gets_the_rule_for_cylinders_only() -> None:
    answer = asked(height_mm=142.2, diameter_mm=71.1)
    assert answer["astm_d1633"]["strength_mpa"] == near(4.62, tolerance=1e-9)
    assert "krefeld" not in answer
    assert asked(diameter_mm=60)["astm_d1633"]["strength_mpa"] is None


def test_a_block_too_thin_for_the_table_gets_no_factor_from_it() -> None:
    assert asked(height_mm=30, thickness_mm=140)["en_772_1"] == {
        "factor": None,
        "strength_mpa": None,
        "standing": "second-hand",
    }


@pytest.mark.parametrize(
    ("keys", "field"),
    [
        ({}, "diameter_mm"),
        ({}, "thickness_mm"),
        ({"thickness_mm": 140, "diameter_mm": 100}, "diameter_mm"),
        ({"thickness_mm": 0}, "thickness_mm"),
        ({"thickness_mm": 140, "strength_mpa": -1}, "strength_mpa"),
    ],
)
def test_what_cannot_be_used_is_refused_by_its_field(keys: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        asked(**keys)
    assert field in refused.value.fields
