"""Each line of what was found from outside, and each claim of the doors, names a test that is there."""

import re

import pytest

from tests.layout.test_doors import ROOT


def rows(page: str, below: str) -> list[list[str]]:
    """Return the cells of the table below a title, without its head."""
    text = (ROOT / "docs" / page).read_text("utf-8").partition(f"## {below}\n")[2].partition("\n## ")[0]
    found = [[cell.strip() for cell in row.strip("|").split("|")] for row in text.splitlines() if row.startswith("| ")]
    return [row for row in found if row[-1] not in ("held by", "Shown by")]


FOUND = rows("hostile.md", "What was found from outside")
CLAIMED = rows("doors.md", "What shows it")


def test_every_point_that_was_found_and_each_part_of_the_doors_has_its_lines() -> None:
    assert {int(row[0]) for row in FOUND} == set(range(1, 12))
    assert len(CLAIMED) > 40 and {len(row) for row in CLAIMED} == {2}


@pytest.mark.parametrize("row", FOUND + CLAIMED, ids=lambda row: f"{row[-2][:50]}")
def test_a_line_names_tests_that_are_there(row: list[str]) -> None:
    named = re.findall(r"(tests/[\w/]+\.py)(?:::(\w+))?", row[-1])
    assert named and len(named) == row[-1].count("tests/")
    for path, name in named:
        text = (ROOT / path).read_text("utf-8")
        assert f"def {name}(" in text if name else "def test_" in text
