"""The two engines: what each refuses, what is on disk, and that writers wait for each other."""

import sqlite3
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from os import SEEK_END
from pathlib import Path
from threading import Event, Thread

import pytest
from sqlalchemy import select as select_many
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError, StatementError
from sqlmodel import Session, col, func, select

from service.errors import Conflict
from service.records.base import canonical
from service.records.customers import Customer
from service.records.database import Engines, check_quickly, damage, open_engines
from service.records.database_errors import outage_of
from service.records.materials import Price
from tests.records.shop import PRESSED, SmallShop


def setting(engines: Engines, name: str) -> list[str]:
    said = []
    for engine in (engines.read, engines.write):
        with engine.connect() as connection:
            said.append(str(connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()))
    return said


@pytest.mark.parametrize(
    ("name", "value"), [("journal_mode", "wal"), ("synchronous", "2"), ("foreign_keys", "1"), ("busy_timeout", "5000")]
)
def test_sqlite_is_opened_as_a_record_deserves(sqlite_url: str, name: str, value: str) -> None:
    engines = open_engines(sqlite_url)
    assert setting(engines, name) == [value, value]
    engines.dispose()


def test_the_reading_engine_refuses_to_write(engines: Engines) -> None:
    with Session(engines.read) as session, pytest.raises(DBAPIError, match=r"readonly|read-only"):
        session.add(Customer(name="Cy"))
        session.flush()


def test_a_database_in_memory_is_refused() -> None:
    with pytest.raises(ValueError, match="needs a file"):
        open_engines("sqlite://")


def test_a_plain_postgresql_address_is_opened_through_psycopg(postgres_url: str) -> None:
    engines = open_engines(postgres_url.replace("postgresql+psycopg://", "postgresql://"))
    with engines.read.connect() as connection:
        assert connection.dialect.driver == "psycopg"
    engines.dispose()


def test_a_page_reads_one_moment_of_the_shop(engines: Engines) -> None:
    with Session(engines.read) as reading, Session(engines.write) as writing:
        before = reading.exec(select(func.count()).select_from(Customer)).one()
        writing.add(Customer(name="Cy"))
        writing.commit()
        assert reading.exec(select(func.count()).select_from(Customer)).one() == before
        reading.rollback()
        assert reading.exec(select(func.count()).select_from(Customer)).one() == before + 1


def test_no_update_is_lost_between_four_writers(engines: Engines) -> None:
    with Session(engines.write) as session:
        session.add(Customer(name="0"))
        session.commit()

    def count_up(_writer: int) -> None:
        for _ in range(10):
            with Session(engines.write) as session:
                counter = session.exec(select(Customer).with_for_update()).one()
                counter.name = str(int(counter.name) + 1)
                session.add(counter)
                session.commit()

    with ThreadPoolExecutor(4) as pool:
        list(pool.map(count_up, range(4)))
    with Session(engines.read) as session:
        assert session.exec(select(Customer)).one().name == "40"


def test_a_whole_database_passes_the_quick_check(engines: Engines) -> None:
    check_quickly(engines)


def a_damaged_file(path: Path, *, rows: int) -> str:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE t (a TEXT)")
        connection.executemany("INSERT INTO t VALUES (?)", [("x" * 400,)] * rows)
    connection.close()
    # The last page is a leaf of the table: a look comes there at its end.
    with path.open("r+b") as file:
        file.seek(-4096, SEEK_END)
        file.write(b"\xff" * 200)
    return f"sqlite:///{path}"


def test_a_damaged_file_is_refused(tmp_path: Path) -> None:
    engines = open_engines(a_damaged_file(tmp_path / "damaged.sqlite", rows=200))
    with pytest.raises(Conflict, match="damaged"):
        check_quickly(engines)
    engines.dispose()


def test_a_look_that_takes_too_long_is_broken_off(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    engines = open_engines(a_damaged_file(tmp_path / "big.sqlite", rows=100_000))
    # However busy the machine is, one of so many interruptions meets the look.
    monkeypatch.setattr("service.records.database.Timer", Insistent)
    assert damage(engines.read, most_s=0) == ""
    monkeypatch.undo()
    assert "damaged" in damage(engines.read)
    engines.dispose()


class Insistent(Thread):
    def __init__(self, after_s: float, interrupt: Callable[[], None]) -> None:
        super().__init__()
        self.interrupt, self.over = interrupt, Event()

    def run(self) -> None:
        while not self.over.wait(0.0002):
            self.interrupt()

    def cancel(self) -> None:
        self.over.set()
        self.join()


def price(shop: SmallShop, per_kg: str) -> Price:
    return Price(material_id=shop.cement.id, valid_from=PRESSED.date(), per_kg=Decimal(per_kg), source="list")


def test_money_comes_back_exactly(shop: SmallShop) -> None:
    shop.add(price=price(shop, "123456789.123456"))
    shop.session.commit()
    assert shop.price.per_kg == Decimal("123456789.123456")


def test_the_database_itself_sums_money_exactly(shop: SmallShop) -> None:
    shop.add(one=price(shop, "0.1"))
    shop.add(two=Price(material_id=shop.soil.id, valid_from=PRESSED.date(), per_kg=Decimal("0.2"), source="list"))
    assert shop.session.exec(select_many(func.sum(col(Price.per_kg)))).scalar_one() == Decimal("0.3")


def test_money_finer_than_a_millionth_is_refused(shop: SmallShop) -> None:
    with pytest.raises(StatementError, match="six decimals"):
        shop.add(price=price(shop, "0.0000001"))


def test_a_time_comes_back_aware_and_in_utc(shop: SmallShop) -> None:
    shop.session.expire_all()
    assert shop.block_1.pressed_at == PRESSED
    assert shop.block_1.pressed_at.utcoffset().total_seconds() == 0


def test_a_time_without_a_zone_is_refused(shop: SmallShop) -> None:
    shop.block_1.pressed_at = PRESSED.replace(tzinfo=None)
    with pytest.raises(StatementError, match="timezone"):
        shop.session.flush()


def test_one_value_has_one_canonical_text() -> None:
    assert (
        canonical({"b": 1, "a": [PRESSED, Decimal("0.10")]})
        == '{"a":["2027-03-01T22:20:00.000000+00:00","0.10"],"b":1}'
    )
    with pytest.raises(ValueError, match="not JSON compliant"):
        canonical({"a": float("nan")})
    with pytest.raises(TypeError, match="no canonical text"):
        canonical({"a": object()})


def test_a_connection_survives_that_the_server_ended_it(postgres_url: str) -> None:
    engines = open_engines(postgres_url)
    with engines.read.connect() as connection:
        process = connection.exec_driver_sql("SELECT pg_backend_pid()").scalar_one()
    with engines.write.connect() as connection:
        connection.execute(text("SELECT pg_terminate_backend(:process)"), {"process": process})
    with engines.read.connect() as connection:
        assert connection.exec_driver_sql("SELECT 1").scalar_one() == 1
    engines.dispose()


def test_both_engines_come_back_after_the_server_ended_every_connection(postgres_url: str) -> None:
    engines, admin = open_engines(postgres_url), open_engines(postgres_url)
    for engine in (engines.read, engines.write):
        # Two of each are pooled, so that one replaced connection is not yet the whole pool.
        with engine.connect(), engine.connect():
            pass
    end_all = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> "
    with admin.write.connect() as connection:
        assert len(connection.exec_driver_sql(f"{end_all} pg_backend_pid()").all()) == 4
    with Session(engines.write) as session:
        session.add(Customer(name="Cy"))
        session.commit()
    with Session(engines.read) as session:
        assert session.exec(select(Customer.name)).all() == ["Cy"]
    engines.dispose()
    admin.dispose()


def test_a_replica_opens_no_more_connections_than_its_pools_allow(postgres_url: str) -> None:
    engines, admin = open_engines(postgres_url), open_engines(postgres_url)
    counting = "SELECT count(*) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"

    def ask(number: int) -> int:
        with (engines.read if number % 2 else engines.write).connect() as connection:
            connection.exec_driver_sql("SELECT pg_sleep(0.02)")
            with admin.write.connect() as other:
                return int(other.exec_driver_sql(counting).scalar_one())

    with ThreadPoolExecutor(40) as pool:
        seen = list(pool.map(ask, range(120)))
    # Ten for reading and ten for writing; current result has a pool of its own, of ten too.
    assert len(seen) == 120 and max(seen) <= 29
    engines.dispose()
    admin.dispose()


@pytest.mark.parametrize(
    "statement", ["SELECT nothing FROM nowhere", "SELECT FROM WHERE", "INSERT INTO customer DEFAULT VALUES"]
)
def test_a_bug_is_not_taken_for_an_outage(engines: Engines, statement: str) -> None:
    with engines.write.connect() as connection, pytest.raises(DBAPIError) as caught:
        connection.exec_driver_sql(statement)
    assert outage_of(caught.value) is None
