"""The commands of an installation: opening a shop, serving it, refusing what is unsafe."""

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


def test_opening_a_shop_gives_the_owners_address_once(tmp_path):
    opening = ["open", "Yard lab", "--owner", "Olu", "--email", "olu@yard.example", "--time-zone", "America/Denver"]
    first = loambook(tmp_path, *opening, ADDRESS="https://yard.example")
    assert first.stdout.startswith("https://yard.example/sign-in/") and len(first.stdout.strip()) > 70
    again = loambook(tmp_path, *opening)
    assert (again.returncode, again.stdout, again.stderr) == (1, "", "This shop is open already.\n")


def test_a_shop_is_not_opened_in_a_time_zone_that_does_not_exist(tmp_path):
    refused = loambook(tmp_path, "open", "Yard lab", "--owner", "Olu", "--email", "o@y.example", "--time-zone", "Mars")
    assert refused.returncode == 1
    assert "time_zone: A name such as America/Denver." in refused.stderr


@pytest.mark.parametrize("secret", ["", "change-me-change-me-change-me-1234567890"])
def test_serving_refuses_a_secret_that_nobody_drew(tmp_path, secret):
    refused = loambook(tmp_path, "serve", SECRET=secret)
    assert refused.returncode == 1
    assert refused.stderr.startswith("LOAMBOOK_SECRET ") and refused.stderr.count("\n") == 1


def test_serving_migrates_answers_on_this_machine_and_stops_gracefully(tmp_path):
    port = free_port()
    given = environment(tmp_path, SECRET=DRAWN, PORT=str(port))
    with subprocess.Popen([LOAMBOOK, "serve"], env=given, stderr=subprocess.PIPE, text=True) as server:
        try:
            assert eventually_ready(f"http://127.0.0.1:{port}/health/ready") == 200
        finally:
            server.terminate()
        said = server.communicate(timeout=30)[1]
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
