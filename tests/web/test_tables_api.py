"""What the pages export is at an address for programs: the owner's reach all of it, a customer's their own alone."""

import csv
from io import StringIO
from typing import Any
from uuid import uuid4

from starlette.testclient import TestClient

from service.desk.results import live
from service.paper import importing, issuing
from service.paper.import_columns import guessed
from service.paper.tables_read import read_table
from tests.cast import Cast
from tests.paper.test_importing import CLEAN
from tests.trials import a_tried_job


def send(program: TestClient, path: str, body: Any = None) -> Any:
    return program.post(f"/api/v1/{path}", json=body, headers={"Idempotency-Key": uuid4().hex})


def test_the_readings_of_a_job_are_the_rows_of_its_file(cast: Cast) -> None:
    job_id = a_tried_job(cast).job_id
    data = cast.program("tess").get(f"/api/v1/jobs/{job_id}/readings").json()
    text = cast.browser("tess").get(f"/jobs/{job_id}/readings.csv").text
    table = list(csv.reader(StringIO(text.removeprefix("\ufeff"), newline="")))[1:]
    assert [["" if cell is None else str(cell) for cell in one.values()] for one in data["readings"]] == table
    assert cast.program("cy").get(f"/api/v1/jobs/{job_id}/readings").status_code == 403


def test_the_owners_program_walks_through_the_whole_shop(cast: Cast) -> None:
    for number in (1, 2):
        a_tried_job(cast, number=number)
    file_id = importing.bring(cast.olu, name="old.csv", content=CLEAN.encode())
    sheet = read_table(CLEAN.encode())
    importing.take_in(cast.olu, file_id=file_id, choices=guessed(sheet, units="imperial"))
    olu = cast.program("olu")
    first = olu.get("/api/v1/readings").json()
    assert {row["job"] for row in first["readings"]} == {1, 2} and len(first["readings"]) == 60
    last = olu.get("/api/v1/readings", params={"after": first["next"]}).json()
    assert (last["readings"], last["next"]) == ([], None)
    (file,) = olu.get("/api/v1/imports").json()
    assert (file["id"], file["readings"]) == (str(file_id), 4)
    old = olu.get(f"/api/v1/imports/{file_id}/readings").json()["readings"]
    assert [row["job"] for row in old] == ["J1 (imported)"] * 3 + ["J2 (imported)"]
    assert olu.get("/api/v1/readings?after=-1").status_code == 422
    for name in ("tess", "cy"):
        assert {cast.program(name).get(f"/api/v1/{path}").status_code for path in ("readings", "imports")} == {403}


def test_a_customers_program_has_the_readings_of_their_own_result(cast: Cast) -> None:
    job_id = a_tried_job(cast).job_id
    seen = live.live(cast.olu, job_id=job_id).sha256
    issued_id = issuing.issue(cast.olu, job_id=job_id, remark="", seen_sha256=seen)
    path = f"/api/v1/results/{issued_id}/readings"
    data = cast.program("cy").get(path).json()
    assert len(data["readings"]) == 30 and data == cast.program("olu").get(path).json()
    assert cast.program("dov").get(path).status_code == 404
    # The list of jobs has the customer's own alone.
    assert [one["number"] for one in cast.program("cy").get("/api/v1/jobs").json()["lines"]] == [1]
    assert cast.program("dov").get("/api/v1/jobs").json()["lines"] == []


def test_overview_and_compared_soils_are_for_programs_of_the_shop(cast: Cast) -> None:
    a_tried_job(cast)
    soils = f"/api/v1/customers/{cast.customers['cy']}/soils"
    tess = cast.program("tess")
    assert sum(week["pressed"] for week in tess.get("/api/v1/overview").json()["weeks"]) == 30
    assert len(tess.get(soils).json()["soils"]) == 1
    assert {cast.program("cy").get(path).status_code for path in (soils, "/api/v1/overview")} == {403}


def test_a_customers_program_asks_and_accepts_what_the_owners_offers(cast: Cast) -> None:
    cy, olu, dov, tess = (cast.program(name) for name in ("cy", "olu", "dov", "tess"))
    asked = {"site": "North pit", "question": "Good?", "question_kind": "meets code", "pit": "A shed with diesel."}
    assert send(tess, "requests", asked).status_code == 403
    assert set(send(cy, "requests", {**asked, "pit": ""}).json()["fields"]) == {"pit"}
    done = send(cy, "requests", {**asked, "wall_height_m": 2.4})
    assert done.status_code == 201, done.text
    here = f"jobs/{done.json()['id']}/offer"
    assert (cy.get(f"/api/v1/{here}").json()["said"][0]["remark"], done.json()["number"]) == ("A shed with diesel.", 1)
    assert dov.get(f"/api/v1/{here}").status_code == 404
    offered = {"price": 180.5, "expected_on": "2027-05-01"}
    assert send(tess, here, offered).status_code == 403
    assert set(send(olu, here, {**offered, "price": 1.005}).json()["fields"]) == {"price"}
    offer_id = send(olu, here, offered).json()["id"]
    assert send(dov, f"{here}/accept", {"offer_id": offer_id}).status_code == 404
    assert set(send(tess, f"{here}/accept", {"offer_id": offer_id}).json()["fields"]) == {"name"}
    assert send(cy, f"{here}/accept", {"offer_id": offer_id}).json() == {"id": offer_id}
    found = cy.get(f"/api/v1/{here}").json()["said"][0]
    assert (found["state"], found["price"], found["expected_on"]) == ("accepted", "180.5", "2027-05-01")
    assert send(cy, f"{here}/decline", {"offer_id": offer_id}).status_code == 409
    assert send(olu, f"{here}/start").status_code == 409


def test_a_declined_offer_may_be_started_without(cast: Cast) -> None:
    cy, olu = cast.program("cy"), cast.program("olu")
    asked = {"site": "North pit", "question": "Good?", "question_kind": "meets code", "pit": "Nothing."}
    here = f"jobs/{send(cy, 'requests', asked).json()['id']}/offer"
    offer_id = send(olu, here, {"price": 10, "expected_on": "2027-05-01"}).json()["id"]
    assert send(cy, f"{here}/decline", {"offer_id": offer_id}).status_code == 201
    assert send(olu, f"{here}/start").status_code == 201
    assert cy.get(f"/api/v1/{here}").json()["said"][0]["state"] == "started without"
