"""The server killed, frozen, out of room or on a closed disk while four programs write, on SQLite."""

import random
import resource
import shutil
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from uuid import UUID

import httpx
import pytest

from service.records import database_errors
from tests.cast import Cast
from tests.faults.closing import CLOSE, OPEN
from tests.faults.conftest import Faults, times
from tests.faults.served import Served, served
from tests.faults.writers import TOKENS, counted, prepare, writing


@pytest.fixture
def shop(cast_on_sqlite: Cast, tmp_path: Path, starter: "subprocess.Popen[str]") -> Iterator[tuple[Served, UUID]]:
    """Yield a service on a SQLite file of its own, and a soil for readings."""
    soil = prepare(cast_on_sqlite)
    cast_on_sqlite.stores.read.dispose()
    cast_on_sqlite.stores.write.dispose()
    url = cast_on_sqlite.stores.write.url.render_as_string(hide_password=False)
    with served(starter, url, tmp_path / "served") as service:
        yield service, soil


def file_of(service: Served) -> Path:
    return Path(service.database_url.removeprefix("sqlite:///"))


def test_a_server_killed_while_four_write_keeps_what_it_acknowledged(shop: tuple[Served, UUID], faults: Faults) -> None:
    service, soil = shop
    chance, kills = random.Random(20270301), times(4, 300)
    with writing([service.address], soil) as writers:
        for _ in range(kills):
            writers.wait_for(1)
            time.sleep(chance.uniform(0.0, 0.3))
            with writers.broken_by():
                service.kill()
            service.start()
        writers.wait_for(4)
    how = "`kill -9` of `loambook serve` on SQLite at random moments, four programs writing"
    faults.add("Server killed", times=kills, count=counted(service.database_url, writers.acknowledged), how=how)


def test_a_snapshot_of_the_files_in_the_middle_of_writing_opens_clean(
    shop: tuple[Served, UUID], faults: Faults, tmp_path: Path
) -> None:
    service, soil = shop
    chance, snapshots = random.Random(20270302), times(4, 100)
    file, copy = file_of(service), tmp_path / "snapshot.sqlite"
    wal, wal_copy = file.with_name(f"{file.name}-wal"), copy.with_name(f"{copy.name}-wal")
    with writing([service.address], soil) as writers:
        for _ in range(snapshots):
            writers.wait_for(1)
            time.sleep(chance.uniform(0.0, 0.2))
            acknowledged = dict(writers.acknowledged)
            # A snapshot shows both files at one moment; so do the files of a process that stands still.
            service.send(signal.SIGSTOP)
            shutil.copy(file, copy)
            shutil.copy(wal, wal_copy)
            service.send(signal.SIGCONT)
            assert wal_copy.stat().st_size > 0
            count = counted(f"sqlite:///{copy}", acknowledged)
            assert (count.lost, count.doubled) == (0, 0)
            for left in copy.parent.glob("snapshot.sqlite*"):
                left.unlink()
    how = "the SQLite file and its `-wal` copied from a server frozen in the middle of writing; the last one counted"
    faults.add("File snapshot", times=snapshots, count=count, how=how)


def test_a_disk_without_room_refuses_clearly_and_damages_nothing(shop: tuple[Served, UUID], faults: Faults) -> None:
    service, soil = shop
    runs = times(2, 30)
    with writing([service.address], soil) as writers:
        for _ in range(runs):
            writers.wait_for(1)
            # No file of this process may grow further: writing fails as on a disk that is full.
            most_bytes = max(path.stat().st_size for path in file_of(service).parent.glob("*.sqlite*"))
            resource.prlimit(service.pid, resource.RLIMIT_FSIZE, (most_bytes, resource.RLIM_INFINITY))
            writers.wait_until_refused()
            resource.prlimit(service.pid, resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        writers.wait_for(4)
    assert set(writers.answers) == {201, 503}
    assert set(writers.refusals) <= {database_errors.FULL, database_errors.CLOSED, database_errors.AWAY}
    how = "no file of the server may grow further (`RLIMIT_FSIZE`): 503 with a sentence, stored once there is room"
    faults.add("Disk full", times=runs, count=counted(service.database_url, writers.acknowledged), how=how)


def test_a_disk_that_turns_read_only_refuses_clearly_and_is_read_all_the_while(
    shop: tuple[Served, UUID], faults: Faults
) -> None:
    service, soil = shop
    runs = times(2, 30)
    with httpx.Client(base_url=service.address, headers={"authorization": f"Bearer {TOKENS[0]}"}, timeout=20) as reader:
        # The first time nothing was written yet: the file is opened for writing while it is closed.
        service.send(CLOSE)
        with writing([service.address], soil) as writers:
            for _ in range(runs):
                writers.wait_until_refused()
                ready = reader.get("/health/ready")
                assert (ready.status_code, "cannot be written to" in ready.text) == (503, True)
                assert reader.get(f"/api/v1/soils/{soil}").status_code == 200
                service.send(OPEN)
                writers.wait_for(4)
                assert reader.get("/health/ready").text == "ready"
                service.send(CLOSE)
            service.send(OPEN)
            writers.wait_for(4)
    assert set(writers.answers) == {201, 503}
    assert set(writers.refusals) == {database_errors.CLOSED}
    how = (
        "every call that writes fails as on a disk that turned read-only (`EROFS`): 503 with a sentence, read meanwhile"
    )
    faults.add("Disk read-only", times=runs, count=counted(service.database_url, writers.acknowledged), how=how)
