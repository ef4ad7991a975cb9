"""The example shop: made once, kept afterwards, never where it could do harm."""

import re
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

import httpx
import pytest
from typer.testing import CliRunner

from service import cli
from service.cli import example
from tests.postgres import free_port
from tests.setup.test_commands import LOAMBOOK, environment, loambook

SIGN_IN = re.compile(r"\((owner|technician|customer)\)  (http://127\.0\.0\.1:\d+/sign-in/\S+)")


def started(data: Path, *options: str) -> list[tuple[str, str, int]]:
    """Start the example shop, and return its roles and addresses with the answer that each address gives."""
    command = [LOAMBOOK, "demo", "--data", data, "--port", str(free_port()), *options]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(command, env=environment(data), **pipes) as server:
        try:
            assert any("Uvicorn running" in line for line in server.stderr)
            said = [server.stdout.readline()]
            while len(SIGN_IN.findall("".join(said))) < 4 and said[-1]:
                said.append(server.stdout.readline())
            ways_in = SIGN_IN.findall("".join(said))
            return [(role, address, httpx.get(address).status_code) for role, address in ways_in]
        finally:
            server.terminate()


def counted(data: Path) -> dict[str, int]:
    """Return how many rows the tables hold that a story fills."""
    with closing(sqlite3.connect(data / "shop.sqlite")) as file:
        return {
            table: file.execute(f"select count(*) from {table}").fetchone()[0]
            for table in ("job", "person", "recipe", "block", "crushing", "issued_result")
        }


def test_a_second_start_keeps_the_shop_and_gives_new_addresses(tmp_path):
    first = started(tmp_path / "shop")
    told = counted(tmp_path / "shop")
    second = started(tmp_path / "shop")
    assert sorted(role for role, _, _ in first) == ["customer", "customer", "owner", "technician"]
    assert {status for _, _, status in first + second} == {200}
    assert len({address.rpartition("/")[2] for _, address, _ in first + second}) == 8
    assert told["job"] > 1 and told["crushing"] > 1 and told["issued_result"] >= 1
    assert counted(tmp_path / "shop") == told


def test_a_running_example_shop_is_not_thrown_away(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    with example._in_use(folder, fresh=False):
        (folder / example.MARK).write_text(example.TOLD)
        asked = ["demo", "--data", str(folder), "--port", str(free_port()), "--fresh"]
        refused = CliRunner().invoke(cli.app, asked)
    assert refused.exit_code == 1 and "An example shop runs in" in refused.stderr
    assert (folder / example.MARK).read_text() == example.TOLD


def test_a_folder_with_something_else_is_left_alone(tmp_path):
    (tmp_path / "letter.txt").write_text("Dear customer")
    refused = loambook(tmp_path, "demo", "--data", str(tmp_path), "--port", str(free_port()), "--fresh")
    assert refused.returncode == 1 and "holds no example shop" in refused.stderr
    assert (tmp_path / "letter.txt").read_text() == "Dear customer"


@pytest.mark.parametrize("secret", ["", "q7Zk1vXw9Rb3Tn5Yp8Lm2Hs6Jd4Gf0Ca"])
def test_the_example_shop_does_not_start_under_production_settings(tmp_path, secret):
    refused = loambook(tmp_path, "demo", "--data", str(tmp_path / "shop"), PRODUCTION="true", SECRET=secret)
    assert refused.returncode == 1 and refused.stderr.count("\n") == 1
    assert not (tmp_path / "shop").exists()
