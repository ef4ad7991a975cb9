"""The moisture trial: blocks at three moistures, the densest gives the water of the recipe."""

from uuid import UUID

import pytest

from service.desk.plan import moisture
from tests.cast import Cast
from tests.web.test_blending import job_id
from tests.web.test_intake import sentence
from tests.web.test_soils import material_id

__all__ = ["job_id", "material_id"]

SIDES = {"length_mm": "100", "width_mm": "100", "height_mm": "100"}
UNITS = {f"{side}_unit": "mm" for side in SIDES} | {"wet_mass_kg_unit": "kg"}


def tried(water: str, mass: str) -> dict[str, str]:
    return {**SIDES, **UNITS, "moisture": water, "wet_mass_kg": mass, "form": "try"}


def post(cast: Cast, job_id: UUID, *blocks: tuple[str, str]) -> str:
    tess = cast.browser("tess")
    for water, mass in blocks:
        assert tess.post(f"/jobs/{job_id}/plan/moisture", tried(water, mass)).status_code == 303
    return str(tess.get(f"/jobs/{job_id}/plan/moisture").text)


def test_the_densest_of_three_gives_the_water_of_the_recipe(cast, job_id):
    # By hand, of a litre: 1.98/1.08 = 1833, 2.20/1.10 = 2000, 2.18/1.12 = 1946 kg/m3.
    page = post(cast, job_id, ("8", "1.98"), ("10", "2.20"), ("12", "2.18"))
    assert "10 % of the dry mix gave the densest block" in page and "2000 kg/m³ dry" in page
    assert "<polyline" in page and "densest</text>" in page
    form = cast.browser("tess").get(f"/jobs/{job_id}/plan/new?moisture=10").text
    assert 'name="target_moisture"' in form and 'value="10"' in form


def test_two_moistures_ask_for_a_third(cast, job_id):
    page = post(cast, job_id, ("8", "1.98"), ("10", "2.20"))
    assert "1 more moisture to try." in page and "gave the densest" not in page


def test_a_block_set_aside_no_longer_counts_and_its_reason_stays(cast, job_id):
    post(cast, job_id, ("8", "1.98"), ("10", "2.20"), ("12", "2.18"))
    best = next(one for one in moisture.trial(cast.tess, job_id=job_id).blocks if one.moisture == 0.10)
    aside = f"/jobs/{job_id}/plan/moisture/{best.id}/exclude"
    tess = cast.browser("tess")
    assert tess.post(aside, {"because": ""}).status_code == 422
    assert tess.post(aside, {"because": "Cracked at the corner."}).status_code == 303
    assert tess.post(aside, {"because": "Again."}).status_code == 409
    page = tess.get(f"/jobs/{job_id}/plan/moisture").text
    assert "Cracked at the corner." in page and "gave the densest" not in page


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"moisture": ""}, "moisture"),
        ({"moisture": "0"}, "moisture"),
        ({"wet_mass_kg": "20"}, "wet_mass_kg"),
        ({"height_mm": "0"}, "height_mm"),
    ],
)
def test_a_slip_is_told_at_its_field(cast, job_id, wrong, field):
    answer = cast.browser("tess").post(f"/jobs/{job_id}/plan/moisture", {**tried("8", "1.98"), **wrong})
    assert answer.status_code == 422 and sentence(answer.text, field)
    assert moisture.trial(cast.tess, job_id=job_id).blocks == []


def test_a_customer_presses_nothing_here(cast, job_id):
    assert cast.browser("cy").post(f"/jobs/{job_id}/plan/moisture", tried("8", "1.98")).status_code == 403
    assert cast.browser("cy").get(f"/jobs/{job_id}/plan/moisture").status_code == 403


def test_the_page_costs_few_questions(cast, job_id, statements):
    post(cast, job_id, ("8", "1.98"), ("10", "2.20"), ("12", "2.18"))
    tess = cast.browser("tess")
    statements.clear()
    tess.get(f"/jobs/{job_id}/plan/moisture")
    assert len(statements) <= 12
