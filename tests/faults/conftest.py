"""The table of faults, and how often each is tried: short with every run of the tests, long by ./run faults."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.cast import Cast
from tests.faults.writers import Count

TABLE = Path(__file__).parents[2] / "docs" / "faults.md"
LONG = os.environ.get("LOAMBOOK_LONG") == "1"
FORM = "long form (`./run faults`)" if LONG else "short form (part of `./run test`); the long form is `./run faults`"
HEAD = f"""# Faults

Made by the tests in `tests/faults` with `LOAMBOOK_WRITE_DOCS=1`, here in the
{FORM}.
*Tried* counts writes that were acknowledged (each sent again with the same key until it was), *lost* those not
found afterwards under the id that was answered, *doubled* those found more than once. After every fault the trail
verifies and holds one entry for each reading; a SQLite file passes its quick check. The servers that are killed run
`loambook serve` in a process forked from one that has loaded the libraries already.

| Fault | Times | Tried | Lost | Doubled | How |
| --- | ---: | ---: | ---: | ---: | --- |
"""


@dataclass
class Faults:
    """The lines of the table."""

    lines: list[str] = field(default_factory=list)

    def add(self, fault: str, *, times: int, count: Count, how: str) -> None:
        """Add a line; something lost or doubled fails the test that adds it."""
        self.lines.append(f"| {fault} | {times} | {count.tried} | {count.lost} | {count.doubled} | {how} |\n")
        assert count.tried > 0 and (count.lost, count.doubled) == (0, 0)


def times(short: int, long: int) -> int:
    """Return how often a fault is tried in this form."""
    return long if LONG else short


def database_of(cast: Cast) -> str:
    """Return what the table calls the database of a shop."""
    return {"sqlite": "SQLite", "postgresql": "PostgreSQL"}[cast.stores.write.dialect.name]


@pytest.fixture(scope="session")
def faults() -> Iterator[Faults]:
    """Yield the table; it is written at the end where the environment asks for it."""
    kept = Faults()
    yield kept
    # Part of the room would write part of the table: ask for all of tests/faults in one process.
    if os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
        TABLE.write_text(HEAD + "".join(kept.lines), "utf-8")
