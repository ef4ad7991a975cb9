"""How long tables of a big shop take, and how much memory: ``python -m tests.bench.bench_tables docs [BLOCKS]``.

It makes a shop of 100,000 blocks, writes a workbook of all its readings in a process of its own, so that the memory
told is its own, takes a table of 10,000 older readings in, and writes docs/tables_speed.md. With ``write SHOP FORM``
(csv, xlsx, json) it says what one table of a shop that is there takes.
"""

import json
import resource
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from secrets import token_hex
from tempfile import TemporaryDirectory
from time import process_time

from service.cli.installation import quick_start
from service.desk.doorway import Caller, Role, Via
from service.paper import exporting

BLOCKS, IMPORTED, STEPS = 100_000, 10_000, 5_000_000
MOST_S, MOST_MB = 20, 200
HEAD = """# Speed of tables

Written by `python -m tests.bench.bench_tables docs` with a shop that `tests.bench.big_shop` made, on SQLite. Seconds
are of processor time, each of a process of its own, with the start of it left out. An empty loop of 5,000,000 steps
took {slow:.2f} s just before: on a machine that is busy with other work everything takes longer. The jobs of that shop
are copies of one, so their readings repeat more often than those of a real shop.

| what | seconds of the processor | at most | peak memory, MB | at most | file, MB |
|---|---|---|---|---|---|
"""


def _caller(folder: Path) -> Caller:
    from service.app import open_stores
    from service.desk.signing_in.sessions import shop_facts
    from service.settings import Settings

    stores = open_stores(
        Settings(data=folder, database_url=f"sqlite:///{folder / 'shop.sqlite'}"), lambda: datetime.now(UTC)
    )
    nobody = Caller(stores=stores, via=Via.COMMAND, request_id=token_hex(8), role=Role.OWNER)
    return replace(nobody, shop=shop_facts(nobody))


def write(folder: Path, form: str) -> None:
    """Write all readings in one form and say what it took."""
    with quick_start():
        caller = _caller(folder)
    with TemporaryDirectory() as there:
        file = Path(there) / f"readings.{form}"
        began = process_time()
        jobs = exporting.shop_to(caller, file, form=form)
        told = {"form": form, "jobs": jobs, "busy_s": process_time() - began, "mb": file.stat().st_size / 1e6}
    told["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    sys.stdout.write(json.dumps(told) + "\n")


def _asked(*words: str) -> dict[str, float]:
    done = subprocess.run([sys.executable, "-m", *words], check=True, capture_output=True, text=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def _readings(folder: Path) -> int:
    from sqlalchemy import text

    with _caller(folder).stores.read.connect() as connection:
        return int(connection.execute(text("SELECT count(*) FROM block")).scalar_one())


def empty_loop_s() -> float:
    """Return the seconds of the processor that an empty loop takes: how fast this machine is just now."""
    began = process_time()
    for _ in range(STEPS):
        pass
    return process_time() - began


def against(value: float, most: float, *, digits: int) -> str:
    """Return a figure and its limit as two cells, with a mark where it is over."""
    return f"{value:.{digits}f}{' **over**' if value > most else ''} | {most:g}"


def main() -> None:
    """Write a workbook, take a table in, and write down what both took."""
    if sys.argv[1] == "write":
        write(Path(sys.argv[2]), sys.argv[3])
        return
    docs, blocks = Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else BLOCKS
    with TemporaryDirectory() as there:
        shop = Path(there)
        subprocess.run([sys.executable, "-m", "tests.bench.big_shop", there, str(blocks)], check=True)
        readings, lines = _readings(shop), [HEAD.format(slow=empty_loop_s())]
        told = _asked("tests.bench.bench_tables", "write", there, "xlsx")
    figures = f"{against(told['busy_s'], MOST_S, digits=1)} | {against(told['peak_mb'], MOST_MB, digits=0)}"
    lines.append(f"| {readings:,} readings of {told['jobs']:,} jobs to XLSX | {figures} | {told['mb']:.0f} |\n")
    told = _asked("tests.bench.bench_import", str(IMPORTED))
    figures = f"{against(told['busy_s'], MOST_S, digits=1)} | {told['peak_mb']:.0f} | - | {told['mb']:.1f}"
    lines.append(f"| {IMPORTED:,} older readings in from CSV | {figures} |\n")
    (docs / "tables_speed.md").write_text("".join(lines))


if __name__ == "__main__":
    main()
