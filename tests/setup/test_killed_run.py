"""What a run of the tests that is killed leaves behind."""

import subprocess
import sys
import time
from pathlib import Path

import psycopg
import pytest

RUN = """
import time
from tests import postgres
with postgres.own_server() as server:
    print(server.folder, server.address, flush=True)
    time.sleep(600)
"""
SECONDS = 30


def test_a_killed_run_leaves_no_database_server_and_no_folder() -> None:
    command = [sys.executable, "-c", RUN]
    with subprocess.Popen(command, cwd=Path(__file__).parents[2], stdout=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        folder, address = run.stdout.readline().split()
        psycopg.connect(address).close()
        assert (Path(folder) / "data").is_dir()
        run.kill()
    ends_at = time.monotonic() + SECONDS
    while Path(folder).exists() and time.monotonic() < ends_at:
        time.sleep(0.05)
    assert not Path(folder).exists()
    with pytest.raises(psycopg.OperationalError):
        psycopg.connect(address, connect_timeout=2)
