"""Calculations: every number within bounds, few at a time, none in the way of a page."""

import asyncio
import json
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor, as_completed
from itertools import islice
from pathlib import Path
from typing import Any

import httpx
import pytest

from service.errors import Invalid, TooMany
from service.web import turns
from service.web.api import work
from service.work import ranges, registry
from service.work.answering import answer_text
from service.work.examples import EXAMPLES
from tests.cast import Cast
from tests.hostile.serving import run_apart, served


def numbers(schema: dict[str, Any], root: dict[str, Any], key: str = "") -> Iterator[str]:
    """Give the key of every number that an input may hold."""
    if "$ref" in schema:
        yield from numbers(root["$defs"][schema["$ref"].rpartition("/")[2]], root, key)
    for part in schema.get("anyOf", []):
        yield from numbers(part, root, key)
    if schema.get("type") in ("number", "integer"):
        yield key
    if "items" in schema:
        yield from numbers(schema["items"], root, key)
    if isinstance(schema.get("additionalProperties"), dict):
        yield from numbers(schema["additionalProperties"], root, key)
    for name, part in schema.get("properties", {}).items():
        yield from numbers(part, root, name)


@pytest.mark.parametrize("name", registry.names())
def test_every_number_of_a_calculation_has_its_bounds(name: str) -> None:
    schema = registry.find(name).model.model_json_schema()
    assert [key for key in numbers(schema, schema) if ranges.range_of(key) is None] == []


@pytest.mark.parametrize(
    ("name", "path", "value"),
    [
        ("strength", ("groups", 0, "readings", 0, "broke_mpa"), 1e60),
        ("strength", ("groups", 0, "readings", 0, "broke_mpa"), 1e-9),
        ("strength", ("limits", 0, "limit_mpa"), 1e9),
        ("strength", ("costs", "A"), "9" * 30),
        ("wall", ("height_m",), 1e30),
        ("batch", ("blocks",), 10**12),
        ("moisture", ("cans", 0, "wet_kg"), 1e30),
    ],
)
def test_a_number_beyond_them_is_refused_at_its_field(name: str, path: tuple[str | int, ...], value: object) -> None:
    given = json.loads(json.dumps(EXAMPLES[name]))
    at = given
    for step in path[:-1]:
        at = at[step]
    at[path[-1]] = value
    began = time.process_time()
    with pytest.raises(Invalid) as refusal:
        answer_text(name, json.dumps(given))
    assert ".".join(str(step) for step in path) in refusal.value.fields
    assert time.process_time() - began < 1


def test_a_name_of_a_material_does_not_say_what_its_number_is() -> None:
    given = {"dry_kg": {"share": 5000}, "prices_per_kg": {"share": "0.1"}}
    assert answer_text("cost", json.dumps(given))["cost_per_block"] == "500.000000"


async def _most_at_once(callers: list[str]) -> tuple[int, int, int]:
    there, most, of_one, refused = [0], [0], dict.fromkeys(callers, 0), [0]
    most_of_one = [0]

    async def one(caller: str) -> None:
        try:
            async with turns.turn("work", caller):
                there[0] += 1
                of_one[caller] += 1
                most[0], most_of_one[0] = max(most[0], there[0]), max(most_of_one[0], of_one[caller])
                await asyncio.sleep(0.005)
                there[0] -= 1
                of_one[caller] -= 1
        except TooMany:
            refused[0] += 1

    await asyncio.gather(*(one(caller) for caller in callers))
    return most[0], most_of_one[0], refused[0]


def test_few_are_worked_out_at_once_and_one_of_each_caller() -> None:
    assert run_apart(_most_at_once(["cy"] * 5 + ["tess"] * 5 + ["olu"] * 5)) == (2, 1, 0)


def test_whoever_has_many_waiting_is_told_so() -> None:
    most, _, refused = run_apart(_most_at_once(["cy"] * 45))
    assert (most, refused) == (1, 45 - turns.WAITING_OF_ONE - turns.OF_ONE_CALLER)


def test_nobody_waits_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(turns, "WAITS_S", 0.05)

    async def held() -> None:
        async with turns.turn("work", "cy"), turns.turn("work", "tess"):
            with pytest.raises(TooMany, match="Try again"):
                async with turns.turn("work", "olu"):
                    pass
        # Whoever gave up left no place taken.
        async with turns.turn("work", "olu"), turns.turn("work", "cy"):
            pass

    run_apart(held())


def test_a_page_is_answered_while_one_customer_asks_for_forty_five_calculations(
    cast_on_sqlite: Cast, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    at_work, most, let_go = [0], [0], threading.Event()

    def slow(_name: str, _body: bytes) -> dict[str, Any]:
        at_work[0] += 1
        most[0] = max(most[0], at_work[0])
        let_go.wait(60)
        at_work[0] -= 1
        return {}

    monkeypatch.setattr(work, "answer_text", slow)
    cast_on_sqlite.add_token("cy", "cy token")
    headers = {"authorization": "Bearer cy token"}
    with (
        served(cast_on_sqlite, tmp_path) as address,
        ThreadPoolExecutor(45) as pool,
        httpx.Client(base_url=address, timeout=60, limits=httpx.Limits(max_connections=None), verify=False) as client,
    ):
        asked = [pool.submit(client.post, "/api/v1/work/strength", json={}, headers=headers) for _ in range(45)]
        told = list(islice(as_completed(asked, 60), 45 - turns.WAITING_OF_ONE - turns.OF_ONE_CALLER))
        assert {one.result().status_code for one in told} == {429}
        # A page is answered while one of them is worked out, and twenty wait.
        assert client.get("/sign-in").status_code == 200
        let_go.set()
        answers = [one.result().status_code for one in asked]
    assert most[0] == 1
    assert sorted(set(answers)) == [200, 429] and answers.count(200) == turns.WAITING_OF_ONE + 1
