"""Tests of blocks besides crushing, for programs: each act with its key, in the units of its names."""

from typing import Any
from uuid import UUID, uuid4

import pytest

from tests.bench_rows import pressed_job
from tests.cast import Cast

SENT: dict[str, dict[str, Any]] = {
    "bending": {"outcome": "broke", "state": "air-dry", "force_kn": 2.5, "span_mm": 120.0, "width_mm": 90.0,
                "thickness_mm": 100.0},
    "absorption": {"manner": "under water", "state_before": "oven-dry", "before_kg": 2.0},
    "erosion": {"manner": "spray", "outcome": "measured", "water_min": 30.0, "depth_mm": 30.0, "pressure_mpa": 0.05},
    "cycles": {"number": 0, "outcome": "weighed", "mass_kg": 4.0},
}  # fmt: skip


@pytest.fixture
def ids(cast: Cast) -> dict[str, UUID]:
    made = pressed_job(cast, groups=({"condition": "air-dry"},))
    cast.clock.forward(days=7)
    return made


@pytest.fixture
def tess(cast: Cast) -> Any:
    return cast.program("tess")


@pytest.fixture
def path(ids: dict[str, UUID]) -> str:
    return f"/api/v1/blocks/{ids['1-A1-1']}/tests"


def send(program: Any, path: str, body: dict[str, Any], key: str | None = None) -> Any:
    return program.post(path, json=body, headers={"idempotency-key": key or uuid4().hex})


@pytest.mark.parametrize("test", SENT)
def test_a_test_is_sent_read_back_corrected_and_set_aside(tess: Any, path: str, test: str) -> None:
    key = uuid4().hex
    first, again = (send(tess, f"{path}/{test}", SENT[test], key) for _ in range(2))
    assert (first.status_code, again.status_code, first.json()) == (201, 201, again.json())
    told = tess.get(path).json()
    (one,) = told["tests"]
    assert (one["id"], told["used_up"], one["outcome"]) == (first.json()["id"], test, SENT[test].get("outcome"))
    corrected = send(
        tess, f"{path}/{test}/{one['id']}/corrections", {**SENT[test], "remark": "north", "because": "why"}
    )
    assert corrected.status_code == 201
    new, old = tess.get(path).json()["tests"]
    assert (new["id"], new["remark"], old["ended_because"]) == (corrected.json()["id"], "north", "why")
    aside = send(tess, f"{path}/{test}/{new['id']}/exclude", {"because": "another block"})
    assert aside.status_code == 201
    assert tess.get(path).json()["used_up"] is None


def test_what_each_came_to_is_told(cast: Cast, tess: Any, path: str, ids: dict[str, UUID]) -> None:
    send(tess, f"{path}/bending", SENT["bending"])
    # By hand: 3 x 2500 x 120 / (2 x 90 x 100^2) = 0.5 MPa.
    assert tess.get(path).json()["tests"][0]["came_to"]["value"] == pytest.approx(0.5)
    other = path.replace(str(ids["1-A1-1"]), str(ids["1-A1-2"]))
    send(tess, f"{other}/absorption", SENT["absorption"])
    cast.clock.forward(hours=24)
    assert send(tess, f"{other}/absorption/after", {"outcome": "weighed", "after_kg": 2.24}).status_code == 201
    came_to = tess.get(other).json()["tests"][0]["came_to"]
    assert (came_to["test"], came_to["hours"]) == ("absorption", 24) and came_to["value"] == pytest.approx(0.12)
    queue = tess.get("/api/v1/curing").json()
    assert queue["testing"] == []


def test_what_goes_on_stands_in_the_queue(tess: Any, path: str) -> None:
    send(tess, f"{path}/cycles", SENT["cycles"])
    (one,) = tess.get("/api/v1/curing").json()["testing"]
    assert (one["label"], one["manner"], one["cycles"]) == ("1-A1-1", "cycles", 0)


@pytest.mark.parametrize(
    ("test", "change", "field"),
    [
        ("bending", {"force_kn": None}, "force_kn"),
        ("bending", {"span_mm": "120"}, "span_mm"),
        ("bending", {"licked": True}, "licked"),
        ("absorption", {"state_before": "soaked"}, "state_before"),
        ("erosion", {"depth_mm": -1.0}, "depth_mm"),
        ("cycles", {"number": 1}, "number"),
        ("cycles", {"mass_kg": 0.0}, "mass_kg"),
    ],
)
def test_bad_input_names_its_key(tess: Any, path: str, test: str, change: dict[str, Any], field: str) -> None:
    answer = send(tess, f"{path}/{test}", {**SENT[test], **change})
    assert (answer.status_code, set(answer.json()["fields"])) == (422, {field})
    assert tess.get(path).json()["tests"] == []
    assert tess.post(f"{path}/{test}", json=SENT[test]).status_code == 422


def test_a_customer_and_a_stranger_are_kept_out(cast: Cast, path: str) -> None:
    assert cast.program("cy").get(path).status_code == 403
    assert send(cast.program("dov"), f"{path}/bending", SENT["bending"]).status_code == 403
