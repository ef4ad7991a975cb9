"""The service as a process of its own, as ``loambook serve`` starts it: it can be stopped, frozen and killed."""

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

    database_url: str
    folder: Path
    port: int
    starter: subprocess.Popen[str]
    pid: int = 0

    @property
    def address(self) -> str:
        """Return where it answers."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        """Start it and return once it is ready."""
        assert self.starter.stdin is not None and self.starter.stdout is not None
        self.starter.stdin.write("start\n")
        self.starter.stdin.flush()
        self.pid = int(self.starter.stdout.readline())
        ends_at = time.monotonic() + START_SECONDS
        while not self._is_ready():
            if time.monotonic() > ends_at or not self._lives():
                raise RuntimeError("The service did not start:\n" + (self.folder / "log").read_text())
            time.sleep(0.05)

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
def served(database_url: str, folder: Path) -> Iterator[Served]:
    """Yield the service, started, and kill it in the end."""
    folder.mkdir(exist_ok=True)
    port = free_port()
    told = {"DATABASE_URL": database_url, "DATA": folder, "PORT": port, "SECRET": SECRET}
    environment = os.environ | {f"LOAMBOOK_{name}": str(value) for name, value in told.items()}
    with (
        (folder / "log").open("ab") as log,
        subprocess.Popen(
            [sys.executable, "-m", "tests.faults.starter"],
            env=environment,
            cwd=Path(__file__).parents[2],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=log,
            text=True,
        ) as starter,
    ):
        made = Served(database_url, folder, port, starter)
        try:
            made.start()
            yield made
        finally:
            made.kill()
            starter.kill()
