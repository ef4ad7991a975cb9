"""The trail: positions without gaps, each entry holding the digest of the one before it."""

import hashlib
import json
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from sqlalchemy import Connection, text
from sqlmodel import Session

from service.records import audit_log, idempotency
from service.records.database import Engines
from tests.records.shop import PRESSED, SmallShop

TRIGGERS = {
    "sqlite": ("DROP TRIGGER trail_no_change", "DROP TRIGGER trail_no_delete"),
    "postgresql": ("ALTER TABLE trail DISABLE TRIGGER ALL", "ALTER TABLE replay DISABLE TRIGGER ALL"),
}


def append(session: Session, **details: Any) -> audit_log.Trail:
    position = audit_log.append(
        session,
        at=PRESSED,
        person_id=None,
        device_id=None,
        via="command",
        request_id="r1",
        act="shop.open",
        subject_kind="shop",
        subject_id=1,
        details=details,
    )
    return session.get_one(audit_log.Trail, position)


@pytest.fixture
def chain(session: Session) -> list[audit_log.Trail]:
    """Return a committed chain of five entries."""
    entries = [append(session, step=step) for step in range(1, 6)]
    session.commit()
    return entries


@pytest.fixture
def behind(session: Session, chain: list[audit_log.Trail]) -> Iterator[Connection]:
    """Yield a connection of somebody who took the triggers away."""
    connection = session.connection()
    for statement in TRIGGERS[connection.dialect.name]:
        connection.execute(text(statement))
    yield connection
    session.rollback()


def test_an_empty_trail_is_whole(session: Session) -> None:
    assert audit_log.verify(session) is None


def test_positions_run_from_one_without_gaps(chain: list[audit_log.Trail]) -> None:
    assert [entry.position for entry in chain] == [1, 2, 3, 4, 5]
    assert chain[0].previous_sha256 == "0" * 64
    assert [entry.previous_sha256 for entry in chain[1:]] == [entry.sha256 for entry in chain[:-1]]


def test_the_digest_is_of_the_canonical_text_of_everything_else(chain: list[audit_log.Trail]) -> None:
    told = {
        "act": "shop.open",
        "at": "2027-03-01T22:20:00.000000+00:00",
        "details": '{"step":2}',
        "device_id": None,
        "person_id": None,
        "position": 2,
        "previous_sha256": chain[0].sha256,
        "request_id": "r1",
        "subject_id": "1",
        "subject_kind": "shop",
        "via": "command",
    }
    assert chain[1].sha256 == hashlib.sha256(json.dumps(told, separators=(",", ":")).encode()).hexdigest()


def test_an_entry_read_back_from_the_database_still_has_its_digest(engines: Engines, shop: SmallShop) -> None:
    audit_log.append(
        shop.session,
        at=PRESSED.replace(microsecond=7),
        person_id=shop.tess.id,
        device_id=None,
        via="page",
        request_id="r2",
        act="crushing.record",
        subject_kind="crushing",
        subject_id=shop.block_1.id,
        details={"gauge_mpa": 9.0, "said": "“at least” – 9"},
    )
    shop.session.commit()
    with Session(engines.read) as reading:
        assert audit_log.verify(reading) is None


def test_a_whole_chain_verifies(session: Session, chain: list[audit_log.Trail]) -> None:
    assert audit_log.verify(session) is None


@pytest.mark.parametrize(
    ("statement", "position"),
    [
        ("UPDATE trail SET details = '{\"step\":9}' WHERE position = 3", 3),
        ("DELETE FROM trail WHERE position = 2", 2),
        ("UPDATE trail SET position = 40 WHERE position = 4", 4),
        ("UPDATE trail SET at = '2027-03-02 22:20:00.000000+00' WHERE position = 1", 1),
    ],
    ids=["changed", "missing", "moved", "dated anew"],
)
def test_the_first_broken_position_is_found(
    session: Session, behind: Connection, statement: str, position: int
) -> None:
    behind.exec_driver_sql(statement.replace("+00", "") if behind.dialect.name == "sqlite" else statement)
    session.expire_all()
    assert audit_log.verify(session) == position


def test_two_entries_in_each_others_place_are_found(session: Session, behind: Connection) -> None:
    for old, new in ((3, 33), (4, 3), (33, 4)):
        behind.execute(text(f"UPDATE trail SET position = {new} WHERE position = {old}"))
    session.expire_all()
    assert audit_log.verify(session) == 3


def test_an_end_cut_off_is_found_by_the_answers_kept(session: Session, chain: list[audit_log.Trail]) -> None:
    idempotency.keep(
        session,
        caller_key="person:1",
        request_key="k",
        act="shop.open",
        input_sha256="b" * 64,
        answer="{}",
        trail_position=5,
    )
    session.commit()
    connection = session.connection()
    if connection.dialect.name == "sqlite":
        # A foreign key is switched outside a transaction only.
        session.rollback()
        raw = session.connection().connection.driver_connection
        assert raw is not None
        raw.execute("ROLLBACK")
        raw.execute("PRAGMA foreign_keys=OFF")
        raw.execute("BEGIN IMMEDIATE")
        connection = session.connection()
    for statement in TRIGGERS[connection.dialect.name]:
        connection.execute(text(statement))
    connection.execute(text("DELETE FROM trail WHERE position = 5"))
    session.expire_all()
    assert audit_log.verify(session) == 5


def test_eight_writers_at_once_leave_no_gap_and_no_fork(engines: Engines) -> None:
    def write(number: int) -> list[int]:
        positions = []
        for step in range(10):
            with Session(engines.write) as session:
                positions.append(append(session, number=number, step=step).position)
                session.commit()
        return positions

    with ThreadPoolExecutor(8) as pool:
        written = [position for positions in pool.map(write, range(8)) for position in positions]
    assert sorted(written) == list(range(1, 81))
    with Session(engines.read) as reading:
        assert audit_log.verify(reading) is None


def test_an_act_that_is_undone_leaves_no_position(session: Session, chain: list[audit_log.Trail]) -> None:
    append(session, step=6)
    session.rollback()
    assert append(session, step=7).position == 6


def test_the_newest_entries_come_first(session: Session, chain: list[audit_log.Trail]) -> None:
    assert [entry.position for entry in audit_log.entries(session, limit=2)] == [5, 4]
