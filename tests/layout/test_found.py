"""Each line of what was found from outside names a test that is there."""

import re

import pytest

from tests.layout.test_doors import ROOT

TEXT = (ROOT / "docs" / "hostile.md").read_text("utf-8").partition("## What was found from outside")[2]
ROWS = [[cell.strip() for cell in row.strip("|").split("|")] for row in TEXT.splitlines() if re.match(r"\| \d", row)]


def test_there_are_lines() -> None:
    assert ROWS


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row[0]} {row[1][:40]}")
def test_a_line_names_tests_that_are_there(row: list[str]) -> None:
    named = re.findall(r"(tests/[\w/]+\.py)(?:::(\w+))?", row[2])
    assert named
    for path, name in named:
        text = (ROOT / path).read_text("utf-8")
        assert f"def {name}(" in text if name else "def test_" in text
