"""The table of accessibility has every criterion of levels A and AA, and names tests that are there."""

import re
from collections import Counter

import pytest

from tests.layout.test_doors import ROOT

ROWS = [
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in (ROOT / "docs" / "wcag.md").read_text().splitlines()
    if re.match(r"\| \d", line)
]
FILES = sorted({path for row in ROWS for path in re.findall(r"tests/\w+/test_\w+\.py", row[4])})


def test_every_criterion_of_both_levels_has_one_row() -> None:
    # WCAG 2.2: 31 of level A and 24 of level AA, 4.1.1 (Parsing) no longer among them.
    assert Counter(row[1] for row in ROWS) == {"A": 31, "AA": 24}
    assert len({row[0] for row in ROWS}) == len(ROWS) and "4.1.1" not in {row[0] for row in ROWS}


def test_every_row_names_a_test_or_says_why_not() -> None:
    unshown = [row[0] for row in ROWS if "tests/" not in row[4] and row[4] not in ("by reading", "does not apply")]
    assert unshown == []


@pytest.mark.parametrize("path", FILES)
def test_a_named_test_is_there(path: str) -> None:
    assert (ROOT / path).is_file()
