"""Print what a shop of many years takes to archive, restore, verify and migrate, and write docs/speed_years.md.

``python -m tests.bench.bench_years SHOP [WORK...]`` with a folder made by tests.bench.big_shop. Each work is a process
of its own, run as an owner runs it; the operating system says what it took and how much memory it ever held.
"""

import os
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from time import monotonic

MOST_MB = 400
REPORT = Path(__file__).resolve().parents[2] / "docs" / "speed_years.md"
SECRET = "0123456789abcdefghijklmnopqrstuvwxyz"
COMMAND = "import sys; from service.cli import main; main()"
STEP_BACK = """
import sys
from alembic import command
from service.records.database import migrating, migration_config
with migrating(sys.argv[1]) as connection:
    command.downgrade(migration_config(connection), "-1")
"""
OWNER = """
import sys
from datetime import time
from pathlib import Path
from service.cli.installation import as_owner, read_settings
from service.desk.results import expected_strength
from service.desk import backups
from service.paper import archiving
with as_owner(read_settings()) as caller:
"""
NIGHT = (
    OWNER
    + """
    backups.is_due(caller, nightly_at=time(0)), backups.take_turn(caller)
    assert archiving.make(caller, folder=Path(sys.argv[1]))
"""
)
HISTORY = OWNER + "    expected_strength.compared(caller)\n"


@dataclass(frozen=True)
class Took:
    """What a process took: seconds on the clock and of the processor, and the most memory it held."""

    wall_s: float
    processor_s: float
    most_mb: float


def run(folder: Path, program: str, *words: str) -> Took:
    """Run a Python program on the shop of a folder, and say what it took."""
    environment = {**os.environ, "LOAMBOOK_DATA": str(folder), "LOAMBOOK_SECRET": SECRET}
    began = monotonic()
    process = subprocess.Popen([sys.executable, "-c", program, *words], env=environment, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        raise RuntimeError(f"{words}: ended with {process.returncode}")
    return Took(monotonic() - began, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024)


def works_of(folder: Path, made: Path) -> dict[str, Callable[[], Took]]:
    """Return what is done, in the order in which one needs the other."""
    archive, again = made / "shop.zip", made / "again"

    def migrate() -> Took:
        run(again, STEP_BACK, f"sqlite:///{again / 'shop.sqlite'}")
        return run(again, COMMAND, "migrate")

    return {
        "archive": lambda: run(folder, COMMAND, "archive", str(archive)),
        "archive --verify": lambda: run(folder, COMMAND, "archive", "--verify", str(archive)),
        "restore, SQLite": lambda: run(again, COMMAND, "restore", str(archive)),
        "log --verify": lambda: run(folder, COMMAND, "log", "--verify"),
        "migrate by one step": migrate,
        "nightly round": lambda: run(folder, NIGHT, str(made / "nights")),
        "history (8 s a look)": lambda: run(folder, HISTORY),
    }


def main() -> None:
    """Measure, print, and write docs/speed_years.md."""
    folder, only = Path(sys.argv[1]), sys.argv[2:]
    with closing(sqlite3.connect(folder / "shop.sqlite")) as shop:
        blocks, entries = shop.execute("SELECT (SELECT count(*) FROM block), (SELECT count(*) FROM trail)").fetchone()
    lines = [
        "# Speed over the years",
        "",
        "Written by `python -m tests.bench.bench_years SHOP`. Each work is a process of its own; memory is the most",
        "it ever held.",
        "",
        f"## A shop of {blocks:,} blocks with {entries:,} entries in its log",
        "",
        "| work | s | s of processor | MB | |",
        "|---|---|---|---|---|",
    ]
    with tempfile.TemporaryDirectory(dir=folder.parent) as made:
        run(folder, COMMAND, "migrate")
        for name, work in works_of(folder, Path(made)).items():
            if only and name not in only:
                continue
            took = work()
            said = "" if took.most_mb <= MOST_MB else f"over {MOST_MB} MB"
            lines.append(f"| {name} | {took.wall_s:.0f} | {took.processor_s:.0f} | {took.most_mb:.0f} | {said} |")
            sys.stdout.write(f"{lines[-1]}\n")
            sys.stdout.flush()
        size = (Path(made) / "shop.zip").stat().st_size / 1e6 if (Path(made) / "shop.zip").exists() else 0.0
    lines += ["", f"The archive has {size:.0f} MB."]
    REPORT.write_text("\n".join([*lines, ""]))


if __name__ == "__main__":
    main()
