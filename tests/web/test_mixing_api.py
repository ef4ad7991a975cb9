"""Programs plan, mix and press with the same words, refusals and rights as people do."""

from typing import Any
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

from tests.cast import Cast
from tests.mixes import Ready, a_ready_job


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


@pytest.fixture
def tess(cast: Cast) -> TestClient:
    return cast.program("tess")


def send(program: TestClient, path: str, body: dict[str, Any], key: str = "") -> Any:
    return program.post(f"/api/v1/{path}", json=body, headers={"idempotency-key": key or uuid4().hex})


def recipe(ready: Ready, **more: Any) -> dict[str, Any]:
    group = {"age_days": 7, "tolerance_hours": 6, "blocks": 2}
    return {
        "components": [{"material_id": str(ready.soil), "share": 1.0}],
        "stabilisers": [{"material_id": str(ready.cement), "share": 0.06, "basis": "dry soil"}],
        "groups": [{"condition": "as cured", **group}, {"condition": "soaked", "soak_hours": 4, **group}],
        "target_moisture": 0.10,
        "press_stress_mpa": 4.0,
        "mould_id": str(ready.mould),
        **more,
    }


def test_a_program_goes_from_the_recipe_to_the_block(ready, tess):
    planned = send(tess, f"jobs/{ready.job_id}/recipes", recipe(ready))
    assert (planned.status_code, planned.json()["label"]) == (201, "A")
    assert send(tess, f"recipes/{planned.json()['id']}/change", recipe(ready, target_moisture=0.09)).status_code == 201
    made = send(tess, f"recipes/{planned.json()['id']}/batches", {"scale_graduation_kg": 0.005, "test_charges": 0})
    batch = f"batches/{made.json()['id']}"
    sheet = tess.get(f"/api/v1/{batch}").json()
    # 4 x 2.394 x 1.05 = 10.0548 kg mix; soil 10.0548/1.06 x 1.04 = 9.865087 -> 9.865; cement 0.569140 -> 0.570; water
    # 0.904932 less 0.379426 = 0.525506 -> 0.525.
    assert [part["planned_kg"] for part in sheet["parts"]] == pytest.approx([9.865, 0.57])
    assert sheet["water_planned_kg"] == pytest.approx(0.525)
    weighed = {part["id"]: part["planned_kg"] for part in sheet["parts"]}
    assert send(tess, f"{batch}/weighings", {"weighed_kg": weighed, "water_kg": 0.525}).json()["mixed"] is True
    can = send(tess, f"{batch}/cans", {"wet_kg": 0.320, "dry_kg": 0.300, "can_kg": 0.100})
    assert can.json()["moisture"] == pytest.approx(0.10)
    assert send(tess, f"batches/cans/{can.json()['id']}/exclude", {"because": "spilt"}).status_code == 201
    trial = {"charge_kg": 2.6, "height_mm": 100, "accepted": True}
    assert send(tess, f"{batch}/test-charges", trial).status_code == 201
    body = {"position": 1, "wet_mass_kg": 2.6, "heights_mm": [100, 100, 100, 100], "dwell_s": 3}
    block = send(tess, f"{batch}/blocks", body)
    assert block.json()["label"] == "1-A1-1"
    better = {"wet_mass_kg": 2.5, "heights_mm": [100, 100, 100, 100], "because": "wrong line"}
    assert send(tess, f"blocks/{block.json()['id']}/pressing-corrections", better).status_code == 201
    assert send(tess, f"blocks/{block.json()['id']}/losses", {"because": "dropped"}).status_code == 201
    first = next(iter(weighed))
    given = {"weighed_kg": {first: 9.9}, "because": "not tared"}
    assert send(tess, f"{batch}/corrections", given).status_code == 201
    changes = tess.get(f"/api/v1/{batch}").json()["changes"]
    assert {change["became"] for change in changes} >= {"2.5 kg", "9.9 kg", "nothing"}
    steps = tess.get(f"/api/v1/jobs/{ready.job_id}/batches").json()["recipes"][0]["steps"]
    assert (steps[0]["pressed"], steps[0]["lost"]) == (1, 1)
    again = send(tess, f"jobs/{ready.job_id}/recipes/{planned.json()['id']}/replace", recipe(ready))
    assert again.json()["label"] == "B"
    assert send(tess, f"recipes/{again.json()['id']}/drop", {"because": "no time"}).status_code == 201
    states = [one["state"] for one in tess.get(f"/api/v1/jobs/{ready.job_id}/recipes").json()["recipes"]]
    assert states == ["replaced", "dropped"]


def test_a_refusal_names_the_field(ready, tess):
    body = recipe(ready, components=[{"material_id": str(ready.soil), "share": 0.9}])
    answer = send(tess, f"jobs/{ready.job_id}/recipes", body)
    assert answer.status_code == 422
    assert answer.json()["fields"] == {"components.0.share": "The shares must sum to 100 %; they sum to 90 %."}
    assert send(tess, f"jobs/{ready.job_id}/recipes", {**recipe(ready), "colour": "red"}).status_code == 422
    assert send(tess, f"jobs/{ready.job_id}/recipes", recipe(ready, target_moisture="0.1")).status_code == 422
    begun = f"recipes/{ready.plan(sand=0.25)}/batches"
    answer = send(tess, begun, {"scale_graduation_kg": 0.005})
    assert list(answer.json()["fields"]) == [f"moistures.{ready.sand}"]
    assert send(tess, begun, {"scale_graduation_kg": 0.005, "moistures": {str(ready.sand): 0.02}}).status_code == 201


def test_what_is_sent_twice_is_done_once(ready, tess):
    path, body = f"jobs/{ready.job_id}/recipes", recipe(ready)
    first, second = send(tess, path, body, key="same"), send(tess, path, body, key="same")
    assert first.json() == second.json()
    assert send(tess, path, {**body, "batches": 2}, key="same").status_code == 409
    assert len(tess.get(f"/api/v1/{path}").json()["recipes"]) == 1


def test_a_customer_plans_nothing_and_strangers_ask_for_nothing(ready, cast):
    batch = ready.mix(ready.plan())
    cy = cast.program("cy")
    for path in (f"jobs/{ready.job_id}/recipes", f"jobs/{ready.job_id}/batches", f"batches/{batch}"):
        assert cy.get(f"/api/v1/{path}").status_code == 403
        assert TestClient(cast.app, base_url="http://localhost").get(f"/api/v1/{path}").status_code == 401
    assert send(cy, f"jobs/{ready.job_id}/recipes", recipe(ready)).status_code == 403
