"""Print what each page takes in a big shop over a small one, and write docs/speed.md.

``python -m tests.bench.bench_growth FOLDER [BLOCKS] [ROUNDS]`` makes a small shop and one of so many blocks in the
folder, unless they are there. They are asked in turn, so that a busy moment meets both; times are of the processor, the
smallest of all rounds, without what the client takes for an address that does nothing. What is over its ratio is asked
as often again, for a busy machine tells falsely. Statements and the milliseconds they take stand beside it.
"""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from os import cpu_count, getloadavg
from pathlib import Path
from time import process_time, thread_time
from typing import Any
from uuid import UUID

from fastapi.testclient import TestClient
from sqlalchemy import event, text

from service.app import create_app, open_stores
from service.desk.doorway import Stores
from service.records.database import migrate
from service.settings import Settings
from service.web.cookies import COOKIE
from tests.bench import big_shop
from tests.bench.bench_bare import NOTHING, beside_bare
from tests.bench.bench_start import starts

ROUNDS = 5
SMALL, BIG = 1_000, 1_000_000
ALLOWED, ALLOWED_OF_THE_PAST = 1.2, 2.0
OF_THE_PAST = ("/search", "/jobs/closed")
REPORT = Path(__file__).resolve().parents[2] / "docs" / "speed.md"

# An open job with blocks that wait, one of its batches, recipes and blocks, its customer, sack and soil.
PLACES = """
SELECT job.id AS job, job.customer_id AS customer, receipt.id AS sack, receipt.material_id AS soil, recipe.id AS recipe,
    batch.id AS batch, block.id AS block
FROM job JOIN receipt ON receipt.job_id = job.id JOIN recipe ON recipe.job_id = job.id
JOIN batch ON batch.recipe_id = recipe.id JOIN block ON block.batch_id = batch.id
WHERE job.closed_at IS NULL ORDER BY job.number DESC, recipe.label, block.label LIMIT 1
"""
PAGES = (
    *("/", "/jobs/closed", "/search?q=lot", "/today", "/curing", "/crushing", "/customers", "/customers/{customer}"),
    *("/people", "/jobs/new", "/presses", "/materials", "/codes", "/soil-limits", "/backups", "/you", "/jobs/{job}"),
    *("/jobs/{job}/asked", "/jobs/{job}/intake", "/jobs/{job}/plan", "/jobs/{job}/mixing", "/jobs/{job}/curing"),
    *("/jobs/{job}/crushing", "/jobs/{job}/results", "/jobs/{job}/photos", "/jobs/{job}/next", "/sacks/{sack}"),
    *("/soils/{soil}", "/recipes/{recipe}/site", "/batches/{batch}", "/batches/{batch}/labels", "/blocks/{block}"),
    *("/blocks/{block}/tests", "/api/v1/jobs", "/api/v1/customers", "/api/v1/customers/{customer}", "/api/v1/curing"),
    *("/api/v1/crushings/queue", "/api/v1/jobs/{job}", "/api/v1/jobs/{job}/recipes", "/api/v1/jobs/{job}/batches"),
    *("/api/v1/jobs/{job}/results", "/api/v1/batches/{batch}", "/api/v1/blocks/{block}"),
    *("/api/v1/blocks/{block}/tests", "/api/v1/soils/{soil}", "/api/v1/presses"),
)


@dataclass
class Shop:
    """A shop that is asked: a browser of its owner, its ids, and what its database was asked."""

    client: TestClient
    stores: Stores
    ids: dict[str, str]
    blocks: int
    statements: int = 0
    sql_s: float = 0.0
    took: dict[str, list[float]] = field(default_factory=dict)

    def ask(self, path: str) -> tuple[int, int]:
        """Ask for a page, note what it took, and return its status and how many bytes it has."""
        self.statements, self.sql_s = 0, 0.0
        began = process_time()
        answer = self.client.get(path.format(**self.ids))
        self.took.setdefault(path, []).append(process_time() - began)
        return answer.status_code, len(answer.content)

    def least(self, path: str) -> float:
        """Return the least that a page took; the first time is left out: templates are read and statements written."""
        return min(self.took[path][1:])


@contextmanager
def opened(folder: Path) -> Iterator[Shop]:
    """Open a shop that big_shop made."""
    settings = Settings(data=folder, database_url=f"sqlite:///{folder / 'shop.sqlite'}", address="http://127.0.0.1")
    stores = open_stores(settings)
    secret = json.loads((folder / "sessions.json").read_text())["owner"]
    client = TestClient(create_app(settings, stores), base_url="http://127.0.0.1", cookies={COOKIE: secret})
    with stores.read.connect() as connection:
        found = connection.execute(text(PLACES)).mappings().one()
        blocks = connection.scalar(text("SELECT count(*) FROM block"))
    shop = Shop(client, stores, {name: str(UUID(str(value))) for name, value in found.items()}, blocks)

    def before(connection: Any, cursor: Any, statement: str, parameters: Any, context: Any, many: bool) -> None:
        context.began = thread_time()

    def after(connection: Any, cursor: Any, statement: str, parameters: Any, context: Any, many: bool) -> None:
        shop.statements += 1
        shop.sql_s += thread_time() - context.began

    event.listen(stores.read, "before_cursor_execute", before)
    event.listen(stores.read, "after_cursor_execute", after)
    yield shop
    stores.read.dispose()
    stores.write.dispose()


def measured(small: Shop, big: Shop, rounds: int) -> list[str]:
    """Return one row of the table for each page."""
    rows = []
    for shop in (small, big):
        for _ in range(10 * rounds):
            shop.ask(NOTHING)
    frame = min(small.least(NOTHING), big.least(NOTHING))
    for path in PAGES:
        counted: list[tuple[int, float, int]] = []
        for _ in range(rounds + 1):
            counted = []
            for shop in (small, big):
                status, size = shop.ask(path)
                counted.append((shop.statements, shop.sql_s, size))
        allowed = ALLOWED_OF_THE_PAST if path.startswith(OF_THE_PAST) else ALLOWED
        low, high = (shop.least(path) - frame for shop in (small, big))
        if high > allowed * low:
            for _ in range(3 * rounds):
                small.ask(path)
                big.ask(path)
            low, high = (shop.least(path) - frame for shop in (small, big))
        ratio = high / low
        sql = " / ".join(f"{1000 * seconds:.1f}" for _, seconds, _ in counted)
        # A list that fills its page in the big shop alone is more page, and takes longer for that.
        bytes_of = " / ".join(f"{size / 1000:.0f}" for _, _, size in counted)
        said = "" if ratio <= allowed else f"over {allowed:g}"
        rows.append(
            f"| `{path}`{'' if status == 200 else f' ({status})'} | {1000 * low:.1f} | {1000 * high:.1f} | {ratio:.2f} "
            f"| {counted[1][0]} | {sql} | {bytes_of} | {said} |"
        )
        sys.stdout.write(f"{rows[-1]}\n")
        sys.stdout.flush()
    return rows


def made(folder: Path, blocks: int) -> Path:
    """Return the folder of a shop of so many blocks, which is made unless it is there."""
    if not (folder / "sessions.json").exists():
        big_shop.make(folder)
        big_shop.grow(folder, blocks=blocks)
    migrate(f"sqlite:///{folder / 'shop.sqlite'}")
    return folder


def main() -> None:
    """Make the shops, measure, print, and write docs/speed.md."""
    folder, blocks, rounds = (*sys.argv[1:4], *(str(BIG), str(ROUNDS))[len(sys.argv) - 2 :])
    _write(Path(folder), blocks=int(blocks), rounds=int(rounds))


def _write(folder: Path, *, blocks: int, rounds: int) -> None:
    began = starts()
    sys.stdout.write("\n".join([*began, "", ""]))
    places = made(folder / "small", SMALL), made(folder / "big", blocks)
    busy = f"{getloadavg()[0]:.1f} processes waited for {cpu_count()} cores"
    with opened(places[0]) as small, opened(places[1]) as big:
        head = [
            "# Speed",
            "",
            "Written by `python -m tests.bench.bench_growth FOLDER`. Processor time of one request without what the",
            f"client takes, the least of {rounds} rounds in which both shops were asked in turn; the same fifty jobs",
            f"are open in both. When it began, {busy}: where more wait than there are, ratios say more.",
            "",
            f"## A shop of {big.blocks:,} blocks over one of {small.blocks:,}, SQLite",
            "",
            "| address | small, ms | big, ms | ratio | statements | SQL, ms, small / big | kB, small / big | |",
            "|---|---|---|---|---|---|---|---|",
        ]
        rows = measured(small, big, rounds)
        bare = beside_bare(small.client, small.stores.read, 4 * rounds)
        sys.stdout.write("\n".join([*bare, ""]))
        REPORT.write_text("\n".join([*head, *rows, "", *bare, "", *began, ""]))


if __name__ == "__main__":
    main()
