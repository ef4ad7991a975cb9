"""Wrong settings of the database and the port: the cause and the remedy in one sentence, never a traceback."""

import socket
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from typer.testing import CliRunner, Result

from service import cli
from tests.postgres import Server, database, free_port, own_server

DRAWN = "q7Zk1vXw9Rb3Tn5Yp8Lm2Hs6Jd4Gf0Ca"
Run = Callable[..., Result]


@pytest.fixture(scope="module")
def locked() -> Iterator[Server]:
    """Yield a server that asks the account ``keeper`` for a password."""
    with own_server() as server:
        with psycopg.connect(server.address, autocommit=True) as admin:
            admin.execute("create role keeper login password 'right'")
            admin.execute("create role reader login")
            rules = server.folder / "data" / "pg_hba.conf"
            rules.write_text("host all keeper all scram-sha-256\n" + rules.read_text())
            admin.execute("select pg_reload_conf()")
        yield server


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Run:
    """Return what runs a command with settings."""

    def command(*words: str, **settings: str) -> Result:
        for name, value in {"DATA": str(tmp_path / "data"), "SECRET": DRAWN, **settings}.items():
            monkeypatch.setenv(f"LOAMBOOK_{name}", value)
        return CliRunner().invoke(cli.app, words)

    return command


def told(result: Result) -> str:
    """Return the one sentence or two that a refused command says."""
    assert (result.exit_code == 1 and result.exception is None) or isinstance(result.exception, SystemExit)
    (line,) = result.stderr.splitlines()
    return line


@pytest.mark.parametrize("command", ["migrate", "trail"])
@pytest.mark.parametrize(
    ("part", "by", "sentence"),
    [
        ("keeper:right", "keeper:wrong", "refuses the password of this account. Correct it in LOAMBOOK_DATABASE_URL"),
        ("/postgres", "/nowhere", 'database "nowhere" does not exist. Correct LOAMBOOK_DATABASE_URL'),
        ("keeper:right", "nobody-known", 'role "nobody-known" does not exist'),
    ],
)
def test_what_the_server_refuses_is_told(
    locked: Server, run: Run, command: str, part: str, by: str, sentence: str
) -> None:
    url = locked.address.replace("postgres@", "keeper:right@").replace(part, by)
    assert sentence in told(run(command, DATABASE_URL=url))


def test_a_wrong_port_is_told(run: Run) -> None:
    refused = told(run("migrate", DATABASE_URL=f"postgresql://keeper@127.0.0.1:{free_port()}/shop"))
    assert refused.startswith("No database server answers at this address and port. Start it, or correct LOAMBOOK_")


def test_an_address_that_is_none_is_told(run: Run) -> None:
    assert told(run("migrate", DATABASE_URL="nonsense")).startswith("LOAMBOOK_DATABASE_URL must be an address such as")


def test_a_folder_that_cannot_be_made_is_told(run: Run, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    refused = told(run("migrate", DATA=str(tmp_path / "file" / "data")))
    assert "cannot be made: Not a directory. Let LOAMBOOK_DATA name a folder of this account." in refused


def test_restoring_under_the_account_that_only_reads_and_writes_is_told(
    locked: Server, run: Run, sqlite_url: str, tmp_path: Path
) -> None:
    archive = str(tmp_path / "a.zip")
    assert run("archive", archive, DATABASE_URL=sqlite_url).exit_code == 0
    with database(locked.address) as url:
        refused = told(run("restore", archive, DATABASE_URL=url.replace("postgres@", "reader@")))
    assert "Run this command with LOAMBOOK_MIGRATE_URL naming the account that owns them" in refused


def test_a_taken_port_and_a_foreign_address_are_told(run: Run) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        assert told(run("serve", PORT=port)) == (
            f"Something else listens on port {port}: choose another with LOAMBOOK_PORT."
        )
    assert "is no address of this machine" in told(run("serve", PORT=port, HOST="192.0.2.7"))
