"""Crushing for programs: the same use cases, in SI, each act with its key."""

from typing import Any
from uuid import UUID, uuid4

import pytest

from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast

SOAKED = {"condition": "soaked", "soak_hours": 24.0}


@pytest.fixture
def cast(cast_on_either: Cast) -> Cast:
    """Return the cast on either database: a request sent twice meets its own row."""
    return cast_on_either


@pytest.fixture
def ids(cast: Cast) -> dict[str, UUID]:
    made = pressed_job(cast, groups=({"condition": "air-dry"}, SOAKED))
    cast.clock.forward(days=7)
    return made


@pytest.fixture
def tess(cast: Cast) -> Any:
    return cast.program("tess")


def send(program: Any, path: str, body: dict[str, Any], key: str | None = None) -> Any:
    return program.post(f"/api/v1{path}", json=body, headers={"idempotency-key": key or uuid4().hex})


def opened(cast: Cast, tess: Any) -> str:
    answer = send(tess, "/press-sessions", {"gauge_id": str(press_with_line(cast)), "zero_before_mpa": 0.4})
    assert answer.status_code == 201
    return str(answer.json()["id"])


def test_a_reading_is_sent_read_back_and_corrected(cast: Cast, tess: Any, ids: dict[str, UUID]) -> None:
    spell, path = opened(cast, tess), f"/blocks/{ids['1-A1-1']}"
    reading = {"outcome": "broke", "state": "air-dry", "press_session_id": spell, "gauge_mpa": 10.4}
    sent = send(tess, f"{path}/crushings", reading)
    assert sent.status_code == 201
    (kept,) = tess.get(f"/api/v1{path}").json()["crushings"]
    # 10 MPa above the zero, 43 kN on 140 x 90 mm, by hand.
    assert kept["stress_mpa"] == pytest.approx(3.4126984)
    assert kept["as_read"]["gauge_mpa"] == {"text": "10.4", "unit": "MPa"}
    corrected = send(tess, f"/crushings/{kept['id']}/corrections", {**reading, "gauge_mpa": 12.0, "because": "misread"})
    assert corrected.status_code == 201
    new, old = tess.get(f"/api/v1{path}").json()["crushings"]
    assert (new["id"], old["ended_because"]) == (corrected.json()["id"], "misread")
    assert send(tess, f"/crushings/{new['id']}/withdrawals", {"because": "wrong block"}).status_code == 201
    assert str(ids["1-A1-1"]) in [one["id"] for one in tess.get("/api/v1/crushings/queue").json()["blocks"]]


def test_a_second_reading_of_a_block_is_a_conflict_that_says_who(cast: Cast, tess: Any, ids: dict[str, UUID]) -> None:
    spell, path = opened(cast, tess), f"/blocks/{ids['1-A1-1']}/crushings"
    reading = {"outcome": "broke", "state": "air-dry", "press_session_id": spell, "gauge_mpa": 10.4}
    key = uuid4().hex
    first, again = send(tess, path, reading, key), send(tess, path, reading, key)
    assert (first.status_code, again.status_code, first.json()) == (201, 201, again.json())
    other = send(cast.program("olu"), path, {**reading, "gauge_mpa": 12.0})
    assert other.status_code == 409
    assert "Tess recorded" in other.json()["error"]


def test_blocks_go_into_the_water_and_out(cast: Cast, tess: Any, ids: dict[str, UUID]) -> None:
    wet = {"block_ids": [str(ids["1-A1-4"])]}
    assert send(tess, "/soaks", wet).json()["blocks"] == ["1-A1-4"]
    cast.clock.forward(days=1)
    assert [one["do"] for one in tess.get("/api/v1/curing").json()["take_out"]] == ["take out"]
    assert send(tess, "/soaks/end", wet).status_code == 201
    assert tess.get(f"/api/v1/blocks/{ids['1-A1-4']}").json()["soaks"][0]["hours"] == 24.0


@pytest.mark.parametrize(
    "change",
    [
        {"gauge_mpa": "10.4"},
        {"gauge_mpa": -1.0},
        {"gauge_mpa": None},
        {"gauge_mpa": 40.5},
        {"outcome": "exploded"},
        {"unknown": 1},
        {"crushed_at": "2027-03-08T09:00:00"},
        {"spoiled_because": "\u0000"},
    ],
)
def test_bad_input_is_refused_and_nothing_is_stored(
    cast: Cast, tess: Any, ids: dict[str, UUID], change: dict[str, Any]
) -> None:
    spell, path = opened(cast, tess), f"/blocks/{ids['1-A1-1']}"
    reading = {"outcome": "broke", "state": "air-dry", "press_session_id": spell, "gauge_mpa": 10.4, **change}
    answer = send(tess, f"{path}/crushings", reading)
    assert answer.status_code == 422 and answer.json()["fields"]
    assert tess.get(f"/api/v1{path}").json()["crushings"] == []


def test_an_act_without_its_key_is_refused(tess: Any, ids: dict[str, UUID]) -> None:
    answer = tess.post("/api/v1/soaks", json={"block_ids": [str(ids["1-A1-4"])]})
    assert (answer.status_code, list(answer.json()["fields"])) == (422, ["request_key"])


def test_customers_and_strangers_are_refused(cast: Cast, ids: dict[str, UUID]) -> None:
    path = f"/api/v1/blocks/{ids['1-A1-1']}"
    assert cast.program("cy").get(path).status_code == 403
    assert cast.browser(None).get(path).status_code == 401
