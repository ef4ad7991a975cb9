"""Programs take in jobs and soils with the same words, refusals and rights as people do."""

from typing import Any
from uuid import uuid4

import pytest
from starlette.testclient import TestClient

from tests.cast import Cast

JOB: dict[str, Any] = {"site": "North paddock", "question": "Good enough?", "question_kind": "meets code"}
CAN = {"wet_kg": 0.512, "dry_kg": 0.478, "can_kg": 0.051}


def send(program: TestClient, path: str, body: dict[str, Any], key: str = "") -> Any:
    return program.post(f"/api/v1/{path}", json=body, headers={"idempotency-key": key or uuid4().hex})


def a_job(cast: Cast, program: TestClient, name: str = "cy") -> dict[str, Any]:
    made = send(program, "jobs", {**JOB, "customer_id": str(cast.customers[name])})
    assert made.status_code == 201
    return dict(made.json())


def a_sack(program: TestClient, job: dict[str, Any], label: str = "J1-A") -> dict[str, Any]:
    made = send(program, "soils", {"job_id": job["id"], "new_soil": "Red subsoil", "label": label, "mass_kg": 25.4})
    assert made.status_code == 201
    return dict(made.json())


def test_a_program_carries_a_job_from_the_customer_to_what_is_known_of_the_soil(cast):
    # By hand: 0.034/0.427 = 0.0796; LL 6.5/18.7, PL 1.7/9.2; 24/600 = 0.04; 50 of 100 g pass 0.075 mm.
    tess = cast.program("tess")
    customer = send(tess, "customers", {"name": "Ada's Adobe", "language": "es"}).json()
    job = send(tess, "jobs", {**JOB, "customer_id": customer["id"], "wall_height_m": 2.4}).json()
    assert job["number"] == 1
    sack = a_sack(tess, job)
    soil = f"soils/{sack['material_id']}"
    cans = send(tess, f"sacks/{sack['id']}/cans", {"cans": [CAN], "temperature_c": 110}).json()
    assert cans["moisture"] == pytest.approx(0.034 / 0.427)
    sieves = [{"size_mm": 4.75, "retained_g": 0}, {"size_mm": 0.075, "retained_g": 50}]
    whole = {"dry_mass_g": 100, "washed_dry_mass_g": 80, "pan_g": 30}
    assert send(tess, f"{soil}/sieves", {"sieves": sieves, **whole}).json()["loss_share"] == 0
    cup = [{"blows": 25, "wet_g": 40.3, "dry_g": 33.8, "can_g": 15.1}]
    assert send(tess, f"{soil}/flow", {"flow": cup}).json()["liquid_limit"] == pytest.approx(6.5 / 18.7)
    threads = [{"wet_g": 25.1, "dry_g": 23.4, "can_g": 14.2}]
    assert send(tess, f"{soil}/threads", {"threads": threads}).json()["waters"] == pytest.approx([1.7 / 9.2])
    box = {"box_length_mm": 600, "box_width_mm": 40, "box_depth_mm": 40, "shrinkage_mm": 24}
    assert send(tess, f"{soil}/shrinkage", box).json()["shrinkage"] == pytest.approx(0.04)
    assert send(tess, f"{soil}/signs", {"kind": "salts", "positive": True, "sign": "crust"}).status_code == 201
    known = tess.get(f"/api/v1/{soil}").json()
    assert known["grading"]["described"]["fines_share"] == 0.5
    assert known["plasticity"]["limits"]["plasticity_index"] == pytest.approx(6.5 / 18.7 - 1.7 / 9.2)
    assert known["standing"]["salts"][0]["head"]["values"] == {"positive": True, "sign": "crust", "cue": "sulfates"}
    intake = tess.get(f"/api/v1/jobs/{job['id']}/intake").json()
    assert intake["asked"]["typed"]["wall_height_m"] == {"text": "2.4", "unit": "m"}
    assert intake["soils"][0]["found"] == ["crust"]
    shown = tess.get(f"/api/v1/sacks/{sack['id']}").json()
    assert shown["cans"][0]["reading"]["typed"]["wet_kg"] == {"text": "0.512", "unit": "kg"}


def test_the_same_key_opens_one_job_and_another_question_with_it_is_a_conflict(cast):
    tess = cast.program("tess")
    body = {**JOB, "customer_id": str(cast.customers["cy"])}
    first, second = (send(tess, "jobs", body, key="one-key") for _ in range(2))
    assert first.json() == second.json()
    assert send(tess, "jobs", {**body, "site": "Elsewhere"}, key="one-key").status_code == 409
    bare = tess.post("/api/v1/jobs", json=body)
    assert (bare.status_code, list(bare.json()["fields"])) == (422, ["request_key"])
    assert tess.get("/api/v1/jobs").json()["total"] == 1


def test_a_customer_reads_his_own_jobs_and_writes_none(cast):
    tess, cy = cast.program("tess"), cast.program("cy")
    mine, others = a_job(cast, tess), a_job(cast, tess, "dov")
    assert [line["id"] for line in cy.get("/api/v1/jobs").json()["lines"]] == [mine["id"]]
    assert cy.get(f"/api/v1/jobs/{mine['id']}").status_code == 200
    assert cy.get(f"/api/v1/jobs/{others['id']}").status_code == 404
    sack = a_sack(tess, others)
    for path in ("customers", f"jobs/{mine['id']}/intake", f"sacks/{sack['id']}", f"soils/{sack['material_id']}"):
        assert cy.get(f"/api/v1/{path}").status_code == 403
    for path, body in (
        ("customers", {"name": "X"}),
        ("jobs", {**JOB, "new_customer": "X"}),
        (f"jobs/{mine['id']}/close", {"because": "X"}),
        (f"sacks/{sack['id']}/cans", {"cans": [CAN]}),
    ):
        assert send(cy, path, body).status_code == 403
    nobody = TestClient(cast.app, base_url="http://localhost")
    assert nobody.get("/api/v1/jobs").status_code == 401


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"mass_kg": "25"}, "mass_kg"),
        ({"mass_kg": True}, "mass_kg"),
        ({"mass_kg": 0}, "mass_kg"),
        ({"mass_kg": -1}, "mass_kg"),
        ({"mass_kg": 1e12}, "mass_kg"),
        ({"label": " "}, "label"),
        ({"label": "a\u0000b"}, "label"),
        ({"depth_m": 4_000.0}, "depth_m"),
        ({"colour": "x" * 81}, "colour"),
        ({"received_at": "2027-03-01T10:00:00"}, "received_at"),
        ({"received_at": "2031-03-01T10:00:00Z"}, "received_at"),
        ({"new_soil": None}, "material_id"),
        ({"surprise": 1}, "surprise"),
    ],
)
def test_a_slip_of_a_program_is_told_by_its_field(cast, wrong, field):
    tess = cast.program("tess")
    job = a_job(cast, tess)
    body = {"job_id": job["id"], "new_soil": "Red subsoil", "label": "J1-A", "mass_kg": 25.4, "depth_m": None}
    answer = send(tess, "soils", {**body, **wrong})
    assert (answer.status_code, list(answer.json()["fields"])) == (422, [field])
    assert tess.get(f"/api/v1/jobs/{job['id']}/intake").json()["sacks"] == []


def test_lists_that_no_bench_fills_are_refused(cast):
    tess = cast.program("tess")
    sack = a_sack(tess, a_job(cast, tess))
    answer = send(tess, f"sacks/{sack['id']}/cans", {"cans": [CAN] * 5_000})
    assert (answer.status_code, list(answer.json()["fields"])) == (422, ["cans"])
    rows = [{"size_mm": 1.0 + row, "retained_g": 1} for row in range(5_000)]
    answer = send(tess, f"soils/{sack['material_id']}/sieves", {"sieves": rows, "dry_mass_g": 10_000})
    assert (answer.status_code, list(answer.json()["fields"])) == (422, ["sieves"])


def test_a_test_is_corrected_by_naming_the_one_it_replaces(cast):
    tess = cast.program("tess")
    soil = f"soils/{a_sack(tess, a_job(cast, tess))['material_id']}"
    first = send(tess, f"{soil}/signs", {"kind": "salts", "positive": True, "sign": "crust"}).json()
    second = {"kind": "salts", "positive": False, "sign": "crust", "replaces_id": first["id"]}
    bare = send(tess, f"{soil}/signs", second)
    assert (bare.status_code, list(bare.json()["fields"])) == (422, ["because"])
    assert send(tess, f"{soil}/signs", {**second, "because": "It was flour."}).status_code == 201
    assert send(tess, f"{soil}/signs", {**second, "because": "Again."}).status_code == 409
    known = tess.get(f"/api/v1/{soil}").json()
    assert len(known["standing"]["salts"]) == len(known["former"]) == 1


def test_a_job_is_closed_by_a_program_once(cast):
    tess = cast.program("tess")
    job = a_job(cast, tess)
    assert send(tess, f"jobs/{job['id']}/close", {"because": "The land was sold."}).status_code == 201
    assert send(tess, f"jobs/{job['id']}/close", {"because": "Again."}).status_code == 422
    assert tess.get(f"/api/v1/jobs/{job['id']}").json()["closed_because"] == "The land was sold."
    assert tess.get("/api/v1/jobs?closed=true").json()["total"] == 1
    assert send(tess, f"jobs/{job['id']}/open-again", {"because": "It was another job."}).status_code == 201
    assert send(tess, f"jobs/{job['id']}/open-again", {"because": "Again."}).status_code == 422
    assert tess.get(f"/api/v1/jobs/{job['id']}").json()["closed_at"] is None
