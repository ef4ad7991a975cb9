"""How long tables of a big shop take, and how much memory: ``python -m tests.bench.bench_tables FOLDER``.

FOLDER holds a shop that ``tests.bench.big_shop`` made. A workbook is written by a process of its own, so that the
memory told is its own; then a table of 10,000 older readings is taken in. It writes docs/tables_speed.md. With a form
behind FOLDER (csv, xlsx, json) it says what that one takes.
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

DOCS = Path(__file__).parents[2] / "docs" / "tables_speed.md"
IMPORTED, STEPS = 10_000, 5_000_000
HEAD = """# Speed of tables

Written by `python -m tests.bench.bench_tables FOLDER` with a shop that `tests.bench.big_shop` made, on SQLite. Seconds
are of processor time, each of a process of its own, with the start of it left out. An empty loop of 5,000,000 steps
took {slow:.2f} s just before: on a machine that is busy with other work everything takes longer.

| what | seconds of the processor | wanted | peak memory, MB | wanted | file, MB |
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


def main() -> None:
    """Write a workbook, take a table in, and write down what both took."""
    folder = Path(sys.argv[1])
    if len(sys.argv) == 3:
        write(folder, sys.argv[2])
        return
    began = process_time()
    for _ in range(STEPS):
        pass
    lines = [HEAD.format(slow=process_time() - began)]
    readings = _readings(folder)
    told = _asked("tests.bench.bench_tables", str(folder), "xlsx")
    figures = f"{told['busy_s']:.1f} | 20 | {told['peak_mb']:.0f} | 200 | {told['mb']:.0f}"
    lines.append(f"| {readings:,} readings of {told['jobs']:,} jobs to XLSX | {figures} |\n")
    told = _asked("tests.bench.bench_import", str(IMPORTED))
    figures = f"{told['busy_s']:.1f} | 20 | {told['peak_mb']:.0f} |  | {told['mb']:.1f}"
    lines.append(f"| {IMPORTED:,} older readings in from CSV | {figures} |\n")
    DOCS.write_text("".join(lines))


if __name__ == "__main__":
    main()
