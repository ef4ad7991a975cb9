"""Make a shop of any size in SQLite: the demo told once, then whole jobs of it copied in bulk.

``python -m tests.bench.big_shop FOLDER BLOCKS`` writes FOLDER/shop.sqlite with about BLOCKS blocks, or lets the one
that is there grow: fifty jobs are open, all others closed. A copied job has everything its pattern has, from sacks to
crushings and the issued result, each row with an id of its own; the trail is not copied, for its chain is made by acts.
"""

import json
import re
import sqlite3
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from time import process_time
from uuid import uuid4

from service.records.database import METADATA, migrate
from tests.demo_pages import told

IN_HAND = 50
JOBS_OF_A_CUSTOMER = 10
BATCH = 500
# Everything old was done so long before the demo.
OLDER = timedelta(days=400)
ID = re.compile(r"[0-9a-f]{32}")
LABEL = re.compile(r"^(J?)\d+(-.*)$")
# What belongs to a person, to the shop or to the trail is shared by all jobs.
SHARED = {"trail", "replay", "ticket", "customer", "person", "correction", "outbox", "file", "photo", "unfinished"}
Row = dict[str, object]


@dataclass
class Pattern:
    """A job with all its rows, table by table in the order in which they can be inserted."""

    job_id: str
    rows: dict[str, list[Row]]
    ids: set[str] = field(default_factory=set)

    @property
    def blocks(self) -> int:
        """How many blocks it has."""
        return len(self.rows.get("block", []))


def pattern_of(shop: sqlite3.Connection, job_id: str) -> Pattern:
    """Return a job with every row that belongs to it, and to the soils of its sacks."""
    pattern = Pattern(job_id, {"job": _rows(shop, "SELECT * FROM job WHERE id = ?", job_id)}, {job_id})
    soils = _rows(
        shop,
        """SELECT * FROM material WHERE customer_id IS NOT NULL
        AND id IN (SELECT material_id FROM receipt WHERE job_id = ?)""",
        job_id,
    )
    pattern.rows["material"] = soils
    pattern.ids |= {str(soil["id"]) for soil in soils}
    for table in METADATA.sorted_tables:
        if table.name in SHARED | set(pattern.rows):
            continue
        owners = [fk.parent.name for fk in table.foreign_keys if fk.column.table.name in pattern.rows]
        found = [
            row
            for row in _rows(shop, f"SELECT * FROM {table.name}")
            if any(row[owner] in pattern.ids for owner in owners)
        ]
        if found:
            pattern.rows[table.name] = found
            pattern.ids |= {str(row["id"]) for row in found if "id" in row}
    return pattern


def _rows(shop: sqlite3.Connection, question: str, *given: str) -> list[Row]:
    answer = shop.execute(question, given)
    names = [column[0] for column in answer.description]
    return [dict(zip(names, row, strict=True)) for row in answer]


def copies(pattern: Pattern, *, numbers: range, customers: list[str], closed: bool) -> Iterator[dict[str, list[Row]]]:
    """Yield the rows of so many copies, some at once."""
    dated = {
        table: {column.name for column in METADATA.tables[table].columns if closed and "DATE" in str(column.type)}
        for table in pattern.rows
    }
    for first in range(numbers.start, numbers.stop, BATCH):
        made: dict[str, list[Row]] = {table: [] for table in pattern.rows}
        for number in range(first, min(first + BATCH, numbers.stop)):
            ids = {old: uuid4().hex for old in pattern.ids}
            customer = customers[number // JOBS_OF_A_CUSTOMER % len(customers)]
            for table, rows in pattern.rows.items():
                made[table] += [_copied(row, ids, number, dated[table]) for row in rows]
            job = made["job"][-1]
            job |= {"number": number, "customer_id": customer, "site": f"{job['site']}, lot {number}"}
            if closed:
                job |= {"closed_at": job["created_at"], "closed_because": "answered"}
            for soil in made["material"][-len(pattern.rows["material"]) :] if pattern.rows["material"] else []:
                soil |= {"customer_id": customer}
        yield made


def _copied(row: Row, ids: dict[str, str], number: int, older: set[str]) -> Row:
    copy = dict(row)
    for name, value in row.items():
        if isinstance(value, str):
            if len(value) == 32 and value in ids:
                copy[name] = ids[value]
            elif name == "label" and (read := LABEL.match(value)):
                copy[name] = f"{read[1]}{number}{read[2]}"
            elif name in older and len(value) >= 10:
                copy[name] = _older(value)
    return copy


_KNOWN: dict[str, str] = {}


def _older(text: str) -> str:
    known = _KNOWN.get(text)
    if known is None:
        moment = datetime.fromisoformat(text) - OLDER
        known = _KNOWN[text] = moment.date().isoformat() if len(text) == 10 else str(moment)
        if "." in text and "." not in known:
            known = _KNOWN[text] = f"{known}.000000"
    return known


def make(folder: Path) -> None:
    """Tell the demo into a folder and add the jobs in hand; the secrets of its sessions are written beside it."""
    folder.mkdir(parents=True, exist_ok=True)
    migrate(f"sqlite:///{folder / 'shop.sqlite'}")
    with told(folder) as demo:
        (folder / "sessions.json").write_text(json.dumps(demo.sessions))
    with _opened(folder) as shop:
        _, fresh = _patterns(shop)
        _copy(shop, fresh, many=IN_HAND, closed=False)


def grow(folder: Path, *, blocks: int) -> None:
    """Add closed jobs until the shop has about so many blocks."""
    with _opened(folder) as shop:
        old, _ = _patterns(shop)
        have = shop.execute("SELECT count(*) FROM block").fetchone()[0]
        _copy(shop, old, many=max(0, round((blocks - have) / old.blocks)), closed=True)


@contextmanager
def _opened(folder: Path) -> Iterator[sqlite3.Connection]:
    with closing(sqlite3.connect(folder / "shop.sqlite")) as shop:
        shop.executescript("PRAGMA journal_mode=OFF; PRAGMA synchronous=OFF; PRAGMA cache_size=-200000;")
        yield shop
        shop.commit()


def _copy(shop: sqlite3.Connection, pattern: Pattern, *, many: int, closed: bool) -> None:
    first = shop.execute("SELECT max(number) FROM job").fetchone()[0] + 1
    customers = _customers(shop, many // JOBS_OF_A_CUSTOMER + 1)
    for made in copies(pattern, numbers=range(first, first + many), customers=customers, closed=closed):
        for table, rows in made.items():
            _insert(shop, table, rows)


def _patterns(shop: sqlite3.Connection) -> tuple[Pattern, Pattern]:
    """Return the demo's job that was issued with most blocks, and the one with most blocks that still wait."""
    issued = "SELECT job_id FROM issued_result"
    crushed = "SELECT block_id FROM crushing WHERE ended_at IS NULL"
    per_job = """SELECT recipe.job_id FROM block JOIN batch ON batch.id = block.batch_id
        JOIN recipe ON recipe.id = batch.recipe_id WHERE {} GROUP BY recipe.job_id ORDER BY count(*) DESC LIMIT 1"""
    old = shop.execute(per_job.format(f"recipe.job_id IN ({issued})")).fetchone()[0]
    fresh = shop.execute(per_job.format(f"block.id NOT IN ({crushed}) AND recipe.job_id NOT IN ({issued})")).fetchone()[
        0
    ]
    return pattern_of(shop, old), pattern_of(shop, fresh)


def _customers(shop: sqlite3.Connection, many: int) -> list[str]:
    one = _rows(shop, "SELECT * FROM customer LIMIT 1")[0]
    made = [one | {"id": uuid4().hex, "name": f"Invented customer {uuid4().hex[:8]}"} for _ in range(many)]
    _insert(shop, "customer", made)
    return [str(row["id"]) for row in made]


def _insert(shop: sqlite3.Connection, table: str, rows: list[Row]) -> None:
    if rows:
        question = f"INSERT INTO {table} ({', '.join(rows[0])}) VALUES ({', '.join('?' * len(rows[0]))})"
        shop.executemany(question, [tuple(row.values()) for row in rows])


def main() -> None:
    """Make a shop, or let one that is there grow, and say how long it took."""
    folder, blocks = Path(sys.argv[1]), int(sys.argv[2])
    began = process_time()
    if not (folder / "shop.sqlite").exists():
        make(folder)
    grow(folder, blocks=blocks)
    with _opened(folder) as shop:
        count = shop.execute("SELECT (SELECT count(*) FROM block), (SELECT count(*) FROM job)").fetchone()
    sys.stdout.write(f"{count[0]:,} blocks in {count[1]:,} jobs, {process_time() - began:.0f} s of processor time\n")


if __name__ == "__main__":
    main()
