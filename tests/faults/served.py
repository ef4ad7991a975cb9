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
    process: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        """Return where it answers."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def pid(self) -> int:
        """Return the id of its process."""
        assert self.process is not None
        return self.process.pid

    def start(self) -> None:
        """Start it and return once it is ready."""
        told = {"DATABASE_URL": self.database_url, "DATA": self.folder, "PORT": self.port, "SECRET": SECRET}
        environment = os.environ | {f"LOAMBOOK_{name}": str(value) for name, value in told.items()}
        with (self.folder / f"log-{self.port}").open("ab") as log:
            command = [sys.executable, "-m", "service.cli", "serve"]
            self.process = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
        ends_at = time.monotonic() + START_SECONDS
        while not self._is_ready():
            if time.monotonic() > ends_at or self.process.poll() is not None:
                raise RuntimeError("The service did not start:\n" + (self.folder / f"log-{self.port}").read_text())
            time.sleep(0.05)

    def _is_ready(self) -> bool:
        try:
            return httpx.get(f"{self.address}/health/ready", timeout=5).status_code == 200
        except httpx.TransportError:
            return False

    def send(self, what: signal.Signals) -> None:
        """Send a signal to it."""
        os.kill(self.pid, what)

    def kill(self) -> None:
        """Kill it where it stands; it gets no chance to finish anything."""
        if self.process is not None:
            self.process.kill()
            self.process.wait(START_SECONDS)


@contextmanager
def served(database_url: str, folder: Path) -> Iterator[Served]:
    """Yield the service, started, and kill it in the end."""
    folder.mkdir(exist_ok=True)
    made = Served(database_url, folder, free_port())
    try:
        made.start()
        yield made
    finally:
        made.kill()
