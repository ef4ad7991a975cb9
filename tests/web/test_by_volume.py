"""A recipe in parts by volume: through what was weighed of each material, never by a guess that does not say so."""

import re
from typing import Any
from uuid import UUID, uuid4

import pytest

from service.desk import materials
from service.desk.intake import sedimentation
from service.desk.mixing.sheets import batch
from service.desk.plan.sheet import sheet
from service.typed import Typed
from tests.cast import Browser, Cast
from tests.mixes import Ready, a_ready_job, kg
from tests.web.test_mixing import recipe_form, sentences


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


@pytest.fixture
def tess(cast: Cast) -> Browser:
    return cast.browser("tess")


def weigh_vessel(ready: Ready, material_id: UUID, kg_l: float, *, damp: bool) -> None:
    """Keep a vessel of ten litres of a material."""
    filled, volume = kg(10 * kg_l), Typed(10.0, "10", "L")
    sedimentation.record_bulk(ready.cast.tess, material_id=material_id, filled_kg=filled, volume_l=volume, damp=damp)


def weigh_all(ready: Ready) -> None:
    # The sack's cans hold 4 % of water: 1.248 kg/l damp are 1.2 kg/l dry.
    weigh_vessel(ready, ready.soil, 1.248, damp=True)
    weigh_vessel(ready, ready.sand, 1.5, damp=False)
    weigh_vessel(ready, ready.cement, 1.44, damp=False)


def form(ready: Ready, **more: str) -> dict[str, str]:
    """Return nine buckets of soil, three of sand and one of cement."""
    dropped = ("components.0.share", "components.1.share", "stabilisers.0.share", "stabilisers.0.basis")
    given = {name: value for name, value in recipe_form(ready).items() if name not in dropped}
    parts = {"components.0.parts": "9", "components.1.parts": "3", "stabilisers.0.parts": "1"}
    return {**given, "given_as": "volume", **parts, **more}


def plan(ready: Ready, tess: Browser, **more: str) -> Any:
    return tess.post(f"/jobs/{ready.job_id}/plan", form(ready, **more))


def shares(ready: Ready) -> dict[str, float]:
    (line,) = sheet(ready.cast.tess, job_id=ready.job_id).recipes
    return {part.name: part.share for part in line.parts}


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_parts_become_shares_through_the_measured_densities(ready, tess):
    # By hand: 9 x 1.248 / 1.04 = 10.8 kg and 3 x 1.5 = 4.5 kg dry, 15.3 together; cement 1.44 / 15.3 = 9.412 %.
    weigh_all(ready)
    assert plan(ready, tess).status_code == 303
    expected = {"red silt": 10.8 / 15.3, "pit sand": 4.5 / 15.3, "cement": 1.44 / 15.3}
    assert shares(ready) == pytest.approx(expected)
    shown = text_of(tess.get(f"/jobs/{ready.job_id}/plan").text)
    assert "9 parts by volume at 1250 kg/m³, measured damp, with 4 % water" in shown
    assert "3 parts by volume at 1500 kg/m³, measured dry" in shown and "1 part by volume" in shown


def test_cement_and_lime_go_in_together_and_are_weighed(ready, tess, cast):
    # By hand: 12 x 1.2 = 14.4 kg dry soil; cement 1.44 kg is 10 % of it, lime half a part of 0.576 kg/l 2 %.
    lime = materials.add_material(cast.olu, kind="lime", name="Slaked lime").id
    weigh_all(ready)
    weigh_vessel(ready, lime, 0.576, damp=False)
    both = {
        "components.0.parts": "12",
        "components.1.material_id": "",
        "stabilisers.1.material_id": str(lime),
        "stabilisers.1.parts": "0.5",
    }
    assert plan(ready, tess, **both).status_code == 303
    assert shares(ready) == pytest.approx({"red silt": 1.0, "cement": 0.1, "Slaked lime": 0.02})
    (line,) = sheet(cast.tess, job_id=ready.job_id).recipes
    batch_id = ready.begin(line.id, dry_mass_per_block_kg=kg(2.24), waste=Typed(0.0, "0", "%"), test_charges=0)
    planned = {part.material: part.planned_kg for part in batch(cast.tess, batch_id=batch_id).parts}
    # Four blocks of 2.24 kg are 8.96 kg of mix: 8 kg of dry soil, 0.8 kg of cement, 0.16 kg of lime; soil at 4 %.
    assert planned == pytest.approx({"red silt": 8.32, "cement": 0.8, "Slaked lime": 0.16})


def test_what_nobody_weighed_is_refused_at_its_parts(ready, tess):
    weigh_vessel(ready, ready.soil, 1.248, damp=True)
    weigh_vessel(ready, ready.cement, 1.44, damp=False)
    refused = plan(ready, tess)
    assert refused.status_code == 422
    assert "Weigh a full bucket of pit sand first" in sentences(refused)["components.1.parts"]
    assert 'name="components.0.parts"' in refused.text and 'value="9"' in refused.text, "the form stays in parts"
    assert sheet(ready.cast.tess, job_id=ready.job_id).recipes == []


def test_a_figure_from_elsewhere_is_taken_only_with_its_origin_and_says_so(ready, tess):
    weigh_vessel(ready, ready.soil, 1.248, damp=True)
    weigh_vessel(ready, ready.cement, 1.44, damp=False)
    taken = {"components.1.taken_kg_m3": "1.5 kg/L"}
    assert sentences(plan(ready, tess, **taken))["components.1.taken_from"].startswith("Say where")
    taken["components.1.taken_from"] = "The pit's delivery note"
    assert plan(ready, tess, **taken).status_code == 303
    assert shares(ready)["cement"] == pytest.approx(1.44 / 15.3)
    shown = text_of(tess.get(f"/jobs/{ready.job_id}/plan").text)
    assert "taken, not measured : The pit's delivery note" in shown.replace("&#39;", "'")


def test_a_litre_weighed_damp_needs_a_can(ready, tess):
    weigh_vessel(ready, ready.soil, 1.248, damp=True)
    weigh_vessel(ready, ready.sand, 1.6, damp=True)
    weigh_vessel(ready, ready.cement, 1.44, damp=False)
    assert "Weigh a moisture can of pit sand" in sentences(plan(ready, tess))["components.1.parts"]


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"components.0.parts": "0"}, "components.0.parts"),
        ({"components.0.parts": "-3"}, "components.0.parts"),
        ({"components.0.parts": ""}, "components.0.parts"),
        ({"stabilisers.0.parts": "a bag"}, "stabilisers.0.parts"),
        ({"components.1.taken_kg_m3": "9 kg/L", "components.1.taken_from": "x"}, "components.1.taken_kg_m3"),
        ({"components.0.parts": "0.1", "components.1.material_id": ""}, "stabilisers.0.parts"),
    ],
)
def test_a_slip_is_told_at_its_field_and_nothing_is_kept(ready, tess, wrong, field):
    weigh_all(ready)
    refused = plan(ready, tess, **wrong)
    assert refused.status_code == 422
    assert field in sentences(refused)
    assert sheet(ready.cast.tess, job_id=ready.job_id).recipes == []


def test_htmx_is_told_in_fields(ready, tess):
    answer = tess.post(f"/jobs/{ready.job_id}/plan", form(ready), headers={"hx-request": "true", "hx-boosted": "true"})
    assert answer.status_code == 422
    assert set(answer.json()["fields"]) == {"components.0.parts", "components.1.parts", "stabilisers.0.parts"}


def test_the_form_sent_twice_plans_one_recipe(ready, tess):
    weigh_all(ready)
    sent = form(ready, request_key=uuid4().hex)
    for _ in range(2):
        assert tess.post(f"/jobs/{ready.job_id}/plan", sent).status_code == 303
    assert len(sheet(ready.cast.tess, job_id=ready.job_id).recipes) == 1


def test_a_recipe_in_parts_is_changed_in_parts_and_may_become_one_in_shares(ready, tess):
    weigh_all(ready)
    plan(ready, tess)
    (line,) = sheet(ready.cast.tess, job_id=ready.job_id).recipes
    shown = tess.get(f"/recipes/{line.id}").text
    assert 'name="given_as" value="volume"' in shown and re.search(r'name="components.0.parts"[^>]*value="9"', shown)
    job = {"job_id": str(ready.job_id)}
    assert tess.post(f"/recipes/{line.id}", form(ready, **job, **{"components.0.parts": "12"})).status_code == 303
    assert shares(ready)["cement"] == pytest.approx(1.44 / 18.9)
    assert 'name="components.0.share"' in tess.get(f"/recipes/{line.id}?by=mass").text
    assert tess.post(f"/recipes/{line.id}", recipe_form(ready, **job)).status_code == 303
    (line,) = sheet(ready.cast.tess, job_id=ready.job_id).recipes
    assert [part.volume for part in line.parts] == [None, None, None]


def test_a_later_weighing_leaves_the_planned_shares_alone(ready, tess):
    weigh_all(ready)
    plan(ready, tess)
    before = shares(ready)
    weigh_vessel(ready, ready.cement, 1.2, damp=False)
    assert shares(ready) == before


def test_programs_plan_in_parts_with_the_same_words(ready, cast):
    program = cast.program("tess")
    group = {"condition": "as cured", "age_days": 7, "tolerance_hours": 6, "blocks": 2}
    parts = [{"material_id": str(ready.soil), "parts": 12}]
    dose = [{"material_id": str(ready.cement), "parts": 1}]
    body: dict[str, Any] = {
        "by_volume": {"components": parts, "stabilisers": dose},
        "groups": [group],
        "target_moisture": 0.1,
        "press_stress_mpa": 4,
        "mould_id": str(ready.mould),
    }

    def send(**more: Any) -> Any:
        path = f"/api/v1/jobs/{ready.job_id}/recipes"
        return program.post(path, json={**body, **more}, headers={"idempotency-key": uuid4().hex})

    assert set(send().json()["fields"]) == {"components.0.parts", "stabilisers.0.parts"}
    weigh_all(ready)
    both = send(components=[{"material_id": str(ready.soil), "share": 1.0}])
    assert (both.status_code, set(both.json()["fields"])) == (422, {"components"})
    assert send().status_code == 201
    # 12 x 1.2 = 14.4 kg of soil, 1.44 kg of cement: a tenth.
    (line,) = program.get(f"/api/v1/jobs/{ready.job_id}/recipes").json()["recipes"]
    assert line["parts"][1]["share"] == pytest.approx(0.1)
    assert line["parts"][1]["volume"]["density_kg_m3"] == pytest.approx(1440)


def test_another_shop_role_is_kept_out(ready, cast):
    assert cast.browser("cy").post(f"/jobs/{ready.job_id}/plan", form(ready)).status_code == 403
