"""The service as a process of its own, as ``loambook serve`` starts it: it can be stopped, frozen and killed."""

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from tests.postgres import free_port

START_SECONDS = 60
SECRET = "0123456789abcdef" * 4


@dataclass
class Served:
    """One replica of the service on a port of its own, which it keeps however often it is started."""

    starter: subprocess.Popen[str]
    database_url: str
    folder: Path
    port: int
    pid: int = 0

    @property
    def address(self) -> str:
        """Return where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and return once it is ready."""
        assert self.starter.stdin is not None and self.starter.stdout is not None
        told = {"DATABASE_URL": self.database_url, "DATA": self.folder, "PORT": self.port, "SECRET": SECRET}
        settings = {f"LOAMBOOK_{name}": str(value) for name, value in told.items()}
        self.starter.stdin.write(f"{json.dumps(settings)}\n")
        self.starter.stdin.flush()
        self.pid = int(self.starter.stdout.readline())
        ends_at = time.monotonic() + START_SECONDS
        while not self._is_ready():
            if time.monotonic() > ends_at or not self._lives():
                raise RuntimeError("The service did not start:\n" + (self.folder / "log").read_text())
            time.sleep(0.02)

    def _is_ready(self) -> bool:
        try:
            return httpx.get(f"{self.address}/health/ready", timeout=5).status_code == 200
        except httpx.TransportError:
            return False

    def _lives(self) -> bool:
        try:
            os.kill(self.pid, 0)
        except ProcessLookupError:
            return False
        return True

    def send(self, what: signal.Signals) -> None:
        """Send a signal to it."""
        os.kill(self.pid, what)

    def kill(self) -> None:
        """Kill it where it stands; it gets no chance to finish anything."""
        if self.pid and self._lives():
            self.send(signal.SIGKILL)
            while self._lives():
                time.sleep(0.002)


@contextmanager
def starting() -> Iterator[subprocess.Popen[str]]:
    """Yield the process that starts services: it loads the libraries once for all of them."""
    with subprocess.Popen(
        [sys.executable, "-m", "tests.faults.starter"],
        cwd=Path(__file__).parents[2],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as starter:
        try:
            yield starter
        finally:
            starter.kill()


@contextmanager
def served(starter: subprocess.Popen[str], database_url: str, folder: Path) -> Iterator[Served]:
    """Yield the service, started, and kill it in the end."""
    folder.mkdir(exist_ok=True)
    made = Served(starter, database_url, folder, free_port())
    try:
        made.start()
        yield made
    finally:
        made.kill()
