"""The table of what was drawn and sent: short with every run of the tests, long by ./run hostile."""

import logging
import os
import shutil
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from traceback import extract_tb, format_exception

import pytest

from tests.cast import Cast, enter
from tests.hostile.serving import served
from tests.hostile.shop import LONG

log = logging.getLogger(__name__)
TABLE = Path(__file__).parents[2] / "docs" / "hostile.md"
HEAD = """# Hostile input

Made by `tests/hostile/test_drawn.py`: `LOAMBOOK_WRITE_DOCS=1 ./run hostile` writes the lines of what it ran anew.
*Aims* is the number of forms or addresses for programs among which each request chose. *Short* is how many requests
`./run test` sends and *long* how many `./run hostile` sends at least; then what came of those of the last long run:
*taken* (answered with 2xx or 3xx), *refused* (4xx), *broken* (an error of the service, an answer of 5xx, no answer
within two minutes, something left by a refusal, something stored without its entry in the trail, or a page that
could not show afterwards what was taken).

| Sent | Database | Aims | Short | Long | Taken | Refused | Broken | Day |
| --- | --- | ---: | ---: | ---: | ---: | ---: | ---: | --- |
"""
FORMS, PROGRAMS, FOLLOWERS = "Forms and files", "Programs", "Programs that follow links"
DATABASES = {"sqlite": "SQLite", "postgresql": "PostgreSQL"}
# Starlette 1.10.0 leaves the file of a part that ends in the middle to whoever collects it; it is closed at once.
HALF_A_FILE = pytest.mark.filterwarnings("ignore:Unclosed file <tempfile.SpooledTemporaryFile:ResourceWarning")
# How many requests of each kind are sent on each database: short, long.
CASES = {FORMS: (120, 3_000), PROGRAMS: (120, 5_000), FOLLOWERS: (60, 2_000)}


@pytest.fixture(scope="module")
def lasting_address(filled: tuple[Cast, Path], tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Yield where a shop is served, one for a file of tests: what only a connection shows is no matter of databases."""
    folder = tmp_path_factory.mktemp("lasting")
    cast = enter(f"sqlite:///{shutil.copy(filled[1], folder / 'shop.sqlite')}", folder, filled[0])
    with served(cast, folder) as address:
        yield address


@dataclass
class Tally:
    """What was sent of one kind to one database, and what came of it."""

    kind: str
    database: str
    aims: int = 0
    answers: Counter[int] = field(default_factory=Counter)
    broken: Counter[str] = field(default_factory=Counter)

    @property
    def sent(self) -> int:
        """Return how many requests were sent."""
        return sum(self.answers.values())

    @contextmanager
    def noting(self, request: str) -> Iterator[None]:
        """Note what breaks a promise, with the request that did it, and go on: one find must not hide the next."""
        try:
            yield
        except Exception as bug:
            ours = [frame for frame in extract_tb(bug.__traceback__) if "/service/" in frame.filename]
            place = f"{Path(ours[-1].filename).name}:{ours[-1].lineno}" if ours else ""
            name = f"{type(bug).__name__} {place or str(bug)[:200]}"
            if name not in self.broken:
                told = "".join(format_exception(bug)[-12:])
                log.error("%s on %s: %s\n%s\n%s", self.kind, self.database, name, request[:4_000], told)
            self.broken[name] += 1
        if self.sent % 500 == 0:
            log.info("%s on %s: %d sent", self.kind, self.database, self.sent)

    def line(self) -> str:
        """Return its line of the table."""
        taken = sum(number for status, number in self.answers.items() if status < 400)
        refused = sum(number for status, number in self.answers.items() if 400 <= status < 500)
        counts = (self.aims, *CASES[self.kind], taken, refused, sum(self.broken.values()))
        day = datetime.now(UTC).date()
        return f"| {self.kind} | {self.database} | {' | '.join(str(count) for count in counts)} | {day} |"

    def settle(self) -> None:
        """Write its line where the environment asks for it; hold the last long run against what is promised."""
        if LONG and os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
            write(self)
        assert not self.broken
        assert self.sent >= CASES[self.kind][LONG]
        # Forms and addresses are the same on both databases, so the newest of the two long runs tells what is new.
        aims = max(int(row[2]) for row in rows() if row[0] == self.kind)
        assert self.aims <= 1.1 * aims, "A tenth of all aims are new since the last long run: run it again."


def rows() -> list[list[str]]:
    """Return the cells of each line of the table."""
    lines = TABLE.read_text("utf-8").partition("\n## ")[0].splitlines() if TABLE.exists() else []
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if line.startswith("|")][2:]


def write(tally: Tally) -> None:
    """Put the line of a tally in its place; lines of what was not run, and what stands below, stay as they are."""
    lines = {(row[0], row[1]): "| " + " | ".join(row) + " |" for row in rows()}
    lines[tally.kind, tally.database] = tally.line()
    order = [(kind, database) for kind in CASES for database in DATABASES.values()]
    below = TABLE.read_text("utf-8").partition("\n## ")
    drawn = HEAD + "".join(f"{lines[key]}\n" for key in order if key in lines)
    TABLE.write_text(drawn + "".join(below[1:]), "utf-8")
