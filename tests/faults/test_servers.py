"""PostgreSQL stopped under load, and one of two replicas killed."""

import random
import signal
import time
from pathlib import Path

from service.records.database import migrate
from tests import postgres
from tests.cast import Cast, enter, open_cast
from tests.faults.conftest import Faults, times
from tests.faults.served import served
from tests.faults.writers import counted, prepare, writing


def closed(cast: Cast) -> None:
    cast.stores.read.dispose()
    cast.stores.write.dispose()


def test_postgresql_stopped_and_started_under_load_loses_nothing(tmp_path: Path, faults: Faults) -> None:
    chance, stops = random.Random(20270303), times(4, 40)
    with postgres.own_server() as server, postgres.database(server.address) as url:
        migrate(url)
        cast = open_cast(url, tmp_path)
        soil = prepare(cast)
        closed(cast)
        with served(url, tmp_path / "served") as service, writing([service.address], soil) as writers:
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


def test_of_two_replicas_one_is_killed_and_its_programs_move_on(
    filled_postgres: tuple[Cast, str], postgres_server: str, tmp_path: Path, faults: Faults
) -> None:
    filled, template = filled_postgres
    chance, kills = random.Random(20270304), times(3, 60)
    with postgres.database(postgres_server, template=template) as url:
        cast = enter(url, tmp_path, filled)
        soil = prepare(cast)
        closed(cast)
        with served(url, tmp_path / "one") as one, served(url, tmp_path / "two") as two:
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
