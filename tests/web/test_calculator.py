"""The Calculator: every calculation on a page of its own, for the people of the shop, and nothing of it kept."""

import html
import json
import re
import subprocess
import sys
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from starlette.datastructures import FormData

from service.desk import people
from service.desk.doorway import ShopFacts
from service.web.pages.calculator import examples, reading
from service.web.pages.calculator.sheets import SHEETS
from service.work import registry
from service.work.examples import EXAMPLES
from tests.cast import SHOP, Browser, Cast

HTMX = {"hx-request": "true", "hx-target": "answer"}
GEOMETRY = {
    "ram_diameter_mm": "76.2",
    "ram_diameter_mm_unit": "mm",
    "efficiency": "95",
    "efficiency_unit": "%",
    "face_length_mm": "140",
    "face_length_mm_unit": "mm",
    "face_width_mm": "90",
    "face_width_mm_unit": "mm",
    "gauge_mpa": "30",
    "gauge_mpa_unit": "MPa",
}
CANS = {"cans.wet_kg_unit": "g", "cans.dry_kg_unit": "g", "cans.can_kg_unit": "g"}


@pytest.fixture(scope="module")
def tess(still_cast: Cast) -> Browser:
    """Return the technician's browser."""
    return still_cast.browser("tess")


def typed(name: str, way: str = "", shop: ShopFacts = SHOP) -> dict[str, str]:
    """Return what somebody would type to give the example."""
    found = examples.example_typed(SHEETS[name].way(way), EXAMPLES[name], shop)
    assert found
    return found


def told(page: Any, key: str) -> str:
    """Return the sentence at a field."""
    found = re.search(rf'data-error-of="{re.escape(key)}">([^<]*)<', page.text)
    assert found, key
    return html.unescape(found[1])


def words(page: Any) -> str:
    """Return what a page says, without its marks."""
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page.text)).split())


class TestEveryCalculation:
    def test_that_the_command_lists_has_its_sheet(self) -> None:
        command = [str(Path(sys.executable).parent / "loambook"), "work", "--list"]
        listed = subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
        assert sorted(SHEETS) == sorted(listed)

    def test_stands_in_the_list(self, tess: Browser) -> None:
        page = tess.get("/calculator").text
        assert [name for name in registry.names() if f'href="/calculator/{name}"' not in page] == []

    @pytest.mark.parametrize("name", registry.names())
    def test_shows_picture_formula_and_sources_with_standing(self, tess: Browser, name: str) -> None:
        page = tess.get(f"/calculator/{name}")
        calculation = registry.find(name)
        assert re.search(r'<svg class="drawing"[^>]* role="img">\s*<title>[^<]{20,}</title>', page.text)
        lines = re.findall(r"<li>(.*?)</li>", page.text.partition('class="formula"')[2].partition("</ul>")[0])
        assert html.unescape("; ".join(lines)) == calculation.formula
        assert page.text.count('class="standing ') == len(calculation.source_keys)

    def test_keeps_what_stands_between_brackets_of_a_formula_in_one_line(self, tess: Browser) -> None:
        assert "<li>k = t&#39;(confidence; n - 1, z sqrt n) / sqrt n</li>" in tess.get("/calculator/tolerance").text

    @pytest.mark.parametrize("name", registry.names())
    def test_answers_its_example_in_the_form(self, tess: Browser, name: str) -> None:
        page = tess.post(f"/calculator/{name}", typed(name))
        assert page.status_code == 200
        asked, answered = re.findall(r"<pre[^>]*>(.*?)</pre>", page.text, re.DOTALL)
        same(json.loads(html.unescape(asked)), EXAMPLES[name])
        twin = tess.client.post(f"/api/v1/work/{name}", json=json.loads(html.unescape(asked)))
        assert json.loads(html.unescape(answered)) == twin.json()

    @pytest.mark.parametrize("name", registry.names())
    def test_offers_its_example_with_one_press(self, tess: Browser, name: str) -> None:
        assert "example=yes" in tess.get(f"/calculator/{name}").text
        page = tess.get(f"/calculator/{name}?example=yes").text
        shown = [text for key, text in typed(name).items() if not key.endswith("_unit") and text not in ("", "yes")]
        assert all(f'value="{html.escape(text)}"' in page for text in shown)


def same(found: Any, wanted: Any) -> None:
    """Compare two inputs; what an example leaves to its default may be said by the form."""
    if isinstance(wanted, dict):
        for key, value in wanted.items():
            same(found[key], value)
    elif isinstance(wanted, list):
        assert len(found) == len(wanted)
        for one, other in zip(found, wanted, strict=True):
            same(one, other)
    elif isinstance(wanted, str) and re.fullmatch(r"[0-9.]+", wanted):
        assert float(found) == float(wanted)
    elif isinstance(wanted, float):
        assert found == pytest.approx(wanted, rel=1e-9)
    elif isinstance(wanted, str) and "T" in wanted:
        assert datetime.fromisoformat(found) == datetime.fromisoformat(wanted)
    else:
        assert found == wanted


class TestWhoMaySeeIt:
    @pytest.mark.parametrize("name", ["olu", "tess"])
    def test_the_people_of_the_shop(self, still_cast: Cast, name: str) -> None:
        browser = still_cast.browser(name)
        assert browser.get("/calculator").status_code == 200
        assert browser.post("/calculator/wall", typed("wall")).status_code == 200
        assert 'href="/calculator"' in browser.get("/").text

    def test_no_customer(self, still_cast: Cast) -> None:
        browser = still_cast.browser("cy")
        assert browser.get("/calculator").status_code == 403
        assert browser.get("/calculator/wall").status_code == 403
        assert browser.post("/calculator/wall", typed("wall")).status_code == 403

    def test_a_stranger_is_sent_to_sign_in(self, still_cast: Cast) -> None:
        answer = still_cast.browser(None).get("/calculator/wall", follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in?then=/calculator/wall")

    def test_a_calculation_that_there_is_not_is_not_found(self, tess: Browser) -> None:
        assert tess.get("/calculator/nothing").status_code == 404
        assert tess.post("/calculator/nothing").status_code == 404


class TestNothingIsKept:
    def test_nothing_is_written_but_that_somebody_asked_and_no_key_is_needed(
        self, cast: Cast, statements: list[str]
    ) -> None:
        browser = cast.browser("tess")
        statements.clear()
        page = browser.client.post("/calculator/batch", data=typed("batch"))
        assert page.status_code == 200
        written = [sent for sent in statements if not sent.lstrip().startswith("SELECT")]
        # How often somebody lets it work is counted for a quarter of an hour.
        assert {sent.split()[2] for sent in written} == {"attempt"}
        assert len(statements) <= 12

    def test_a_second_press_gives_the_same_answer(self, tess: Browser) -> None:
        first, second = (tess.post("/calculator/batch", typed("batch"), headers=HTMX).text for _ in range(2))
        assert first == second


class TestRefusals:
    def test_without_script_the_form_comes_again_with_what_was_typed(self, tess: Browser) -> None:
        page = tess.post("/calculator/press?way=geometry", GEOMETRY | {"ram_diameter_mm": "76,2"})
        assert page.status_code == 422
        assert "no comma anywhere" in told(page, "ram_diameter_mm")
        assert 'value="76,2"' in page.text and 'value="95"' in page.text
        assert 'id="gives"' not in page.text

    def test_htmx_gets_the_sentences_alone(self, tess: Browser) -> None:
        sent = GEOMETRY | {"efficiency": "", "gauge_mpa": "thirty"}
        answer = tess.post("/calculator/press?way=geometry", sent, headers=HTMX)
        assert answer.status_code == 422
        assert set(answer.json()["fields"]) == {"efficiency", "gauge_mpa"}

    def test_what_the_calculation_refuses_is_said_with_the_words_of_the_form(self, tess: Browser) -> None:
        sent = GEOMETRY | {"stress_mpa": "4", "stress_mpa_unit": "MPa"}
        page = tess.post("/calculator/press?way=geometry", sent)
        assert page.status_code == 422
        assert told(page, "gauge_mpa") == "Leave this out when “Stress wanted” is given."

    def test_a_sentence_stands_at_the_row_that_was_typed(self, tess: Browser) -> None:
        # Row 1 is left empty; the can in row 2 is lighter wet than dry.
        rows = {"cans.0.wet_kg": "150", "cans.0.dry_kg": "140", "cans.2.wet_kg": "130", "cans.2.dry_kg": "140"}
        page = tess.post("/calculator/moisture", CANS | rows)
        assert page.status_code == 422
        assert told(page, "cans.2.wet_kg") and not told(page, "cans.1.wet_kg")

    def test_a_refusal_about_a_material_stands_in_its_row(self, tess: Browser) -> None:
        rows = {"materials.3.name": "lime", "materials.3.dry_kg": "0.4", "materials.3.prices_per_kg": ""}
        page = tess.post(
            "/calculator/cost", {"materials.dry_kg_unit": "kg", "materials.prices_per_kg_unit": "kg"} | rows
        )
        assert told(page, "materials.3.prices_per_kg") == "Fill this in."

    def test_an_empty_form_says_what_is_missing(self, tess: Browser) -> None:
        page = tess.post("/calculator/moisture", {})
        assert page.status_code == 422
        assert told(page, "cans") == "Fill in one row at the least."

    def test_what_has_no_place_in_the_form_is_said_above_it(self, tess: Browser) -> None:
        sent = typed("blend") | {"second_name": "pit soil"}
        page = tess.post("/calculator/blend", sent)
        assert page.status_code == 422
        assert told(page, "second_name") == "This name is used twice."

    @pytest.mark.parametrize("text", ["nan", "1e999", "-5", "9**9**9", "1,5", "<script>"])
    @pytest.mark.parametrize("name", ["wall", "density", "shrinkage", "age"])
    def test_nonsense_in_any_field_is_a_sentence(self, tess: Browser, name: str, text: str) -> None:
        good = typed(name)
        for key in [key for key in good if not key.endswith("_unit")]:
            page = tess.post(f"/calculator/{name}", good | {key: text})
            assert page.status_code == 422
            assert told(page, key)
            assert "<script>" not in page.text.replace('<script src="', "")


class TestFriendlyForms:
    def test_units_are_chosen_and_answers_come_in_both_systems(self, tess: Browser) -> None:
        # Hand: 120 lb/ft3 x 10 ft = 1200 lb/ft2, over 144 in2 = 8.33 psi; 10 ft over 10 in is 12.
        sent = {
            "density_kg_m3": "120",
            "density_kg_m3_unit": "lb/ft3",
            "height_m": "10",
            "height_m_unit": "ft",
            "thickness_mm": "10",
            "thickness_mm_unit": "in",
            "strength_mpa": "300 psi",
        }
        said = words(tess.post("/calculator/wall", sent))
        assert "Stress at the foot 0.0575 MPa (8.33 psi)" in said
        assert "Slenderness 12" in said

    def test_a_shop_that_thinks_in_pounds_reads_pounds(self, cast: Cast) -> None:
        people.change_shop(cast.olu, facts=replace(SHOP, units_first="imperial"), letterhead=None)
        # Hand: 2.9 kN x 250 mm x 3 / (2 x 140 mm x 90^2 mm2) = 0.958995 MPa = 139 psi.
        assert "Modulus of rupture 139 psi (0.959 MPa)" in words(
            cast.browser("tess").post("/calculator/flexure", typed("flexure"))
        )
        page = BeautifulSoup(cast.browser("tess").get("/calculator/density").text, "html.parser")
        chosen = {
            str(one["name"]): str((one.select_one("option[selected]") or one.select("option")[0])["value"])
            for one in page.select("select.unit")
        }
        assert {chosen["length_mm_unit"], chosen["heights_mm_unit"], chosen["wet_mass_kg_unit"]} == {"in", "lb"}

    def test_the_press_by_geometry(self, tess: Browser) -> None:
        # Hand: pi x 76.2^2 / 4 x 0.95 x 30 / 1000 = 129.97 kN; / 12600 mm2 = 10.3 MPa.
        said = words(tess.post("/calculator/press?way=geometry", GEOMETRY))
        assert "Stress on the face 10.3 MPa (1500 psi)" in said and "Force 130 kN" in said

    def test_the_press_stops_at_its_working_limit(self, tess: Browser) -> None:
        # Hand: 4.332349 kN for each MPa on the gauge; 30.02 lbf are 0.1335 kN, 30020 lbf 133.536 kN, at 30.82 MPa and
        # 4470.4 psi; 29000 lbf are 129.00 kN, less than the 129.97 kN at 30 MPa.
        limit = {"working_limit_kn": "30020", "working_limit_kn_unit": "lbf"}
        within = words(tess.post("/calculator/press?way=geometry", GEOMETRY | limit))
        assert "Stop at 30.8 MPa (4470 psi)" in within and "No working limit was given" not in within
        above = tess.post("/calculator/press?way=geometry", GEOMETRY | limit | {"working_limit_kn": "29000"})
        assert "above the working limit of the press" in words(above) and "Stress on the face" not in words(above)
        assert "Where to stop No working limit was given. Read the press's plate" in words(
            tess.post("/calculator/press?way=geometry", GEOMETRY)
        )

    def test_a_batch_from_soil_in_hand(self, tess: Browser) -> None:
        # Hand: 4.2 kg dry at 3 % are 4.326 kg; water 0.06 x 4.2 - 0.126 = 0.126 kg.
        sent = {
            "dry_soil_kg": "4.2",
            "dry_soil_kg_unit": "kg",
            "components.share_unit": "%",
            "components.moisture_unit": "%",
            "components.0.name": "soil",
            "components.0.share": "100",
            "components.0.moisture": "3",
            "moisture": "6",
            "moisture_unit": "%",
            "moisture_basis": "dry mix",
        }
        said = words(tess.post("/calculator/batch?way=soil", sent))
        assert "Water to add 126 g" in said and "soil 4.326" in said

    def test_a_grading_from_shares(self, tess: Browser) -> None:
        sent = {f"passing.{row}.size_mm": size for row, size in enumerate(("4.75", "0.425", "0.075"))}
        sent |= {f"passing.{row}.share": share for row, share in enumerate(("100", "60", "12"))}
        page = tess.post(
            "/calculator/grading?way=shares", sent | {"passing.size_mm_unit": "mm", "passing.share_unit": "%"}
        )
        assert "Fines 12 %" in words(page) and "Sand 88 %" in words(page)
        assert 'id="curve-title"' in page.text

    def test_a_cylinder(self, tess: Browser) -> None:
        # ASTM D1633, from memory: strength at h/d 1.15 is 1.10 times that at 2.00.
        sent = {"strength_mpa": "2.0 MPa", "height_mm": "200 mm", "diameter_mm": "100 mm"}
        said = words(tess.post("/calculator/shape?way=cylinder", sent))
        assert "2.2 MPa" in said and "from memory" in said

    def test_readings_are_written_in_one_line(self) -> None:
        form = {
            "groups.0.recipe": "A",
            "groups.0.condition": "soaked",
            "groups.0.readings": "9.9 10.2  >10.6 ≥10.4 fell",
            "groups.readings_unit": "MPa",
            "graduation_mpa": "0.2",
            "graduation_mpa_unit": "MPa",
        }
        found = reading.read_way(FormData(form), SHEETS["strength"].way(""), SHOP).given
        assert found["groups"][0]["readings"] == [
            {"broke_mpa": 9.9, "graduation_mpa": 0.2},
            {"broke_mpa": 10.2, "graduation_mpa": 0.2},
            {"held_mpa": 10.6},
            {"held_mpa": 10.4},
            {"fell_apart": True},
        ]

    def test_a_word_among_the_readings_is_named(self, tess: Browser) -> None:
        sent = typed("strength") | {"groups.1.readings": "2.0 burst 1.8"}
        assert told(tess.post("/calculator/strength", sent), "groups.1.readings").startswith("burst:")

    def test_several_numbers_in_a_line_name_the_wrong_one(self, tess: Browser) -> None:
        sent = typed("density") | {"heights_mm": "88.4 88,9"}
        assert told(tess.post("/calculator/density", sent), "heights_mm").startswith("Number 2: ")

    def test_a_moment_is_on_the_clock_of_the_shop(self, tess: Browser) -> None:
        # Seven days of 24 hours over the start of summer time in Denver (14 March 2027): an hour later on the clock.
        sent = {
            "pressed_at": "2027-03-10T15:00",
            "age_days": "7",
            "age_days_unit": "d",
            "tolerance_hours": "6",
            "tolerance_hours_unit": "h",
        }
        assert "Due 17 Mar 2027, 16:00" in words(tess.post("/calculator/age", sent))


class TestTheAnswer:
    def test_comes_alone_to_htmx(self, tess: Browser) -> None:
        block = tess.post("/calculator/wall", typed("wall"), headers=HTMX)
        assert block.text.lstrip().startswith('<section id="answer"') and "<form" not in block.text

    def test_says_from_which_numbers_it_comes(self, tess: Browser) -> None:
        said = words(tess.post("/calculator/wall", typed("wall"), headers=HTMX))
        assert "Thickness 190 mm" in said and "Load on top 5.5 kN/m" in said

    @pytest.mark.parametrize(
        ("name", "chart"),
        [
            ("grading", "curve"),
            ("hydrometer", "curve"),
            ("blend", "curve"),
            ("limits", "plasticity"),
            ("classify", "plasticity"),
            ("press", "line"),
            ("strength", "readings"),
        ],
    )
    def test_has_its_chart_with_its_words(self, tess: Browser, name: str, chart: str) -> None:
        page = tess.post(f"/calculator/{name}", typed(name), headers=HTMX).text
        # The chart of readings says all of it in its title: a paper gives a picture one text.
        assert f'id="{chart}-title"' in page and (f'id="{chart}-desc"' in page or chart == "readings")

    def test_a_group_that_all_held_is_not_given_a_strength(self, tess: Browser) -> None:
        sent = {
            "groups.0.recipe": "A",
            "groups.0.condition": "air-dry",
            "groups.0.readings": ">6 >6 >6",
            "groups.readings_unit": "MPa",
        }
        said = words(tess.post("/calculator/strength", sent))
        assert "A air-dry 3 3 0 not known" in said and "air-dry: did not break at 6 MPa, did not break at 6 MPa" in said

    def test_a_verdict_names_what_is_from_memory(self, tess: Browser) -> None:
        said = words(tess.post("/calculator/suitability", typed("suitability")))
        assert "Verdict Blend it first" in said and "from memory" in said

    def test_a_wall_is_not_given_a_safety_factor(self, tess: Browser) -> None:
        said = words(tess.post("/calculator/wall", typed("wall")))
        assert "not a safety factor" in said and "licensed engineer" in said
