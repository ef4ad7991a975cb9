"""PostgreSQL stopped and closed to writing under load, and one of two replicas killed."""

import random
import signal
import subprocess
import time
from pathlib import Path

import httpx
import psycopg
from sqlalchemy import make_url

from service.records import database_errors
from service.records.database import migrate
from tests import postgres
from tests.cast import Cast, enter, open_cast
from tests.faults.conftest import Faults, times
from tests.faults.served import served
from tests.faults.writers import TOKENS, counted, prepare, writing


def closed(cast: Cast) -> None:
    cast.stores.read.dispose()
    cast.stores.write.dispose()


def test_postgresql_stopped_and_started_under_load_loses_nothing(
    starter: "subprocess.Popen[str]", tmp_path: Path, faults: Faults
) -> None:
    chance, stops = random.Random(20270303), times(2, 40)
    with postgres.own_server() as server, postgres.database(server.address) as url:
        migrate(url)
        cast = open_cast(url, tmp_path)
        soil = prepare(cast)
        closed(cast)
        with served(starter, url, tmp_path / "served") as service, writing([service.address], soil) as writers:
            for number in range(stops):
                writers.wait_for(4)
                time.sleep(chance.uniform(0.0, 0.3))
                # By turns an orderly stop and one that leaves the server to recover from its log.
                if number % 2 and server.process is not None:
                    server.process.send_signal(signal.SIGQUIT)
                    server.process.wait(postgres.START_SECONDS)
                else:
                    server.stop()
                time.sleep(0.3)
                server.start()
            writers.wait_for(4)
            refused = dict(writers.answers)
        count = counted(url, writers.acknowledged)
    assert set(refused) <= {0, 201, 503} and refused[503] >= stops
    how = "the database server stopped under load, by turns in order and at once, and started again: 503 meanwhile"
    faults.add("PostgreSQL stopped", times=stops, count=count, how=how)


def test_a_database_that_turns_read_only_under_load_refuses_clearly_and_is_read_all_the_while(
    filled_postgres: tuple[Cast, str],
    postgres_server: str,
    starter: "subprocess.Popen[str]",
    tmp_path: Path,
    faults: Faults,
) -> None:
    filled, template = filled_postgres
    runs = times(2, 30)
    with postgres.database(postgres_server, template=template) as url:
        cast = enter(url, tmp_path, filled)
        soil = prepare(cast)
        closed(cast)
        token = {"authorization": f"Bearer {TOKENS[0]}"}
        with (
            served(starter, url, tmp_path / "served") as service,
            httpx.Client(base_url=service.address, headers=token, timeout=20) as reader,
            writing([service.address], soil) as writers,
        ):
            for _ in range(runs):
                writers.wait_for(4)
                tell(url, "ALTER DATABASE {} SET default_transaction_read_only = on")
                writers.wait_until_refused()
                ready = reader.get("/health/ready")
                assert (ready.status_code, "cannot be written to" in ready.text) == (503, True)
                assert reader.get(f"/api/v1/soils/{soil}").status_code == 200
                tell(url, "ALTER DATABASE {} RESET default_transaction_read_only")
            writers.wait_for(4)
            assert reader.get("/health/ready").text == "ready"
        count = counted(url, writers.acknowledged)
    assert set(writers.answers) == {201, 503}
    assert database_errors.CLOSED in writers.refusals and set(writers.refusals) <= {
        database_errors.CLOSED,
        database_errors.AWAY,
    }
    how = "PostgreSQL takes reading alone, as a server that repeats another: 503 with a sentence, read meanwhile"
    faults.add("Database read-only", times=runs, count=count, how=how)


def tell(url: str, what: str) -> None:
    """Change a database for all connections from now on, and end those that are there."""
    name = make_url(url).database
    with psycopg.connect(postgres.plain(url), autocommit=True) as admin:
        admin.execute("SET default_transaction_read_only = off")
        admin.execute(what.format(name))
        others = "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = %s AND pid <> pg_backend_pid()"
        admin.execute(others, [name])


def test_of_two_replicas_one_is_killed_and_its_programs_move_on(
    filled_postgres: tuple[Cast, str],
    postgres_server: str,
    starter: "subprocess.Popen[str]",
    tmp_path: Path,
    faults: Faults,
) -> None:
    filled, template = filled_postgres
    chance, kills = random.Random(20270304), times(2, 60)
    with postgres.database(postgres_server, template=template) as url:
        cast = enter(url, tmp_path, filled)
        soil = prepare(cast)
        closed(cast)
        with served(starter, url, tmp_path / "one") as one, served(starter, url, tmp_path / "two") as two:
            with writing([one.address, two.address], soil) as writers:
                for number in range(kills):
                    replica = (one, two)[number % 2]
                    writers.wait_for(4)
                    time.sleep(chance.uniform(0.0, 0.3))
                    replica.kill()
                    # With one replica gone, everybody still writes.
                    writers.wait_for(8)
                    replica.start()
            broken = writers.answers[0]
        count = counted(url, writers.acknowledged)
    assert broken > 0
    how = "two `loambook serve` on one PostgreSQL, one killed by turns; the programs send again to the other"
    faults.add("Replica killed", times=kills, count=count, how=how)
