"""Print what recording a crushing takes beside a bare durable insert, and write docs/speed_writes.md.

``python -m tests.bench.bench_writes SHOP [ROUNDS]`` with a folder made by tests.bench.big_shop, on SQLite and on a
PostgreSQL of its own that waits for its disk. Ours and the bare service are asked in turn by 1, 4, 16 and 64 clients.
"""

import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, field
from itertools import islice
from pathlib import Path
from statistics import median
from time import monotonic
from urllib.parse import urlencode
from uuid import UUID

from sqlalchemy import Engine, text

from service.records.archive_file import write
from service.records.archive_restore import restore
from service.records.base import now
from service.records.database import migrate, open_engines
from service.records.files import FileStore
from tests import postgres
from tests.bench.serving import Served, copied, fresh_key, served_apart, session_of, shop_served
from tests.postgres import free_port

ROUNDS = 5
CLIENTS = (1, 4, 16, 64)
ACTS = {1: 60, 4: 100, 16: 200, 64: 320}
WANTED = {"API": 0.45, "form": 0.4}
REPORT = Path(__file__).resolve().parents[2] / "docs" / "speed_writes.md"
READING = {"outcome": "broke", "state": "as cured", "orientation": "flat", "faces": "bare", "peak_read": "watched"}

# Blocks that may be crushed, and a gauge of a press that crushes.
BLOCKS = """
SELECT block.id FROM block JOIN recipe_group ON recipe_group.id = block.recipe_group_id
WHERE recipe_group.test IS NULL AND block.lost_at IS NULL
AND NOT EXISTS (SELECT 1 FROM crushing WHERE crushing.block_id = block.id AND crushing.ended_at IS NULL)
AND NOT EXISTS (SELECT 1 FROM soak WHERE soak.block_id = block.id)
AND NOT EXISTS (SELECT 1 FROM flexure WHERE flexure.block_id = block.id)
AND NOT EXISTS (SELECT 1 FROM erosion WHERE erosion.block_id = block.id)
AND NOT EXISTS (SELECT 1 FROM wet_dry_cycle WHERE wet_dry_cycle.block_id = block.id)
ORDER BY block.label
"""
TAKE_BACK = """
UPDATE crushing SET ended_at = crushed_at, ended_by = crushed_by, ended_because = 'again'
WHERE press_session_id = :id AND ended_at IS NULL
"""
GAUGE = "SELECT gauge_id FROM press_session ORDER BY opened_at DESC LIMIT 1"


@dataclass
class Shop:
    """A shop that is written into, and the bare service beside it on the same kind of database and disk."""

    kind: str
    ours: Served
    bare: Served
    engine: Engine
    headers: dict[str, str]
    blocks: list[str]
    press_session_id: str
    found: dict[tuple[str, int, str], list[tuple[float, float]]] = field(default_factory=dict)

    def fresh(self) -> None:
        """Take back what was crushed, behind the shop's back, so that the same blocks can be crushed again."""
        with self.engine.begin() as connection:
            connection.execute(text(TAKE_BACK), {"id": self._kept(self.press_session_id)})

    def _kept(self, sent: str) -> object:
        return UUID(sent).hex if self.engine.dialect.name == "sqlite" else UUID(sent)


@contextmanager
def on_sqlite(folder: Path, made: Path) -> Iterator[Shop]:
    """Serve a copy of the shop as it is."""
    ours = copied(folder, made / "sqlite")
    with _served("SQLite", ours, f"sqlite:///{ours / 'shop.sqlite'}", f"sqlite:///{made / 'bare.sqlite'}") as shop:
        yield shop


@contextmanager
def on_postgresql(folder: Path, made: Path) -> Iterator[Shop]:
    """Move the shop to a PostgreSQL by archive and restore, and serve it there."""
    with postgres.own_server(durable=True) as server, ExitStack() as stack:
        url, bare = (stack.enter_context(postgres.database(server.address)) for _ in range(2))
        ours = copied(folder, made / "postgresql")
        move(ours, url)
        with _served("PostgreSQL", ours, url, bare) as shop:
            yield shop


def move(folder: Path, url: str) -> None:
    """Move a shop of a folder to another database."""
    migrate(f"sqlite:///{folder / 'shop.sqlite'}")
    engines, files = open_engines(f"sqlite:///{folder / 'shop.sqlite'}"), FileStore(str(folder / "files"))
    archive = folder / "archive.zip"
    with engines.read.connect() as connection:
        write(connection, files, archive, at=now())
    engines.dispose()
    restore(archive, url=url, files=files)
    archive.unlink()


@contextmanager
def _served(kind: str, folder: Path, url: str, bare_url: str) -> Iterator[Shop]:
    port = free_port()
    apart = served_apart("-m", "tests.bench.bare_writes", str(port), bare_url, port=port)
    with shop_served(folder, url) as ours, apart as bare:
        engines = open_engines(url)
        with engines.read.connect() as connection:
            blocks = [str(UUID(str(one))) for one in connection.scalars(text(BLOCKS))]
            gauge = str(UUID(str(connection.scalar(text(GAUGE)))))
        headers = session_of(folder)
        opened = json.dumps({"gauge_id": gauge, "zero_before_mpa": 0.0})
        answer = _sent(ours, "/api/v1/press-sessions", opened, {**headers, **_as_json()})
        yield Shop(kind, ours, bare, engines.write, headers, blocks, json.loads(answer)["id"])
        engines.dispose()


def _as_json() -> dict[str, str]:
    return {"content-type": "application/json", "idempotency-key": fresh_key()}


def _sent(server: Served, path: str, body: str, headers: dict[str, str]) -> bytes:
    with closing(server.client()) as client:
        client.request("POST", path, body, headers)
        answer = client.getresponse()
        said = answer.read()
        if answer.status not in (201, 303):
            raise RuntimeError(f"{path}: {answer.status} {said[:300]!r}")
        return said


def _request(shop: Shop, way: str, block: str) -> tuple[str, str, dict[str, str]]:
    """Return address, body and headers of one crushing."""
    told = READING | {"press_session_id": shop.press_session_id}
    if way == "API":
        headers = shop.headers | _as_json()
        return f"/api/v1/blocks/{block}/crushings", json.dumps(told | {"gauge_mpa": 5.5, "mass_kg": 2.4}), headers
    form = told | {"gauge_mpa": "5.5", "gauge_mpa_unit": "MPa", "mass_kg": "2.4", "mass_kg_unit": "kg"}
    form["request_key"] = fresh_key()
    headers = shop.headers | {"content-type": "application/x-www-form-urlencoded"}
    return f"/blocks/{block}/crushings", urlencode(form), headers


def measure(shop: Shop, server: Served, way: str, clients: int) -> tuple[float, float]:
    """Return how many crushings a second were acknowledged, and the processor time of one in milliseconds."""
    acts = ACTS[clients]
    asked = [_request(shop, way, block) for block in islice(_endless(shop.blocks), acts)]
    shares = [asked[number::clients] for number in range(clients)]
    connections = [server.client(number) for number in range(clients)]

    def send(number: int) -> None:
        client = connections[number]
        for path, body, headers in shares[number]:
            client.request("POST", path, body, headers)
            answer = client.getresponse()
            said = answer.read()
            if answer.status not in (201, 303):
                raise RuntimeError(f"{path}: {answer.status} {said[:300]!r}")

    with ThreadPoolExecutor(clients) as pool:
        took, began = server.processor_s, monotonic()
        list(pool.map(send, range(clients)))
        wall, took = monotonic() - began, server.processor_s - took
    for client in connections:
        client.close()
    return acts / wall, 1000 * took / acts


def _endless(blocks: list[str]) -> Iterator[str]:
    if len(blocks) < max(ACTS.values()):
        raise RuntimeError(f"The shop has {len(blocks)} blocks that wait; {max(ACTS.values())} are needed.")
    yield from blocks


def round_of(shop: Shop, clients: int) -> None:
    """Ask ours and the bare service in turn, by API and by form."""
    for way in WANTED:
        for name, server in (("ours", shop.ours), ("bare", shop.bare)):
            shop.fresh()
            shop.found.setdefault((way, clients, name), []).append(measure(shop, server, way, clients))


def rows_of(shop: Shop) -> list[str]:
    """Return the rows of one database."""
    rows = []
    for way, wanted in WANTED.items():
        for clients in CLIENTS:
            ours, bare = (shop.found[way, clients, name] for name in ("ours", "bare"))
            ratio = median(one[0] / other[0] for one, other in zip(ours, bare, strict=True))
            a_second, took = (median(column) for column in zip(*ours, strict=True))
            bare_a_second, bare_took = (median(column) for column in zip(*bare, strict=True))
            said = "" if ratio >= wanted else f"under {wanted:g}"
            rows.append(
                f"| {shop.kind} | {way} | {clients} | {a_second:.0f} | {bare_a_second:.0f} | {ratio:.2f} "
                f"| {took:.1f} | {bare_took:.1f} | {bare_took / took:.2f} | {said} |"
            )
    return rows


def main() -> None:
    """Measure, print, and write docs/speed_writes.md."""
    folder, rounds = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else ROUNDS
    lines = [
        "# Speed of writing",
        "",
        "Written by `python -m tests.bench.bench_writes SHOP`. A crushing recorded, acknowledged and on the disk,",
        "beside a bare FastAPI and SQLModel insert of the same columns on the same disk, asked in turn; medians of "
        f"{rounds} rounds.",
        "Wanted: 0.45 of its throughput by API, 0.4 by form. Processor time is that of the service alone.",
        "",
        "| database | way | clients | a second | bare, a second | throughput over bare | ms of processor | bare, ms "
        "| bare over ours | |",
        "|---|---|---|---|---|---|---|---|---|---|",
    ]
    places: tuple[Callable[..., object], ...] = (on_sqlite, on_postgresql)
    for place in places:
        with tempfile.TemporaryDirectory(dir=folder.parent) as made, place(folder, Path(made)) as shop:  # type: ignore[attr-defined]
            for clients in (*CLIENTS[:1], *CLIENTS * rounds):
                round_of(shop, clients)
            rows = rows_of(shop)
        sys.stdout.write("\n".join([*rows, ""]))
        sys.stdout.flush()
        lines += rows
    REPORT.write_text("\n".join([*lines, ""]))


if __name__ == "__main__":
    main()
