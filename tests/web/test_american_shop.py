"""A shop in pounds, inches and psi that writes 12,000: its pages as one bench of the walk met them. Figures by hand."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from uuid import UUID

import pytest
from bs4 import BeautifulSoup
from sqlmodel import Session, select

from service.desk import people
from service.desk.intake import soil as soils
from service.records.blocks import Block
from service.records.materials import Material, Price
from tests.bench_rows import pressed_job
from tests.cast import Browser, Cast
from tests.mixes import Ready, a_ready_job, mpa
from tests.trials import a_tried_job
from tests.web.test_curing_and_crushing import broke, opened
from tests.web.test_mixing import plan

pytestmark = pytest.mark.usefixtures("undrawn_papers")


@pytest.fixture
def cast(cast: Cast) -> Cast:
    wanted = replace(cast.olu.shop, units_first="imperial", comma_thousands=True)
    people.change_shop(cast.olu, facts=wanted, letterhead="Bench Row 3, 555 0100")
    return cast


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


@pytest.fixture
def tess(cast: Cast) -> Browser:
    return cast.browser("tess")


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def field(page: str, name: str) -> dict[str, str]:
    found = BeautifulSoup(page, "html.parser").find(attrs={"name": name})
    assert found is not None, name
    return {key: str(value) for key, value in found.attrs.items()}


def test_sieves_are_named_by_inches_and_numbers(cast: Cast, ready: Ready, tess: Browser) -> None:
    here = f"/soils/{ready.soil}"
    page = tess.get(here).text
    assert [field(page, f"sieves.{row}.size_mm")["value"] for row in (0, 2, 8)] == ["3/4 in", "No. 4", "No. 200"]
    assert "62.4 lb a cubic foot" in page and "a kilogram is a litre" not in page
    sieving = {"dry_mass_g": "100 g", "pan_g": "30 g", "mass_unit": "g", "form": "sieve"}
    sieving |= {"sieves.0.size_mm": "3/8 in", "sieves.0.retained_g": "0"}
    sieving |= {"sieves.1.size_mm": "No. 4", "sieves.1.retained_g": "20"}
    sieving |= {"sieves.2.size_mm": "#200", "sieves.2.retained_g": "50"}
    # 40 may be a number or an opening, so it is asked for.
    bare = tess.post(f"{here}/sieves", {**sieving, "sieves.2.size_mm": "40"})
    assert bare.status_code == 422 and "Name the sieve, such as 3/8 in or No. 40" in bare.text
    assert tess.post(f"{here}/sieves", sieving).status_code == 303
    graded = soils.soil(cast.tess, material_id=ready.soil).grading
    assert graded is not None
    assert [(one.size_mm, round(one.share, 6)) for one in graded.curve.points] == [
        (9.5, 1.0),
        (4.75, 0.8),
        (0.075, 0.3),
    ]
    told = words(tess.get(here).text)
    assert "Gravel, above No. 4 (4.75 mm)" in told and "Fines, below No. 200 (0.075 mm)" in told
    assert "3/8 in (9.5 mm)" in told


def test_a_box_of_24_inches_has_one_shrinkage_and_a_recipe(ready: Ready, tess: Browser) -> None:
    # 0.875 in of 24 in are 3.6458 %; of 600 mm 21.9 mm: the band from 15 mm on, 1 : 16.
    box = {"box_length_mm": "24 in", "box_width_mm": "1 1/2 in", "box_depth_mm": "1-1/2 in", "shrinkage_mm": "7/8 in"}
    assert tess.post(f"/soils/{ready.soil}/shrinkage", {**box, "form": "shrinkage"}).status_code == 303
    told = words(tess.get(f"/soils/{ready.soil}").text)
    assert told.count("3.65 %") == 2 and "3.6 %" not in told
    far = {**box, "box_depth_mm": "2 in"}
    assert tess.post(f"/soils/{ready.soil}/shrinkage", {**far, "form": "shrinkage"}).status_code == 303
    told = words(tess.get(f"/soils/{ready.soil}").text)
    assert "600 x 40 x 40 mm; no recipe" not in told


def test_the_plan_says_what_it_counts_and_leads_to_another_sack(ready: Ready, tess: Browser) -> None:
    ready.plan(batches=1)
    page = tess.get(f"/jobs/{ready.job_id}/plan").text
    assert "one trial fill a batch" in words(page)
    # Fifty batches' worth: what is missing leads to the page where a sack is taken in.
    for dose in (0.04, 0.05, 0.07, 0.08):
        ready.plan(dose=dose)
    page = tess.get(f"/jobs/{ready.job_id}/plan").text
    assert "is short" in page and f'href="/jobs/{ready.job_id}/intake">take it in<' in page


def test_a_scale_of_pounds_and_ounces_is_read_and_told_so(ready: Ready, tess: Browser) -> None:
    recipe = plan(ready, tess)
    form = {"scale_graduation_kg": "1/2", "scale_graduation_kg_unit": "oz", f"moistures.{ready.sand}": "2"}
    made = tess.post(f"{recipe}/mix", {**form, "test_charges": "1", "waste": "5"})
    assert made.status_code == 303, made.text[:2000]
    batch = made.headers["location"]
    page = tess.get(batch).text
    # 12.5685 kg of dry mix hold 8.8928 kg of dry soil; with 4 % of water 9.2485 kg, 326.23 oz, 326 to the half ounce.
    said = re.findall(r"\d+ lb[\d /]* oz", words(page))
    assert said[0] == "20 lb 6 oz" and "326" not in words(page)
    names = dict.fromkeys(re.findall(r'name="(weighed_kg\.[0-9a-f-]{36}|water_kg)"', page))
    given = {**dict.fromkeys(names, "2 lb 3 oz"), "weighed_unit": "oz"}
    assert tess.post(f"{batch}/weighed", given).status_code == 303
    charge = tess.get(f"{batch}/test-charge").text
    # About 2.394 kg dry with 10 % of water: 2.6334 kg, 92.89 oz, 93 to the half ounce.
    assert field(charge, "charge_kg")["value"] == "5 lb 13 oz"
    tried = {"charge_kg": "5 lb 12 1/2 oz", "height_mm": "4 in", "accepted": "yes"}
    assert tess.post(f"{batch}/test-charge", tried).status_code == 303
    block = {"position": "1", "became": "whole", "wet_mass_kg": "5 lb 11 1/2 oz", "heights_mm.0": "3 15/16 in"}
    assert tess.post(f"{batch}/press", block).status_code == 303
    told = words(tess.get(batch).text)
    assert "5 lb 12 1/2 oz" in told and "5 lb 11 1/2 oz" in told
    next_block = tess.get(f"{batch}/press").text
    chosen = BeautifulSoup(next_block, "html.parser").select_one("select[name=wet_mass_kg_unit] option[selected]")
    assert chosen is not None and chosen.text == "lb"


def test_a_copied_stress_is_offered_as_it_was_planned(ready: Ready, tess: Browser) -> None:
    # 1,363.6 psi are 9.40169 MPa: rounded to 1,364 it would be another, and above a press that ends there.
    recipe_id = ready.plan(press_stress_mpa=mpa(9.40169))
    assert field(tess.get(f"/recipes/{recipe_id}").text, "press_stress_mpa")["value"] == "1,363.6"


def test_a_mixed_recipe_is_no_longer_to_be_mixed(ready: Ready, tess: Browser) -> None:
    recipe_id = ready.plan(mix_on=date(2027, 3, 2), batches=1)
    here = f"/jobs/{ready.job_id}/mixing"
    assert "To be mixed on 2 Mar 2027." in tess.get(here).text
    ready.mix(recipe_id)
    assert "To be mixed on" not in tess.get(here).text


def test_a_job_of_which_nothing_is_due_says_how_many_are_crushed(cast: Cast) -> None:
    a_tried_job(cast)
    assert re.search(r"\d+ of \d+ crushed", words(cast.browser("olu").get("/jobs").text))


def test_a_crushed_block_says_who_reads_a_correction_and_offers_no_dead_page(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    tess = cast.browser("tess")
    path = f"/blocks/{ids['1-A1-1']}"
    assert tess.post(f"{path}/crushings", broke(opened(cast, tess))).status_code == 303
    assert "The customer reads this reason on the next result." in tess.get(path).text
    offered = set(re.findall(rf"{path}/tests/(\w+)", tess.get(f"{path}/tests").text))
    assert offered == {"absorption"}


def test_results_lead_to_the_wall_and_to_the_prices(cast: Cast) -> None:
    job_id = a_tried_job(cast).job_id
    page = cast.browser("olu").get(f"/jobs/{job_id}/results").text
    for path in (f"/jobs/{job_id}/asked", "/materials"):
        assert f'href="{path}"' in page and cast.browser("olu").get(path).status_code == 200


def test_issuing_asks_for_water_names_what_lacks_and_previews_beside_the_form(cast: Cast) -> None:
    job_id = a_tried_job(cast).job_id
    page = cast.browser("olu").get(f"/jobs/{job_id}/issue").text
    assert re.search(r"The site mixing sheet needs the bulk density of [\w ]+\.", words(page))
    assert 'name="moistures.' in page and 'formtarget="_blank"' in page


def known_to_the_site(cast: Cast, job_id: UUID) -> None:
    """Say what each material of the job weighs loose and dry, and what a bag holds."""
    with Session(cast.stores.write) as session:
        for material in session.exec(select(Material)):
            for price in session.exec(select(Price).where(Price.material_id == material.id)):
                session.delete(price)
            session.flush()
            price = Price(material_id=material.id, valid_from=date(2020, 1, 1), per_kg=Decimal("0.1"), source="bill")
            price.bag_kg, price.bulk_kg_m3 = 42.6, 1500.0
            session.add(price)
        session.commit()


def test_the_sheet_of_the_site_is_on_the_paper(cast: Cast) -> None:
    job_id = a_tried_job(cast).job_id
    known_to_the_site(cast, job_id)
    olu = cast.browser("olu")
    form = olu.get(f"/jobs/{job_id}/issue").text
    assert "The site mixing sheet lacks" not in form
    water = dict.fromkeys(set(re.findall(r'name="(moistures\.[0-9a-f-]{36})"', form)), "3")
    asked = {"remark": "Take B.", "language": "en", "bucket_l": "5", "bucket_l_unit": "gal", **water}
    paper = words(olu.get(f"/jobs/{job_id}/issue/preview", params=asked).text)
    assert "Level buckets of 5 gal" in paper and "Mass or volume" in paper
    assert "3 % water" in paper and "No full bucket of it was weighed" in paper
    with Session(cast.stores.read) as session:
        assert session.exec(select(Block)).first() is not None
