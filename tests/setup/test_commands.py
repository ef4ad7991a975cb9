"""Serving a shop from a process of its own: what is unsafe is refused, and a stop is graceful."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from tests.postgres import free_port

LOAMBOOK = Path(sys.executable).with_name("loambook")
DRAWN = "q7Zk1vXw9Rb3Tn5Yp8Lm2Hs6Jd4Gf0Ca"


def environment(data: Path, **settings: str) -> dict[str, str]:
    """Return an environment in which only the given settings are set."""
    rest = {name: value for name, value in os.environ.items() if not name.startswith("LOAMBOOK_")}
    return rest | {"LOAMBOOK_DATA": str(data)} | {f"LOAMBOOK_{name}": value for name, value in settings.items()}


def loambook(data: Path, *words: str, **settings: str) -> subprocess.CompletedProcess[str]:
    """Run one command to its end."""
    given = environment(data, **settings)
    return subprocess.run([LOAMBOOK, *words], env=given, capture_output=True, text=True, timeout=120)


@pytest.mark.parametrize("secret", ["", "change-me-change-me-change-me-1234567890"])
def test_serving_refuses_a_secret_that_nobody_drew(tmp_path, secret):
    refused = loambook(tmp_path, "serve", SECRET=secret)
    assert refused.returncode == 1
    assert refused.stderr.startswith("LOAMBOOK_SECRET ") and refused.stderr.count("\n") == 1


@pytest.mark.parametrize("more", [(), ("--workers", "2")], ids=["one process", "two processes"])
def test_serving_migrates_answers_on_this_machine_and_stops_gracefully(tmp_path, more):
    port = free_port()
    given = environment(tmp_path, SECRET=DRAWN, PORT=str(port))
    with subprocess.Popen(
        [LOAMBOOK, "serve", *more], env=given, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as server:
        try:
            assert eventually_ready(f"http://127.0.0.1:{port}/health/ready") == 200
        finally:
            server.terminate()
        printed, said = server.communicate(timeout=30)
    assert printed.splitlines() == [
        f"No shop is open in this folder. Run 'loambook open' to open one. Loambook is at http://127.0.0.1:{port}.",
        f"Its data is in {tmp_path}.",
    ]
    assert f"http://127.0.0.1:{port}" in said and "Traceback" not in said
    told = [json.loads(line)["said"] for line in said.splitlines()]
    assert "Application shutdown complete." in told


def eventually_ready(address: str) -> int:
    """Return the answer of a server that is just starting."""
    for _ in range(300):
        try:
            return httpx.get(address).status_code
        except httpx.TransportError:
            time.sleep(0.1)
    return 0
