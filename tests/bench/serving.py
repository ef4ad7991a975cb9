"""Servers in processes of their own for the benches: the shop as ``loambook serve`` runs it."""

import json
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from itertools import count
from pathlib import Path
from secrets import token_urlsafe

from service.web.cookies import COOKIE
from tests.postgres import free_port

STARTS_WITHIN_S = 300.0
# A client for each of so many connections comes from an address of its own: one address has its share only.
CONNECTIONS_OF_ONE = 40
SERVE = "import sys; from service.cli import main; sys.argv[1:1] = ['serve']; main()"


@dataclass
class Served:
    """A server that answers at a port, with all its processes."""

    port: int
    pid: int

    @property
    def processor_s(self) -> float:
        """Return the processor time its processes took so far."""
        return sum(processor_s_of(pid) for pid in family_of(self.pid))

    @property
    def memory_mb(self) -> float:
        """Return the memory that its processes hold."""
        pages = (int(Path(f"/proc/{pid}/statm").read_text().split()[1]) for pid in family_of(self.pid))
        return sum(pages) * os.sysconf("SC_PAGE_SIZE") / 1e6

    def client(self, number: int = 0) -> HTTPConnection:
        """Return a connection of a client."""
        local = f"127.0.0.{2 + number // CONNECTIONS_OF_ONE}"
        return HTTPConnection("127.0.0.1", self.port, source_address=(local, 0), timeout=120)


def processor_s_of(pid: int) -> float:
    """Return the processor time that a process took so far, of the user and of the system."""
    # What follows the name of the program, which may have spaces.
    told = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(told[11]) + int(told[12])) / os.sysconf("SC_CLK_TCK")


def family_of(pid: int) -> list[int]:
    """Return a process with those that it began, and theirs."""
    begun = [
        int(one) for task in Path(f"/proc/{pid}/task").iterdir() for one in (task / "children").read_text().split()
    ]
    return [pid, *(one for child in begun for one in family_of(child))]


@contextmanager
def served_apart(*command: str, port: int, **environment: str) -> Iterator[Served]:
    """Start a Python program that serves, and give it once it answers."""
    env = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", **environment}
    process = subprocess.Popen(
        [sys.executable, *command], env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )
    try:
        server = Served(port, process.pid)
        _wait_for(server)
        yield server
    finally:
        process.terminate()
        process.wait(STARTS_WITHIN_S)


def _wait_for(server: Served) -> None:
    ends_at = time.monotonic() + STARTS_WITHIN_S
    while True:
        try:
            client = server.client()
            client.request("GET", "/health/live")
            client.getresponse().read()
            client.close()
        except OSError:
            if time.monotonic() > ends_at:
                raise
            time.sleep(0.1)
        else:
            return


@contextmanager
def shop_served(folder: Path, url: str = "", *, workers: int = 1) -> Iterator[Served]:
    """Serve the shop of a folder, on the database of ``url`` where that is not the folder's own."""
    port = free_port()
    environment = {"LOAMBOOK_DATA": str(folder), "LOAMBOOK_PORT": str(port), "LOAMBOOK_SECRET": token_urlsafe(32)}
    environment["LOAMBOOK_DATABASE_URL"] = url or f"sqlite:///{folder / 'shop.sqlite'}"
    environment["LOAMBOOK_ADDRESS"] = f"http://127.0.0.1:{port}"
    with served_apart("-c", SERVE, "--workers", str(workers), port=port, **environment) as server:
        yield server


def copied(shop: Path, to: Path) -> Path:
    """Return a copy of a shop that may be written into."""
    shutil.copytree(shop, to)
    return to


def session_of(folder: Path, who: str = "owner") -> dict[str, str]:
    """Return the headers of somebody's browser in a shop that big_shop made."""
    secret = json.loads((folder / "sessions.json").read_text())[who]
    return {"cookie": f"{COOKIE}={secret}", "sec-fetch-site": "same-origin"}


_keys = count(1)


def fresh_key() -> str:
    """Return a key that no request had."""
    return f"bench-{os.getpid()}-{next(_keys)}"
