"""The same block at the press recorded by several at once, over HTTP on both databases."""

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier
from typing import Any
from uuid import UUID, uuid4

import httpx
import pytest
from sqlmodel import Session, select

from service.desk import backups, people
from service.desk.crushing import press
from service.desk.doorway import Role
from service.records.crushings import Crushing
from service.typed import Typed
from service.web.authentication import sha256
from tests.bench_rows import press_with_line, pressed_job
from tests.browser.serving import serving
from tests.cast import Cast
from tests.faults.conftest import Faults, database_of, times
from tests.faults.writers import Count

ROUNDS = times(3, 100)


@pytest.fixture
def bench(cast: Cast) -> Iterator[tuple[Cast, list[UUID], dict[str, Any], str]]:
    """Yield a served shop, blocks a week old, what is read at the press, and the address."""
    ids = pressed_job(cast, blocks=ROUNDS)
    cast.clock.forward(days=7)
    zero = Typed(0.0, "0", "MPa")
    spell = press.open_press_session(cast.tess, gauge_id=press_with_line(cast), zero_before_mpa=zero).id
    reading = {"outcome": "broke", "state": "air-dry", "press_session_id": str(spell), "gauge_mpa": 10.0}
    with serving(cast.app) as address:
        yield cast, [ids[f"1-A1-{n}"] for n in range(1, ROUNDS + 1)], reading, address


def at_once(requests: list[tuple[str, str, dict[str, Any], str]]) -> list[httpx.Response]:
    """Send every request, (token, address, body, key), from a thread and a connection of its own at one moment."""
    together = Barrier(len(requests))

    def send(request: tuple[str, str, dict[str, Any], str]) -> httpx.Response:
        token, address, body, key = request
        with httpx.Client(headers={"authorization": f"Bearer {token}"}, timeout=60, verify=False) as client:
            together.wait()
            return client.post(address, json=body, headers={"idempotency-key": key})

    with ThreadPoolExecutor(len(requests)) as pool:
        return list(pool.map(send, requests))


def readings(cast: Cast, block: UUID) -> list[str]:
    with Session(cast.stores.read) as session:
        return [str(found) for found in session.exec(select(Crushing.id).where(Crushing.block_id == block))]


def test_the_same_form_from_eight_threads_is_one_reading(
    bench: tuple[Cast, list[UUID], dict[str, Any], str], faults: Faults
) -> None:
    cast, blocks, reading, address = bench
    cast.add_token("tess", "tess's program")
    lost = doubled = 0
    for block in blocks:
        request = ("tess's program", f"{address}/api/v1/blocks/{block}/crushings", reading, uuid4().hex)
        answers = at_once([request] * 8)
        assert {answer.status_code for answer in answers} == {201}
        found, told = readings(cast, block), {answer.json()["id"] for answer in answers}
        lost += len(told - set(found))
        doubled += len(found) - 1
    assert backups.verify(cast.olu).broken_at is None
    how = f"eight connections send one form with one key, on {database_of(cast)}: eight times the same answer"
    faults.add("One form eight times", times=ROUNDS, count=Count(8 * ROUNDS, lost, doubled), how=how)


def test_of_two_technicians_at_one_block_one_wins_and_the_other_is_told_who_and_what(
    bench: tuple[Cast, list[UUID], dict[str, Any], str], faults: Faults
) -> None:
    cast, blocks, reading, address = bench
    cast.add_token("tess", "Tess")
    ted = people.invite(
        cast.olu,
        name="Ted",
        email="ted@shop.example",
        role=Role.TECHNICIAN,
        customer_id=None,
        token_sha256=sha256("ted invited"),
    )
    people.make_token(cast.olu, person_id=ted.id, role=Role.TECHNICIAN, token_sha256=sha256("Ted"), lasts_days=30)
    lost = doubled = 0
    for block in blocks:
        path = f"{address}/api/v1/blocks/{block}/crushings"
        typed = {"Tess": 10.0, "Ted": 11.5}
        sent = [(name, path, {**reading, "gauge_mpa": mpa}, uuid4().hex) for name, mpa in typed.items()]
        answers = dict(zip(typed, at_once(sent), strict=True))
        assert sorted(answer.status_code for answer in answers.values()) == [201, 409]
        (won,) = (name for name, answer in answers.items() if answer.status_code == 201)
        (told,) = (answer.json()["error"] for answer in answers.values() if answer.status_code == 409)
        assert f"{won} recorded “broke at {typed[won]} MPa on the gauge”" in told
        lost += answers[won].json()["id"] not in readings(cast, block)
        doubled += len(readings(cast, block)) - 1
    assert backups.verify(cast.olu).broken_at is None
    how = f"two technicians record one block at once, on {database_of(cast)}: the second is told who and what (409)"
    faults.add("Two at one block", times=ROUNDS, count=Count(ROUNDS, lost, doubled), how=how)
