"""Two people write at once on PostgreSQL: they wait for each other at one block only, and the log stays a chain."""

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from threading import Event
from time import monotonic
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import text

from service.desk import backups
from service.desk.crushing import press, reading
from service.desk.crushing.given import Given
from service.desk.doorway import Done
from service.errors import Conflict
from service.records import audit_log
from service.typed import Typed
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast

MOST_S = 20.0
WAITS = text("SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'")


@pytest.fixture
def cast(cast_on_postgresql: Cast) -> Cast:
    """Return a shop on PostgreSQL; SQLite has one writer."""
    return cast_on_postgresql


@pytest.fixture
def week(cast: Cast) -> tuple[dict[str, UUID], Given]:
    """Blocks a week old, and what is read of each."""
    ids = pressed_job(cast, blocks=3)
    cast.clock.forward(days=7)
    zero = Typed(0.0, "0", "MPa")
    spell = press.open_press_session(cast.tess, gauge_id=press_with_line(cast), zero_before_mpa=zero).id
    return ids, Given("broke", "air-dry", press_session_id=spell, gauge_mpa=Typed(10.0, "10.0", "MPa"))


@pytest.fixture
def people() -> Iterator[ThreadPoolExecutor]:
    """Yield threads that write."""
    with ThreadPoolExecutor(3) as pool:
        yield pool


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[Event, Event]]:
    """Yield an event once the first act stands before the log, its rows written, and the one that lets it go on."""
    reached, free, append = Event(), Event(), audit_log.append

    def appending(*given: Any, **told: Any) -> int:
        if told["act"] == "crushing.record" and not reached.is_set():
            reached.set()
            assert free.wait(MOST_S)
        return append(*given, **told)

    monkeypatch.setattr(audit_log, "append", appending)
    yield reached, free
    free.set()


def record(people: ThreadPoolExecutor, cast: Cast, block: UUID, given: Given) -> "Future[Done]":
    return people.submit(reading.record, cast.tess, block_id=block, given=given)


def someone_waits(cast: Cast) -> bool:
    ends_at = monotonic() + MOST_S
    with cast.stores.read.connect() as connection:
        while monotonic() < ends_at:
            if connection.scalar(WAITS):
                return True
            connection.rollback()
    return False


def test_who_writes_of_another_block_does_not_wait(
    cast: Cast, week: tuple[dict[str, UUID], Given], people: ThreadPoolExecutor, held: tuple[Event, Event]
) -> None:
    ids, given = week
    first = record(people, cast, ids["1-A1-1"], given)
    assert held[0].wait(MOST_S)
    assert record(people, cast, ids["1-A1-2"], given).result(MOST_S).kind == "crushing"
    assert not first.done()
    held[1].set()
    assert first.result(MOST_S).kind == "crushing"
    assert backups.verify(cast.olu).broken_at is None


def test_who_writes_of_the_same_block_waits_and_is_told_who_was_first(
    cast: Cast, week: tuple[dict[str, UUID], Given], people: ThreadPoolExecutor, held: tuple[Event, Event]
) -> None:
    ids, given = week
    first = record(people, cast, ids["1-A1-1"], given)
    assert held[0].wait(MOST_S)
    second = record(people, cast, ids["1-A1-1"], given)
    assert someone_waits(cast)
    held[1].set()
    assert first.result(MOST_S).kind == "crushing"
    with pytest.raises(Conflict, match="1-A1-1 was crushed already: Tess"):
        second.result(MOST_S)
    assert backups.verify(cast.olu).broken_at is None
