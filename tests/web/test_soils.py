"""The page of a soil: each test is entered, corrected as a whole and shown as it was read."""

import re
from typing import Any
from uuid import UUID

import pytest
from bs4 import BeautifulSoup

from service.desk.intake import jobs, sacks, soil
from service.typed import Typed
from tests.cast import Cast
from tests.web.test_intake import sentence

UNIT = {"mass_unit": "g"}
SIEVING = {
    **UNIT,
    "dry_mass_g": "100",
    "dry_mass_g_unit": "g",
    "washed_dry_mass_g": "80",
    "washed_dry_mass_g_unit": "g",
    "pan_g": "30",
    "pan_g_unit": "g",
    "sieves.0.size_mm": "4.75",
    "sieves.0.retained_g": "0",
    "sieves.1.size_mm": "2",
    "sieves.4.size_mm": "0.075",
    "sieves.4.retained_g": "50",
}
CUP = {**UNIT, "flow.1.blows": "25", "flow.1.wet_g": "40.3", "flow.1.dry_g": "33.8", "flow.1.can_g": "15.1"}
THREADS = {**UNIT, "threads.0.wet_g": "25.1", "threads.0.dry_g": "23.4", "threads.0.can_g": "14.2"}
BOX = {f"box_{side}_mm": size for side, size in (("length", "600"), ("width", "40"), ("depth", "40"))}
BOX |= {f"{name}_unit": "mm" for name in (*BOX, "shrinkage_mm")} | {"shrinkage_mm": "24"}
SIGN = {"kind": "salts", "sign": "white crust", "positive": "yes"}


@pytest.fixture
def material_id(cast: Cast) -> UUID:
    """Return a soil of Cy's that came in one sack."""
    asked = jobs.Question("Paddock", "Good enough?", "meets code")
    job_id = jobs.open_job(cast.tess, asked=asked, customer_id=cast.customers["cy"]).id
    sack = sacks.Sack("J1-A", Typed(20.0, "20", "kg"))
    return UUID(str(sacks.take_in(cast.tess, job_id=job_id, sack=sack, new_soil="Red subsoil").details["material"]))


def fact(page: str, word: str) -> str:
    found = re.search(rf"<dt>{re.escape(word)}</dt>\s*<dd>\s*([^<]*)", page)
    assert found, f"{word} is not on the page"
    return found.group(1).strip()


def test_an_untested_soil_says_what_to_do_first(cast, material_id):
    page = cast.browser("tess").get(f"/soils/{material_id}").text
    assert "Next: sieve it" in page and "No box yet." in page
    # Folded forms bring their own button; in sight there is one.
    assert [one for one in BeautifulSoup(page, "html.parser").select(".go") if not one.find_parent("details")][1:] == []


def test_a_sieving_gives_the_curve_and_what_is_read_off_it(cast, material_id):
    # By hand: 20 g washed out, 50 g kept, 30 g in the pan: 50 of 100 g pass 0.075 mm; nothing was lost.
    tess = cast.browser("tess")
    assert tess.post(f"/soils/{material_id}/sieves", SIEVING).status_code == 303
    page = tess.get(f"/soils/{material_id}").text
    assert fact(page, "Fines, below 0.075 mm") == "50 %"
    assert fact(page, "Sand") == "50 %" and fact(page, "Gravel, above 4.75 mm") == "0 %"
    assert fact(page, "Lost on the way") == "0 %"
    assert "<svg" in page and "Next: the cup" in page


def test_limits_and_shrinkage_and_signs_are_shown(cast, material_id):
    # By hand: 6.5/18.7 = 34.76 %, 1.7/9.2 = 18.48 %: 35, 18 and 17; A-line 0.73 x 14.76 = 10.8; 24/600 = 4 %.
    tess = cast.browser("tess")
    for place, form in (("flow", CUP), ("threads", THREADS), ("shrinkage", BOX), ("signs", SIGN)):
        assert tess.post(f"/soils/{material_id}/{place}", form).status_code == 303
    page = tess.get(f"/soils/{material_id}").text
    assert (fact(page, "Liquid limit"), fact(page, "Plastic limit")) == ("35 %", "18 %")
    assert (fact(page, "Plasticity index"), fact(page, "A-line here")) == ("17 %", "11 %")
    assert fact(page, "Linear shrinkage") == "4 %"
    assert "Found: white crust." in page and "stops a cement recommendation" in page


@pytest.mark.parametrize(
    ("place", "form", "wrong", "field"),
    [
        ("sieves", SIEVING, {"dry_mass_g": ""}, "dry_mass_g"),
        ("sieves", SIEVING, {"washed_dry_mass_g": "120"}, "washed_dry_mass_g"),
        ("sieves", SIEVING, {"washed_dry_mass_g": "0"}, "washed_dry_mass_g"),
        ("sieves", SIEVING, {"sieves.4.size_mm": "4.75"}, "sieves.4.size_mm"),
        ("sieves", SIEVING, {"sieves.4.size_mm": "0"}, "sieves.4.size_mm"),
        ("sieves", SIEVING, {"sieves.4.retained_g": "-1"}, "sieves.4.retained_g"),
        ("sieves", SIEVING, {"sieves.4.size_mm": ""}, "sieves.4.size_mm"),
        ("flow", CUP, {"flow.1.blows": "9.5"}, "flow.1.blows"),
        ("flow", CUP, {"flow.1.blows": "31"}, "flow.1.blows"),
        ("flow", CUP, {"flow.1.wet_g": "30"}, "flow.1.wet_g"),
        ("flow", CUP, {"flow.1.dry_g": "15.1"}, "flow.1.dry_g"),
        ("flow", CUP, {"flow.1.dry_g": ""}, "flow.1.dry_g"),
        ("flow", UNIT, {}, "flow"),
        ("threads", THREADS, {"threads.0.dry_g": "25.2"}, "threads.0.wet_g"),
        ("threads", THREADS, {"non_plastic": "yes"}, "non_plastic"),
        ("threads", UNIT, {}, "threads"),
        ("shrinkage", BOX, {"shrinkage_mm": "600"}, "shrinkage_mm"),
        ("shrinkage", BOX, {"box_width_mm": "0"}, "box_width_mm"),
        ("signs", SIGN, {"sign": ""}, "sign"),
        ("signs", SIGN, {"positive": "perhaps"}, "positive"),
    ],
)
def test_a_slip_in_a_test_is_told_at_its_field_and_nothing_is_kept(cast, material_id, place, form, wrong, field):
    names = {"sieves": "sieve", "flow": "flow", "threads": "thread", "shrinkage": "shrinkage", "signs": "organic"}
    answer = cast.browser("tess").post(f"/soils/{material_id}/{place}", {**form, **wrong, "form": names[place]})
    assert answer.status_code == 422
    assert sentence(answer.text, field)
    assert soil.soil(cast.tess, material_id=material_id).standing == {}


def test_a_test_is_corrected_as_a_whole_and_the_old_one_is_shown_with_its_reason(cast, material_id):
    tess = cast.browser("tess")
    tess.post(f"/soils/{material_id}/flow", CUP)
    (test,) = soil.soil(cast.tess, material_id=material_id).standing["flow"]
    right: dict[str, Any] = {**CUP, "flow.1.wet_g": "41.3 g", "replaces_id": str(test.id)}
    refused = tess.post(f"/soils/{material_id}/flow", {**right, "form": f"test-{test.id}"})
    assert refused.status_code == 422 and sentence(refused.text, "because") == "Fill this in."
    assert 'value="41.3 g"' in refused.text
    assert tess.post(f"/soils/{material_id}/flow", {**right, "because": "Smudged figure."}).status_code == 303
    page = tess.get(f"/soils/{material_id}").text
    # By hand: 7.5/18.7 = 40.1 %.
    assert fact(page, "Liquid limit") == "40 %"
    assert "Excluded readings" in page and "Smudged figure." in page and "40.3 g" in page
    again = tess.post(f"/soils/{material_id}/flow", {**right, "because": "Once more."})
    assert again.status_code == 409


def test_a_test_is_set_aside_with_a_reason(cast, material_id):
    tess = cast.browser("tess")
    tess.post(f"/soils/{material_id}/signs", SIGN)
    (test,) = soil.soil(cast.tess, material_id=material_id).standing["salts"]
    assert tess.post(f"/soils/{material_id}/tests/{test.id}/end", {"because": ""}).status_code == 422
    assert tess.post(f"/soils/{material_id}/tests/{test.id}/end", {"because": "It was flour."}).status_code == 303
    page = tess.get(f"/soils/{material_id}").text
    assert "stops a cement recommendation" not in page and "It was flour." in page


def test_a_form_of_five_thousand_sieves_is_refused_with_a_sentence(cast, material_id):
    tess = cast.browser("tess")
    for rows, said in ((100, "At most 40 rows"), (5_000, "more than this form takes")):
        many = {f"sieves.{row}.{name}": str(row + 1) for row in range(rows) for name in ("size_mm", "retained_g")}
        answer = tess.post(f"/soils/{material_id}/sieves", {**SIEVING, **many, "form": "sieve"})
        assert answer.status_code in (413, 422)
        assert said in answer.text
    assert soil.soil(cast.tess, material_id=material_id).standing == {}


def test_a_customer_is_kept_from_the_page_and_from_its_forms(cast, material_id):
    for name in ("cy", "dov"):
        assert cast.browser(name).get(f"/soils/{material_id}").status_code == 403
        assert cast.browser(name).post(f"/soils/{material_id}/signs", SIGN).status_code == 403
    assert soil.soil(cast.tess, material_id=material_id).standing == {}


def test_the_page_asks_the_database_few_questions_however_many_tests_there_are(cast, material_id, statements):
    tess = cast.browser("tess")
    counts = []
    for _ in range(3):
        for place, form in (("sieves", SIEVING), ("flow", CUP), ("threads", THREADS), ("signs", SIGN)):
            tess.post(f"/soils/{material_id}/{place}", form)
        statements.clear()
        assert tess.get(f"/soils/{material_id}").status_code == 200
        counts.append(len(statements))
    assert len(set(counts)) == 1 and counts[0] <= 12
