"""Plan, mixing and pressing in the browser: the ladder of each page."""

import re
from typing import Any

import pytest

from tests.cast import Browser, Cast
from tests.mixes import Ready, a_ready_job


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


@pytest.fixture
def tess(cast: Cast) -> Browser:
    return cast.browser("tess")


def recipe_form(ready: Ready, **more: str) -> dict[str, str]:
    form = {
        "components.0.material_id": str(ready.soil),
        "components.0.share": "75",
        "components.1.material_id": str(ready.sand),
        "components.1.share": "25",
        "stabilisers.0.material_id": str(ready.cement),
        "stabilisers.0.share": "6 %",
        "stabilisers.0.basis": "dry soil",
        "target_moisture": "10",
        "moisture_basis": "dry mix",
        "press_stress_mpa": "580 psi",
        "mould_id": str(ready.mould),
        "batches": "1",
        "mix_on": "2027-03-02",
    }
    for row, (condition, soak) in enumerate((("as cured", ""), ("soaked", "4"))):
        form |= {
            f"groups.{row}.condition": condition,
            f"groups.{row}.blocks": "2",
            f"groups.{row}.age_days": "7",
            f"groups.{row}.tolerance_hours": "6",
            f"groups.{row}.soak_hours": soak,
        }
    return form | more


def sentences(answer: Any) -> dict[str, str]:
    return dict(re.findall(r'data-error-of="([\w.-]+)">([^<]+)<', answer.text))


def link(page: Any, pattern: str) -> str:
    found = re.search(pattern, page.text)
    assert found, pattern
    return found[0]


def plan(ready: Ready, tess: Browser, **more: str) -> str:
    made = tess.post(f"/jobs/{ready.job_id}/plan", recipe_form(ready, **more))
    assert made.status_code == 303, made.text[:3000]
    return link(tess.get(f"/jobs/{ready.job_id}/plan"), r"/recipes/[0-9a-f-]{36}")


def begin(ready: Ready, tess: Browser, recipe: str) -> str:
    form = {"scale_graduation_kg": "5 g", f"moistures.{ready.sand}": "2", "test_charges": "1", "waste": "5"}
    made = tess.post(f"{recipe}/mix", form)
    assert made.status_code == 303, made.text[:3000]
    return str(made.headers["location"])


def weigh(tess: Browser, batch: str) -> None:
    page = tess.get(batch)
    fields = re.findall(r'name="(weighed_kg\.[0-9a-f-]{36}|water_kg)"', page.text)
    form = {name: str(1 + number) for number, name in enumerate(dict.fromkeys(fields))}
    assert tess.post(f"{batch}/weighed", {"form": "", "weighed_unit": "kg", **form}).status_code == 303


BLOCK = {"position": "1", "became": "whole", "wet_mass_kg": "2.6", "wet_mass_kg_unit": "kg"}
HEIGHTS = {f"heights_mm.{corner}": "100 mm" for corner in range(4)}


def test_a_soil_goes_from_the_plan_to_a_labelled_block_without_script(ready, tess):
    recipe = plan(ready, tess)
    shown = tess.get(f"/jobs/{ready.job_id}/plan").text
    # 6 % of the dry soil are 0.06/1.06 = 5.66 % of the dry mix, and the other basis stands beside it.
    assert "5.66" in shown and "6 % of the dry soil" in shown
    batch = begin(ready, tess, recipe)
    sheet = tess.get(batch).text
    # Four blocks and a trial, 5 x 2.394 x 1.05 = 12.5685 kg: silt 0.75 x 11.85708 x 1.04 = 9.248519 -> 9.250 kg.
    assert "9250" in sheet
    assert "Gloves and goggles" in sheet
    weigh(tess, batch)
    trial = {"charge_kg": "2.7 kg", "height_mm": "104 mm", "wet_mass_kg": "2.69 kg"}
    assert tess.post(f"{batch}/test-charge", trial).headers["location"] == f"{batch}/test-charge"
    assert "2.596" in tess.get(f"{batch}/test-charge").text
    accepted = tess.post(f"{batch}/test-charge", {"charge_kg": "2.6 kg", "height_mm": "100 mm", "accepted": "yes"})
    assert accepted.headers["location"] == f"{batch}/press"
    assert "Hands out of the mould" in tess.get(f"{batch}/press").text
    assert tess.post(f"{batch}/press", {**BLOCK, **HEIGHTS, "charge_kg": "2.6 kg"}).status_code == 303
    after = tess.get(f"{batch}/press").text
    assert "2063 kg/m³" in after
    assert "1-A1-2" in after
    labels = tess.get(f"{batch}/labels").text
    assert labels.count("<svg") - labels.count('class="mark"') >= 1
    assert "1-A1-1" in labels


@pytest.mark.parametrize("htmx", [False, True])
def test_shares_that_miss_one_are_told_at_the_field_and_what_was_typed_stays(ready, tess, htmx):
    form = recipe_form(ready, **{"components.1.share": "20"})
    headers = {"hx-request": "true"} if htmx else {}
    answer = tess.post(f"/jobs/{ready.job_id}/plan", form, headers=headers)
    assert answer.status_code == 422
    told = "The shares must sum to 100 %; they sum to 95 %."
    if htmx:
        assert answer.json()["fields"] == {"components.1.share": told}
    else:
        assert sentences(answer) == {"components.1.share": told}
        assert 'value="580 psi"' in answer.text


def test_hours_in_the_water_are_not_kept_of_blocks_that_stay_dry(ready, tess):
    changed = {"groups.1.condition": "air-dry", "groups.1.soak_hours": "4", "groups.1.soak_hours_max": "x"}
    plan(ready, tess, **changed)
    assert not re.search("(?<!not )soaked", tess.get(f"/jobs/{ready.job_id}/plan").text)


def test_a_changed_recipe_keeps_the_day_that_it_is_mixed_on(ready, tess):
    recipe = plan(ready, tess)
    day = 'name="mix_on"\n           value="2027-03-02"'
    assert day in tess.get(recipe).text
    # Another recipe filled like it has a day of its own.
    assert day not in tess.get(f"/jobs/{ready.job_id}/plan/new").text


def test_what_cannot_be_read_is_told_at_its_field(ready, tess):
    recipe = plan(ready, tess)
    bad = recipe_form(ready, target_moisture="1,5", **{"groups.0.age_days": "nan", "groups.1.blocks": "two"})
    told = sentences(tess.post(f"/jobs/{ready.job_id}/plan", bad))
    assert set(told) == {"target_moisture", "groups.0.age_days", "groups.1.blocks"}
    told = sentences(tess.post(f"{recipe}/mix", {"scale_graduation_kg": "9**9", "test_charges": "99"}))
    assert {"scale_graduation_kg", "test_charges"} <= set(told)
    batch = begin(ready, tess, recipe)
    told = sentences(tess.post(f"{batch}/weighed", {"weighed_unit": "kg", "water_kg": "-1", "wetted_at": "noon"}))
    assert set(told) == {"water_kg", "wetted_at"}
    weigh(tess, batch)
    told = sentences(tess.post(f"{batch}/press", {**BLOCK, "wet_mass_kg": "2.6 stone", "heights_mm.0": "1e999"}))
    assert set(told) == {"wet_mass_kg", "heights_mm.0"}
    told = sentences(tess.post(f"{batch}/press", {**BLOCK, **HEIGHTS, "became": "lost"}))
    assert set(told) == {"reason"}


def test_the_second_click_changes_nothing(ready, tess):
    key = {"request_key": "one-and-the-same"}
    for _ in range(2):
        assert tess.post(f"/jobs/{ready.job_id}/plan", recipe_form(ready, **key)).status_code == 303
    page = tess.get(f"/jobs/{ready.job_id}/plan")
    assert page.text.count("<h2>Recipe ") == 1
    batch = ""
    recipe = link(page, r"/recipes/[0-9a-f-]{36}")
    start = {"scale_graduation_kg": "5 g", f"moistures.{ready.sand}": "2", "test_charges": "1", "request_key": "two"}
    for _ in range(2):
        batch = tess.post(f"{recipe}/mix", start).headers["location"]
    weigh(tess, batch)
    for _ in range(2):
        assert tess.post(f"{batch}/press", {**BLOCK, **HEIGHTS, "request_key": "three"}).status_code == 303
    # The same place once more, with a key of its own, is another block: that place is taken.
    assert tess.post(f"{batch}/press", {**BLOCK, **HEIGHTS}).status_code == 409
    assert tess.get(batch).text.count("/pressing") == 1


def test_a_mixed_recipe_is_not_changed_but_replaced(ready, tess):
    recipe = plan(ready, tess)
    assert tess.post(recipe, recipe_form(ready, job_id=str(ready.job_id), batches="2")).status_code == 303
    begin(ready, tess, recipe)
    assert tess.post(recipe, recipe_form(ready, job_id=str(ready.job_id))).status_code == 409
    assert 'value="B"' in tess.get(f"{recipe}/replace").text
    assert tess.post(f"{recipe}/replace", recipe_form(ready, job_id=str(ready.job_id), label="B")).status_code == 303
    assert "Recipe B took its place." in tess.get(f"/jobs/{ready.job_id}/plan").text


def test_a_lost_block_is_counted_has_no_label_and_may_be_pressed_again(ready, tess):
    batch = begin(ready, tess, plan(ready, tess))
    weigh(tess, batch)
    lost = {"position": "1", "became": "lost", "reason": "crumbled at ejection"}
    assert tess.post(f"{batch}/press", lost).status_code == 303
    page = tess.get(batch).text
    assert "crumbled at ejection" in page
    assert f"{batch}/press?position=5" in page
    assert "In place of 1-A1-1" in tess.get(f"{batch}/press?position=5").text
    assert "1-A1-1" not in tess.get(f"{batch}/labels").text


def test_masses_and_blocks_are_corrected_with_a_reason(ready, tess):
    batch = begin(ready, tess, plan(ready, tess))
    weigh(tess, batch)
    field = link(tess.get(batch), r"weighed_kg\.[0-9a-f-]{36}")
    form = {"form": "correct", "weighed_unit": "kg", field: "1.25"}
    assert set(sentences(tess.post(f"{batch}/corrections", form))) == {"because"}
    assert tess.post(f"{batch}/corrections", {**form, "because": "not tared"}).status_code == 303
    assert "was 1 kg, now 1.25 kg" in tess.get(batch).text
    tess.post(f"{batch}/press", {**BLOCK, **HEIGHTS})
    block = link(tess.get(batch), r"/blocks/[0-9a-f-]{36}/pressing")
    assert tess.get(block).text.count('value="100"') == 4
    again = {"form": "correct", "batch_id": batch.rpartition("/")[2], **BLOCK, **HEIGHTS, "wet_mass_kg": "2.5"}
    assert tess.post(block, {**again, "because": "wrong line"}).headers["location"] == batch
    assert "was 2.6 kg, now 2.5 kg" in tess.get(batch).text
    lose = {"batch_id": batch.rpartition("/")[2], "because": "dropped"}
    assert tess.post(block.replace("pressing", "lost"), lose).status_code == 303
    assert "dropped" in tess.get(batch).text


def test_a_can_of_the_mix_is_kept_and_set_aside(ready, tess):
    batch = begin(ready, tess, plan(ready, tess))
    can = {"form": "can", "wet_kg": "320 g", "dry_kg": "300 g", "can_kg": "100 g", "method": "oven"}
    assert tess.post(f"{batch}/cans", can).status_code == 303
    aside = link(tess.get(batch), rf"{batch}/cans/[0-9a-f-]{{36}}/exclude")
    assert tess.post(aside, {"form": "aside-1", "because": "spilt"}).status_code == 303
    assert "Water by can" not in tess.get(batch).text


def test_nothing_of_it_is_for_customers_and_what_is_not_there_is_not_found(ready, tess, cast):
    recipe = plan(ready, tess)
    batch = begin(ready, tess, recipe)
    weigh(tess, batch)
    tess.post(f"{batch}/press", {**BLOCK, **HEIGHTS})
    block = link(tess.get(batch), r"/blocks/[0-9a-f-]{36}/pressing")
    cy = cast.browser("cy")
    pages = [
        f"/jobs/{ready.job_id}/plan", f"/jobs/{ready.job_id}/plan/new", f"/jobs/{ready.job_id}/mixing", recipe,
        f"{recipe}/replace", f"{recipe}/mix", batch, f"{batch}/press", f"{batch}/test-charge", f"{batch}/labels", block,
    ]  # fmt: skip
    for path in pages:
        assert cy.get(path).status_code == 403, path
        shape = r"[0-9a-f]{8}-[0-9a-f-]{27}"
        # A recipe that is all begun has no form for another batch.
        assert tess.get(path).status_code == (409 if path.endswith("/mix") else 200), path
        assert tess.get(re.sub(shape, str(ready.cement), path)).status_code == 404, path
    for path in (f"/jobs/{ready.job_id}/plan", recipe, f"{recipe}/mix", f"{batch}/weighed", f"{batch}/press"):
        assert cy.post(path).status_code == 403, path


def test_no_page_asks_more_than_twelve_times_however_many_blocks_there_are(ready, tess, statements):
    first, second = ready.plan(), ready.plan(sand=0.25)
    mixed = ready.mix(first)
    batch = f"/batches/{mixed}"
    ready.mix(second)
    counts: list[dict[str, int]] = []
    for position in (1, 4):
        for place in range(1 if position == 1 else 2, position + 1):
            block_id = ready.press(mixed, place)
        pages = [
            f"/jobs/{ready.job_id}/plan", f"/jobs/{ready.job_id}/plan/new", f"/jobs/{ready.job_id}/mixing",
            f"/recipes/{first}", f"/recipes/{first}/replace", f"/recipes/{first}/mix", batch, f"{batch}/press",
            f"{batch}/test-charge", f"{batch}/labels", f"/blocks/{block_id}/pressing",
        ]  # fmt: skip
        asked = {}
        for path in pages:
            statements.clear()
            assert tess.get(path).status_code == 200, path
            asked[re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}", "*", path)] = len(statements)
        counts.append(asked)
    assert counts[0] == counts[1]
    assert max(counts[1].values()) <= 12, counts[1]
    # After the last one the page says where the work goes on.
    ready.press(mixed, 5)
    statements.clear()
    assert "Press batch 1 of recipe B" in tess.get(f"{batch}/press").text
    assert len(statements) <= 12
