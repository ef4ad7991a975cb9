"""Print how 200 tablets and browsers are answered and how replicas scale, and write docs/speed_clients.md.

``python -m tests.bench.bench_clients SHOP [SECONDS]`` with a folder made by tests.bench.big_shop. Every other client is
a tablet at the bench that asks for news each 1.2 s; all open a page each 15 s and record something each minute.
"""

import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection
from pathlib import Path
from statistics import median, quantiles
from time import monotonic, sleep
from urllib.parse import urlencode

from tests import postgres
from tests.bench.bench_writes import move
from tests.bench.serving import Served, copied, fresh_key, session_of, shop_served

CLIENTS, SECONDS = 200, 40.0
LOOKS_EVERY_S, PAGE_EVERY_S, ACT_EVERY_S = 1.2, 15.0, 60.0
STAYS_OPEN_S = 3.0
PAGES = ("/", "/today", "/crushing", "/curing", "/customers", "/presses", "/materials")
NEWS = "/live"
FEW, MANY, AT_ONCE = 1_000, 20_000, 16
REPORT = Path(__file__).resolve().parents[2] / "docs" / "speed_clients.md"


@dataclass
class Seen:
    """How requests were answered: their status and their seconds."""

    status: Counter[int] = field(default_factory=Counter)
    took: list[float] = field(default_factory=list)

    @property
    def wrong(self) -> int:
        """Return how many were refused or failed."""
        return sum(many for status, many in self.status.items() if status not in (200, 303))

    def add(self, other: "Seen") -> None:
        """Add what another client saw."""
        self.status += other.status
        self.took += other.took


@dataclass
class Client:
    """One tablet or browser."""

    connection: HTTPConnection
    headers: dict[str, str]
    seen: Seen = field(default_factory=Seen)
    asked_at: float = 0.0

    def ask(self, path: str, form: dict[str, str] | None = None) -> None:
        """Ask once and note how it was answered."""
        began = monotonic()
        if began - self.asked_at > STAYS_OPEN_S:
            # As a browser does, which knows that the server has closed it by now.
            self.connection.close()
        kind = {"content-type": "application/x-www-form-urlencoded"} if form else {}
        try:
            body = urlencode(form) if form else None
            self.connection.request("POST" if form else "GET", path, body, self.headers | kind)
            answer = self.connection.getresponse()
            answer.read()
            status = answer.status
        except OSError:
            status = 0
            self.connection.close()
        self.asked_at = monotonic()
        self.seen.status[status] += 1
        self.seen.took.append(monotonic() - began)

    def live(self, number: int, ends_at: float) -> Seen:
        """Do what somebody does at the bench or at a desk, until a moment."""
        drawn = random.Random(number)
        due = {"page": monotonic() + drawn.uniform(0, PAGE_EVERY_S), "act": monotonic() + drawn.uniform(0, ACT_EVERY_S)}
        due["look"] = monotonic() + drawn.uniform(0, LOOKS_EVERY_S) if number % 2 else ends_at
        while (wait := min(min(due.values()), ends_at) - monotonic()) > 0 or monotonic() < ends_at:
            sleep(max(0.0, wait))
            what = min(due, key=lambda one: due[one])
            if due[what] >= ends_at:
                break
            if what == "look":
                self.ask(NEWS)
            elif what == "page":
                self.ask(drawn.choice(PAGES))
            else:
                self.ask("/customers", {"name": f"Invented {fresh_key()}", "request_key": fresh_key()})
            due[what] = monotonic() + {"look": LOOKS_EVERY_S, "page": PAGE_EVERY_S, "act": ACT_EVERY_S}[what]
        self.connection.close()
        return self.seen


def clients_of(server: Served, folder: Path, many: int) -> list[Client]:
    """Return so many clients of a server."""
    headers = session_of(folder)
    return [Client(server.client(number), headers) for number in range(many)]


def crowd(server: Served, folder: Path, seconds: float) -> Seen:
    """Return how everybody was answered who was there for some seconds."""
    clients, ends_at, seen = clients_of(server, folder, CLIENTS), monotonic() + seconds, Seen()
    with ThreadPoolExecutor(CLIENTS) as pool:
        for one in pool.map(lambda pair: pair[1].live(pair[0], ends_at), enumerate(clients)):
            seen.add(one)
    return seen


def pressed(server: Served, folder: Path, requests: int) -> tuple[float, Seen]:
    """Return how many of so many requests were answered a second when nobody pauses."""
    clients, began, seen = clients_of(server, folder, AT_ONCE), monotonic(), Seen()

    def ask(client: Client) -> Seen:
        for number in range(requests // AT_ONCE):
            client.ask(NEWS if number % 4 else PAGES[number // 4 % len(PAGES)])
        client.connection.close()
        return client.seen

    with ThreadPoolExecutor(AT_ONCE) as pool:
        for one in pool.map(ask, clients):
            seen.add(one)
    return requests / (monotonic() - began), seen


@contextmanager
def on_postgresql(folder: Path, made: Path) -> Iterator[tuple[Path, str]]:
    """Move a copy of the shop to a PostgreSQL by archive and restore."""
    with postgres.own_server(durable=True) as server, postgres.database(server.address) as url:
        ours = copied(folder, made / "postgresql")
        move(ours, url)
        yield ours, url


def row(name: str, server: Served, folder: Path, seconds: float) -> str:
    """Return the row of one way to serve."""
    pressed(server, folder, 160)
    seen = crowd(server, folder, seconds)
    most = quantiles(seen.took, n=100)[98]
    memory = server.memory_mb
    a_second, hurried = pressed(server, folder, FEW)
    said = "" if most < 1 and not seen.wrong and not hurried.wrong else "over 1 s" if most >= 1 else "errors"
    return (
        f"| {name} | {len(seen.took)} | {seen.wrong} | {1000 * median(seen.took):.0f} | {1000 * most:.0f} "
        f"| {memory:.0f} | {a_second:.0f} | {hurried.wrong} | {said} |"
    )


def main() -> None:
    """Measure, print, and write docs/speed_clients.md."""
    folder, seconds = Path(sys.argv[1]), float(sys.argv[2]) if len(sys.argv) > 2 else SECONDS
    lines = [
        "# Speed with many clients",
        "",
        f"Written by `python -m tests.bench.bench_clients SHOP`. {CLIENTS} tablets and browsers for {seconds:.0f} s",
        "each: every other one asks for news each 1.2 s, all open a page each 15 s and record something each minute.",
        f"Then {AT_ONCE} clients ask without a pause, one request in four a page. Clients, service and database share",
        "two cores.",
        "",
        "| served by | requests | errors | median, ms | 99 %, ms | MB | a second without a pause | errors | |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    with tempfile.TemporaryDirectory(dir=folder.parent) as made:
        ours = copied(folder, Path(made) / "sqlite")
        with shop_served(ours) as server:
            lines.append(row("SQLite, one process", server, ours, seconds))
            pressed(server, ours, FEW)
            few = server.memory_mb
            pressed(server, ours, MANY if seconds >= SECONDS else FEW)
            memory = (
                f"Memory of that one process after {FEW:,} requests: {few:.0f} MB; after {MANY:,} more: {{:.0f}} MB."
            )
            memory = memory.format(server.memory_mb)
        with on_postgresql(folder, Path(made)) as (moved, url):
            for workers in (1, 2, 4):
                with shop_served(moved, url, workers=workers) as server:
                    name = f"PostgreSQL, {workers} process{'' if workers == 1 else 'es'}"
                    lines.append(row(name, server, moved, seconds))
    lines += ["", memory]
    sys.stdout.write("\n".join([*lines, ""]))
    REPORT.write_text("\n".join([*lines, ""]))


if __name__ == "__main__":
    main()
