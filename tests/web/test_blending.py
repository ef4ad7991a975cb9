"""The blend of a job: the sand share that fits an envelope, taken into the form of a recipe."""

import re
from uuid import UUID

import pytest

from service.desk import materials
from service.desk.intake import soil
from service.desk.plan import blending
from service.errors import NotFound
from tests.cast import Cast
from tests.web.test_soil_judged import HYDROMETER, enter
from tests.web.test_soils import SIEVING, material_id

__all__ = ["material_id"]

# 100 g, not washed: 5 g reach the pan, so 5 % pass 0.075 mm.
SAND = {
    "mass_unit": "g",
    "dry_mass_g": "100",
    "dry_mass_g_unit": "g",
    "pan_g": "5",
    "pan_g_unit": "g",
    "sieves.0.size_mm": "4.75",
    "sieves.0.retained_g": "0",
    "sieves.1.size_mm": "0.075",
    "sieves.1.retained_g": "95",
}


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: no desk test asks these questions."""
    return cast_on_either


@pytest.fixture
def job_id(cast: Cast, material_id: UUID) -> UUID:
    return soil.soil(cast.tess, material_id=material_id).sacks[0].job_id


@pytest.fixture
def sand_id(cast: Cast) -> UUID:
    found = materials.add_material(cast.olu, kind="sand", name="Pit sand").id
    enter(cast, found, sieves=SAND)
    return found


def test_the_sand_share_is_proposed_with_three_curves(cast, material_id, job_id, sand_id):
    # By hand: of 50 % and 5 % finer than 0.075 mm, x 0.50 + (1 - x) 0.05 = 0.35 at x = 2/3, the most of the soil.
    enter(cast, material_id, sieves=SIEVING)
    page = cast.browser("tess").get(f"/jobs/{job_id}/plan/blend").text
    assert re.search(r"66\.7 % Red subsoil,\s+33\.3 % Pit sand", page) and "the blend is inside" in page
    drawn = page[page.index("figure-box") : page.index("</figure>")]
    assert all(name in drawn for name in ("Red subsoil", "Pit sand", "the blend"))


def test_the_share_taken_fills_the_form_of_a_recipe(cast, material_id, job_id, sand_id):
    enter(cast, material_id, sieves=SIEVING)
    tess = cast.browser("tess")
    page = tess.get(f"/jobs/{job_id}/plan/blend").text
    taken = re.search(r'class="go"\s+href="([^"]+)"', page) or re.search(r'href="([^"]+take=[^"]+)"', page)
    assert taken
    form = tess.get(taken[1].replace("&amp;", "&")).text
    shares = re.findall(r'name="components\.([0-9])\.share"\s+value="([^"]*)"', form)
    assert dict(shares)["0"] == "66.7" and dict(shares)["1"] == "33.3"
    assert re.search(rf'value="{sand_id}"\s+selected', form)


def test_the_plan_fetches_the_proposal_by_itself_and_links_to_it_without_script(cast, material_id, job_id, sand_id):
    enter(cast, material_id, sieves=SIEVING)
    tess = cast.browser("tess")
    plan = tess.get(f"/jobs/{job_id}/plan").text
    fetched = re.search(r'<section id="proposal" hx-get="([^"]+)"', plan)
    assert fetched and f'<a href="{fetched[1]}">' in plan
    alone = tess.get(fetched[1], headers={"hx-request": "true", "hx-target": "proposal"}).text
    assert alone.strip().startswith('<section id="proposal">') and "<h1>" not in alone
    assert re.search(r"66\.7 % Red subsoil,\s+33\.3 % Pit sand", alone)
    assert all(name in alone for name in ("<svg", "Red subsoil", "Pit sand", "the blend"))


@pytest.mark.parametrize("take", ["nonsense", "x:5", "' OR 1:5", f"{UUID(int=0)}:50"])
def test_a_share_that_makes_no_sense_is_left_out_of_the_form(cast, job_id, take):
    assert cast.browser("tess").get(f"/jobs/{job_id}/plan/new", params={"take": take}).status_code == 200


def test_without_two_curves_the_page_says_what_to_do(cast, job_id, material_id):
    page = cast.browser("tess").get(f"/jobs/{job_id}/plan/blend").text
    assert "Two soils or sands with a sieving are needed." in page and "Not sieved yet: Red subsoil" in page


def test_an_envelope_that_a_curve_does_not_reach_is_said(cast, material_id, job_id, sand_id):
    enter(cast, material_id, sieves=SIEVING, hydrometer=HYDROMETER)
    page = cast.browser("tess").get(f"/jobs/{job_id}/plan/blend", params={"envelope": "clay-window"}).text
    assert "This curve does not reach 0.002 mm." in page


def test_a_blend_that_cannot_reach_the_envelope_says_by_how_much(cast, material_id, job_id, sand_id):
    # By hand: sand of 5 % and sand of 5 % leave 10 % to the 15 % asked.
    other = materials.add_material(cast.olu, kind="sand", name="River sand").id
    enter(cast, other, sieves=SAND)
    sheet = blending.blend(cast.tess, job_id=job_id, chosen=[sand_id, other], envelope="fines-window")
    assert sheet.proposal is not None and sheet.proposal.worst_excess == pytest.approx(0.10)


def test_no_customer_sees_a_blend_and_no_job_no_page(cast, job_id):
    assert cast.browser("cy").get(f"/jobs/{job_id}/plan/blend").status_code == 403
    with pytest.raises(NotFound):
        blending.blend(cast.tess, job_id=UUID(int=1))


def test_the_page_costs_few_questions_however_many_sands_there_are(cast, material_id, job_id, sand_id, statements):
    enter(cast, material_id, sieves=SIEVING)
    tess, counts = cast.browser("tess"), []
    for number in range(3):
        enter(cast, materials.add_material(cast.olu, kind="sand", name=f"Sand {number}").id, sieves=SAND)
        statements.clear()
        tess.get(f"/jobs/{job_id}/plan/blend")
        counts.append(len(statements))
    assert len(set(counts)) == 1 and counts[0] <= 12
