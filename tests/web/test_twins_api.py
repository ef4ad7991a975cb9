"""Programs put right, set aside, try, blend and work cards with the same words and refusals as people do."""

from typing import Any
from uuid import UUID, uuid4

import pytest
from starlette.testclient import TestClient

from service.desk import materials
from service.desk.intake import sedimentation
from service.typed import Typed
from tests.cast import Cast
from tests.mixes import Ready, a_ready_job, kg
from tests.web.test_intake_api import CAN, JOB, a_job, a_sack, send

SIEVES = {
    "sieves": [{"size_mm": 4.75, "retained_g": 0}, {"size_mm": 0.075, "retained_g": 50}],
    "dry_mass_g": 100,
    "washed_dry_mass_g": 80,
    "pan_g": 30,
}


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: a request sent twice meets its own row."""
    return cast_on_either


@pytest.fixture
def tess(cast: Cast) -> TestClient:
    return cast.program("tess")


@pytest.fixture
def job(cast: Cast, tess: TestClient) -> dict[str, Any]:
    return a_job(cast, tess)


@pytest.fixture
def sack(tess: TestClient, job: dict[str, Any]) -> dict[str, Any]:
    return a_sack(tess, job)


@pytest.fixture
def ready(cast: Cast) -> Ready:
    return a_ready_job(cast)


def fields(answer: Any) -> set[str]:
    assert answer.status_code == 422, answer.text
    return set(answer.json()["fields"])


def test_a_job_is_put_right_with_a_reason_and_keeps_what_it_said(tess, job):
    put_right = {**JOB, "site": "South paddock", "wall_height_m": 2.7}
    path = f"jobs/{job['id']}/corrections"
    assert fields(send(tess, path, put_right)) == {"because"}
    assert fields(send(tess, path, {**put_right, "because": " "})) == {"because"}
    assert send(tess, path, {**put_right, "because": "The other gate."}).status_code == 201
    asked = tess.get(f"/api/v1/jobs/{job['id']}/intake").json()["asked"]
    assert asked["typed"]["wall_height_m"] == {"text": "2.7", "unit": "m"}
    assert tess.get(f"/api/v1/jobs/{job['id']}").json()["site"] == "South paddock"
    assert send(tess, f"jobs/{UUID(int=0)}/corrections", {**put_right, "because": "x"}).status_code == 404


def test_criteria_of_a_job_are_chosen(tess, job):
    path = f"jobs/{job['id']}/codes"
    chosen = send(tess, path, {"criteria": ["nmac-ceb"]}).json()
    assert (chosen["added"], chosen["removed"]) == (["nmac-ceb"], [])
    assert send(tess, path, {"criteria": []}).json()["removed"] == ["nmac-ceb"]
    assert fields(send(tess, path, {"criteria": ["a dream"]})) == {"criteria"}


def test_a_sack_is_put_right_and_prepared(tess, sack):
    path = f"sacks/{sack['id']}"
    right = {"label": "J1-A", "mass_kg": 24.9, "because": "The trolley was weighed too."}
    assert send(tess, f"{path}/corrections", right).status_code == 201
    assert fields(send(tess, f"{path}/corrections", {**right, "mass_kg": 0})) == {"mass_kg"}
    oversize = {"oversize_mm": 20.0, "oversize_kg": 1.3}
    assert fields(send(tess, f"{path}/preparation", oversize)) == {"oversize_became"}
    whole = {**oversize, "oversize_became": "thrown away"}
    assert send(tess, f"{path}/preparation", whole).status_code == 201
    assert fields(send(tess, f"{path}/preparation", whole)) == {"because"}
    assert send(tess, f"{path}/preparation", {**whole, "because": "One stone more."}).status_code == 201
    shown = tess.get(f"/api/v1/{path}").json()
    assert shown["reading"]["values"]["mass_kg"] == 24.9
    assert [one["because"] for one in shown["corrections"]] == ["The trolley was weighed too."]


def test_a_can_is_put_right_and_set_aside(tess, sack):
    first, second = send(tess, f"sacks/{sack['id']}/cans", {"cans": [CAN, CAN]}).json()["cans"]
    right = {**CAN, "dry_kg": 0.487, "method": "oven", "temperature_c": 60.0}
    assert fields(send(tess, f"sacks/cans/{first}/corrections", right)) == {"because"}
    told = send(tess, f"sacks/cans/{first}/corrections", {**right, "because": "Gypsum: dried at 60 °C."}).json()
    assert told["replaces_id"] == first
    assert fields(send(tess, f"sacks/cans/{told['id']}/corrections", {**right, "dry_kg": 0.6, "because": "x"})) != set()
    assert send(tess, f"sacks/cans/{second}/exclude", {"because": "The lid was open."}).status_code == 201
    standing = [one for one in tess.get(f"/api/v1/sacks/{sack['id']}").json()["cans"] if one["ended"] is None]
    # By hand: 0.025/0.436.
    assert [one["moisture"] for one in standing] == pytest.approx([0.025 / 0.436])
    assert standing[0]["reading"]["values"]["temperature_c"] == 60.0


@pytest.mark.parametrize(
    ("kind", "dried", "too_hot"),
    [
        ("salts", {"temperature_c": 110.0}, True),
        ("organic", {}, True),
        ("salts", {"temperature_c": 60.0}, False),
        ("black cotton", {"temperature_c": 110.0}, False),
        ("salts", {"method": "air"}, False),
    ],
)
def test_a_can_dried_hotter_than_its_soil_bears_is_remarked(cast, tess, sack, kind, dried, too_hot):
    # ASTM D2216, recalled: soil with gypsum or much organic matter is dried at 60 degrees.
    send(tess, f"sacks/{sack['id']}/cans", {"cans": [CAN], **dried})
    assert tess.get(f"/api/v1/sacks/{sack['id']}").json()["too_hot"] == []
    send(tess, f"soils/{sack['material_id']}/signs", {"kind": kind, "positive": True, "sign": "seen"})
    shown = tess.get(f"/api/v1/sacks/{sack['id']}").json()
    assert bool(shown["too_hot"]) is too_hot
    page = cast.browser("tess").get(f"/sacks/{sack['id']}").text
    assert ("Dry others at 60 °C" in page) is too_hot


def test_a_test_is_set_aside_once(tess, sack):
    place = f"soils/{sack['material_id']}"
    test = send(tess, f"{place}/sieves", SIEVES).json()["id"]
    assert fields(send(tess, f"soils/tests/{test}/exclude", {"because": ""})) == {"because"}
    key = uuid4().hex
    for _ in range(2):
        assert send(tess, f"soils/tests/{test}/exclude", {"because": "A sieve was torn."}, key=key).status_code == 201
    assert send(tess, f"soils/tests/{test}/exclude", {"because": "Again."}).status_code == 409
    assert tess.get(f"/api/v1/{place}").json()["grading"] is None


def test_the_owner_keeps_and_ends_copies_of_bands(cast, tess):
    olu = cast.program("olu")
    copy = {"key": "threshold:fines-window", "low": 0.15, "high": 0.55, "rests_on": "Forty walls of ours"}
    assert send(tess, "bands", copy).status_code == 403
    made = send(olu, "bands", copy).json()
    counting = tess.get("/api/v1/soil-limits").json()["counting"]["thresholds"]
    mine = next(one for one in counting if one["key"] == "fines-window")
    assert (mine["high"], mine["standing"], mine["source"]) == (0.55, "own", "Forty walls of ours")
    assert send(olu, f"bands/{made['id']}/end", {}).status_code == 201
    assert tess.get("/api/v1/soil-limits").json()["own"] == {}


@pytest.mark.parametrize(
    ("copy", "wrong"),
    [
        ({"key": "threshold:fines-window", "rests_on": ""}, {"rests_on"}),
        ({"key": "threshold:fines-window", "rests_on": "x", "low": 0.5, "high": 0.2}, {"high"}),
        ({"key": "threshold:fines-window", "rests_on": "x", "high": 0.2, "bounds": []}, {"bounds"}),
        ({"key": "envelope:own-", "rests_on": "x"}, {"name", "bounds"}),
        ({"key": "envelope:own-", "rests_on": "x", "name": "n", "bounds": []}, {"bounds"}),
        ({"key": "shrinkage-bands", "rests_on": "x"}, {"bands", "to_mm"}),
        ({"key": "shrinkage-bands", "rests_on": "x", "bands": [{"from_mm": 5, "parts": 18}], "to_mm": 60}, {"bands"}),
        ({"key": "sieve-loss", "rests_on": "x"}, {"high"}),
        ({"key": "a dream", "rests_on": "x", "high": 0.2}, {"key"}),
    ],
)
def test_a_copy_that_makes_no_sense_is_refused_at_its_field(cast, copy, wrong):
    assert fields(send(cast.program("olu"), "bands", copy)) == wrong


def test_an_envelope_of_the_shop_is_kept_and_a_blend_is_fitted_to_it(cast, tess, job, sack):
    # By hand: half of the soil and 5 % of the sand pass 0.075 mm; 2/3 and 1/3 of them give 35 %, the edge.
    envelope = {"key": "envelope:own-", "name": "Ours", "rests_on": "Ten good soils"}
    bounds = [{"size_mm": 0.075, "low": 0.15, "high": 0.35}]
    key = send(cast.program("olu"), "bands", {**envelope, "bounds": bounds}).json()["key"]
    assert tess.get(f"/api/v1/jobs/{job['id']}/blend").json()["proposal"] is None
    send(tess, f"soils/{sack['material_id']}/sieves", SIEVES)
    other = str(materials.add_material(cast.olu, kind="sand", name="Pit sand").id)
    sand = {"sieves": [*SIEVES["sieves"][:1], {"size_mm": 0.075, "retained_g": 95}], "dry_mass_g": 100, "pan_g": 5}
    send(tess, f"soils/{other}/sieves", sand)
    asked = {"of": [sack["material_id"], other], "envelope": key.removeprefix("envelope:")}
    found = tess.get(f"/api/v1/jobs/{job['id']}/blend", params=asked).json()
    assert found["envelope"]["name"] == "Ours"
    assert {one["material_id"]: one["share"] for one in found["proposal"]["shares"]} == pytest.approx(
        {sack["material_id"]: 2 / 3, other: 1 / 3}
    )
    assert found["proposal"]["feasible"] and len(found["chosen"]) == 2


def test_three_moistures_give_the_densest(tess, job):
    # By hand, of a litre: 1.98/1.08 = 1833, 2.20/1.10 = 2000, 2.18/1.12 = 1946 kg/m3.
    path = f"jobs/{job['id']}/moisture-trial"
    litre = {"length_mm": 100, "width_mm": 100, "height_mm": 100}
    made = [
        send(tess, path, {**litre, "moisture": water, "wet_mass_kg": mass}).json()
        for water, mass in ((0.08, 1.98), (0.10, 2.20), (0.12, 2.18))
    ]
    assert made[1]["dry_density_kg_m3"] == pytest.approx(2000)
    assert tess.get(f"/api/v1/{path}").json()["best"]["target"]["moisture"] == 0.10
    assert "wet_mass_kg" in fields(send(tess, path, {**litre, "moisture": 0.1, "wet_mass_kg": 9}))
    assert send(tess, f"moisture-trial/{made[1]['id']}/exclude", {"because": "It cracked."}).status_code == 201
    assert tess.get(f"/api/v1/{path}").json()["best"]["target"] is None


def test_the_card_of_a_bag_is_worked_out_and_nothing_is_kept(cast, ready, tess):
    # As on the page, by hand: 30 kg at 6 % is 500 kg of dry soil; 375 x 1.04 in buckets of 13 kg: 30; 100 blocks.
    recipe = ready.plan(sand=0.25)
    path = f"/api/v1/recipes/{recipe}/site"
    assert len(tess.get(path).json()["missing"]) == 2
    for material, filled in ((ready.soil, 13.0), (ready.sand, 15.0)):
        sedimentation.record_bulk(
            cast.tess, material_id=material, filled_kg=kg(filled), volume_l=Typed(10.0, "10", "L"), damp=True
        )
    card = {"bag_kg": 30, "bucket_l": 10, "blocks": 1000, "dry_mass_per_block_kg": 5.3}
    waters = {"moistures": {str(ready.soil): 0.04, str(ready.sand): 0.02}}
    found = tess.post(path, json={**card, **waters}).json()["card"]
    assert found["components"][str(ready.soil)]["buckets_quarter"] == 30
    assert (found["blocks"], found["bags"], found["water_l"]) == (100, 10, pytest.approx(35.5))
    assert fields(tess.post(path, json=card)) == {f"moistures.{ready.soil}", f"moistures.{ready.sand}"}


def test_programs_read_the_bench(cast, ready, tess):
    bench = tess.get("/api/v1/presses").json()
    assert [one["name"] for one in bench["moulds"]] and bench["presses"][0]["gauges"][0]["calibrations"] == []
