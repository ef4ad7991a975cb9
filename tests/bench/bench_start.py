"""What a start takes of the processor until the first page: of a shop, of the example shop, and of that one again."""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from socket import socket
from urllib.error import URLError
from urllib.request import urlopen

COMMAND = (sys.executable, "-c", "from service.cli import main; main()")
OPEN = ("open", "Bench yard", "--owner", "Olu", "--email", "olu@shop.example", "--time-zone", "UTC")
GIVES_UP_S, TRIES = 300.0, 2
# What is timed, and the seconds of a processor that it may take.
SERVE, FIRST, AGAIN = ("`loambook serve`", 2.5), ("`./run demo`, the first time", 15.0), ("`./run demo`, again", 3.0)


def _free_port() -> int:
    with socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _processor_s(pid: int) -> float:
    # User and system time are the 14th and 15th field; the name before them may hold spaces.
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def _running(*words: str, **settings: str) -> Iterator[int]:
    environment = {**os.environ, **{f"LOAMBOOK_{name}": value for name, value in settings.items()}}
    with subprocess.Popen(
        [*COMMAND, *words], env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    ) as started:
        try:
            yield started.pid
        finally:
            started.terminate()
            started.wait(60)


def _until_answered(pid: int, port: int) -> float:
    """Return the seconds of a processor until somebody who opens the shop sees its first page."""
    ends = time.monotonic() + GIVES_UP_S
    while time.monotonic() < ends:
        try:
            with urlopen(f"http://127.0.0.1:{port}/sign-in", timeout=60):
                return _processor_s(pid)
        except (URLError, ConnectionError):
            time.sleep(0.05)
    raise TimeoutError("The service did not start.")


def _served(folder: Path) -> float:
    port = str(_free_port())
    address = {"DATA": str(folder), "PORT": port, "ADDRESS": f"http://127.0.0.1:{port}"}
    if not folder.exists():
        given = {**os.environ, "LOAMBOOK_DATA": str(folder)}
        subprocess.run([*COMMAND, *OPEN], env=given, capture_output=True, check=True)
    with _running("serve", **address) as pid:
        return _until_answered(pid, int(port))


def _shown(folder: Path) -> float:
    port = _free_port()
    with _running("demo", "--port", str(port), "--data", str(folder)) as pid:
        return _until_answered(pid, port)


def starts() -> list[str]:
    """Return the lines of the report: what each start took, the least of some."""
    with tempfile.TemporaryDirectory() as place:
        served = min(_served(Path(place) / "shop") for _ in range(TRIES))
        first = min(_shown(Path(place) / f"demo {n}") for n in range(TRIES))
        again = min(_shown(Path(place) / "demo 0") for _ in range(TRIES))
    rows = [
        f"| {name} | {took:.1f} | {most:g} | {'' if took <= most else 'over'} |"
        for (name, most), took in ((SERVE, served), (FIRST, first), (AGAIN, again))
    ]
    return [
        "## A start",
        "",
        f"Seconds of a processor from the command until the first page is answered, the least of {TRIES}.",
        "",
        "| command | s | allowed | |",
        "|---|---|---|---|",
        *rows,
    ]


if __name__ == "__main__":
    sys.stdout.write("\n".join([*starts(), ""]))
