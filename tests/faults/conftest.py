"""The table of faults, and how often each is tried: short with every run of the tests, long by ./run faults."""

import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.cast import Cast
from tests.faults.served import starting
from tests.faults.writers import Count

TABLE = Path(__file__).parents[2] / "docs" / "faults.md"
LONG = os.environ.get("LOAMBOOK_LONG") == "1"
WRITES = LONG and os.environ.get("LOAMBOOK_WRITE_DOCS") == "1"
HEAD = """# Faults

Made by the tests in `tests/faults`: `LOAMBOOK_WRITE_DOCS=1 ./run faults` writes the lines of what it ran anew. Every
line is of the long form; the short form, part of `./run test`, tries the same less often.
*Tried* counts writes that were acknowledged (each sent again with the same key until it was), *lost* those not
found afterwards under the id that was answered, *doubled* those found more than once. After every fault the trail
verifies and holds one entry for each reading; a SQLite file passes its quick check. The servers that are killed run
`loambook serve` in a process forked from one that has loaded the libraries already.

| Fault | Times | Tried | Lost | Doubled | How |
| --- | ---: | ---: | ---: | ---: | --- |
"""


@dataclass
class Faults:
    """The lines of the table, by fault and how it was tried."""

    lines: dict[tuple[str, str], str] = field(default_factory=dict)

    def add(self, fault: str, *, times: int, count: Count, how: str) -> None:
        """Add a line; something lost or doubled, or a line that the table lacks, fails the test that adds it."""
        self.lines[fault, how] = f"| {fault} | {times} | {count.tried} | {count.lost} | {count.doubled} | {how} |\n"
        assert count.tried > 0 and (count.lost, count.doubled) == (0, 0)
        assert WRITES or (fault, how) in written(), "This fault is not in the table: run its long form."


def written() -> dict[tuple[str, str], str]:
    """Return the lines that stand in the table."""
    found = [line for line in TABLE.read_text("utf-8").splitlines() if line.startswith("|")][2:]
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in found]
    return {(row[0], row[-1]): f"{line}\n" for row, line in zip(cells, found, strict=True)}


def times(short: int, long: int) -> int:
    """Return how often a fault is tried in this form."""
    return long if LONG else short


def database_of(cast: Cast) -> str:
    """Return what the table calls the database of a shop."""
    return {"sqlite": "SQLite", "postgresql": "PostgreSQL"}[cast.stores.write.dialect.name]


@pytest.fixture(scope="session")
def starter() -> Iterator["subprocess.Popen[str]"]:
    """Yield what starts services, one for all tests of a process."""
    with starting() as made:
        yield made


@pytest.fixture(scope="session")
def faults() -> Iterator[Faults]:
    """Yield the table; what was tried is put in its place at the end where the environment asks for it."""
    kept = Faults()
    yield kept
    if WRITES:
        TABLE.write_text(HEAD + "".join((written() | kept.lines).values()), "utf-8")
