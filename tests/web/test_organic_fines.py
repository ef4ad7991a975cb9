"""Fines that lose a quarter of their liquid limit in the oven are organic: read at intake, named, and stop cement."""

from typing import Any
from uuid import UUID

import pytest

from service.desk.intake import soil
from tests.cast import Cast
from tests.web.test_intake import sentence
from tests.web.test_intake_api import a_job, a_sack, send
from tests.web.test_soil_judged import enter
from tests.web.test_soils import BOX, CUP, SIEVING, THREADS, fact, material_id

__all__ = ["material_id"]

# By hand: 4.5 g of water on 18.0 g dry are 25 %; CUP gives 6.5/18.7, in whole percent 35; three quarters are 26.25.
DRIED = {"mass_unit": "g", "oven_dried": "yes", "flow.0.blows": "25"}
DRIED |= {"flow.0.wet_g": "37.6", "flow.0.dry_g": "33.1", "flow.0.can_g": "15.1"}
# 5.4 g on 18.0 g are 30 %.
KEPT = DRIED | {"flow.0.wet_g": "38.5"}


def known(cast: Cast, material_id: UUID) -> Any:
    return soil.soil(cast.tess, material_id=material_id)


def test_organic_clay_is_named_where_the_limit_falls_below_three_quarters(cast, material_id):
    # ASTM D2487 section 12: 25 of 35 is 0.71, organic; LL 35, PI 17 above the A-line, half sand: sandy organic clay.
    page = enter(cast, material_id, sieves=SIEVING, flow=CUP, threads=THREADS)
    assert "CL</span> Sandy lean clay" in page and "after oven drying was not measured" in page
    page = enter(cast, material_id, flow=DRIED)
    assert "OL</span> Sandy organic clay" in page
    assert fact(page, "Liquid limit after oven drying") == "25 %"
    assert fact(page, "Liquid limit") == "35 %", "the limit itself is that of the soil as it came"


def test_a_limit_that_keeps_three_quarters_leaves_the_clay_inorganic(cast, material_id):
    # 30 of 35 is 0.86.
    page = enter(cast, material_id, sieves=SIEVING, flow=CUP, threads=THREADS)
    page = enter(cast, material_id, flow=KEPT)
    assert "CL</span> Sandy lean clay" in page and "at least 75 % of it, inorganic." in page


def test_organic_fines_are_a_sign_that_stops_cement(cast, material_id):
    page = enter(cast, material_id, sieves=SIEVING, flow=CUP, threads=THREADS, shrinkage=BOX)
    assert "Bottom of the range" in page
    page = enter(cast, material_id, flow=DRIED)
    assert "Not for blocks." in page and "Bottom of the range" not in page
    assert "liquid limit falls below three quarters in the oven" in page


def test_the_dried_limit_alone_is_no_liquid_limit(cast, material_id):
    page = enter(cast, material_id, flow=DRIED, threads=THREADS)
    assert known(cast, material_id).plasticity.limits is None
    assert fact(page, "Liquid limit after oven drying") == "25 %" and "The index needs both" in page


def test_each_of_the_two_cups_is_corrected_by_itself(cast, material_id):
    enter(cast, material_id, flow=CUP)
    page = enter(cast, material_id, flow=DRIED)
    assert page.count("a newer one counts") == 0
    dried, fresh = known(cast, material_id).standing["flow"]
    assert (dried.oven_dried, fresh.oven_dried) == (True, False)
    again = enter(cast, material_id, flow={**KEPT, "replaces_id": str(dried.id), "because": "Misread."})
    assert fact(again, "Liquid limit after oven drying") == "30 %" and "Excluded readings" in again
    assert known(cast, material_id).plasticity.oven_dried_limit == pytest.approx(0.30)


def test_a_slip_in_the_dried_cup_is_told_at_its_field(cast, material_id):
    answer = cast.browser("tess").post(f"/soils/{material_id}/flow", {**DRIED, "flow.0.blows": "9", "form": "flow"})
    assert answer.status_code == 422 and sentence(answer.text, "flow.0.blows")
    assert 'name="oven_dried" value="yes" checked' in " ".join(answer.text.split())


def test_programs_send_and_read_it_too(cast):
    tess = cast.program("tess")
    place = f"soils/{a_sack(tess, a_job(cast, tess))['material_id']}"
    cup = {"flow": [{"blows": 25, "wet_g": 37.6, "dry_g": 33.1, "can_g": 15.1}], "oven_dried": True}
    assert send(tess, f"{place}/flow", cup).json()["liquid_limit"] == pytest.approx(0.25)
    shown = tess.get(f"/api/v1/{place}").json()
    assert shown["plasticity"]["oven_dried_limit"] == pytest.approx(0.25)
    assert shown["standing"]["flow"][0]["oven_dried"] is True
    assert send(tess, f"{place}/flow", {**cup, "oven_dried": "perhaps"}).status_code == 422
