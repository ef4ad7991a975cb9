"""What use found wrong stands in docs/seen.md, each finding with a test that is there."""

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ROW = re.compile(r"^\| ([HS]?\d+) \| (.+?) \| (.+) \|$")
TEST = re.compile(r"`(tests/[\w/]+\.py)(?:::(\w+))?`")
ROWS = [found.groups() for line in (ROOT / "docs/seen.md").read_text().splitlines() if (found := ROW.match(line))]


def test_every_finding_stands_once_and_in_order() -> None:
    used = [*map(str, range(1, 44)), *(f"H{number}" for number in range(1, 7))]
    walked = [f"S{number}" for number in range(1, 89)]
    assert [number for number, _, _ in ROWS] == used + walked


@pytest.mark.parametrize(("number", "held"), [(number, held) for number, _, held in ROWS])
def test_a_test_that_is_named_is_there(number: str, held: str) -> None:
    missing = [
        f"{path}::{name}"
        for path, name in TEST.findall(held)
        if not (ROOT / path).is_file() or f"def {name or 'test_'}" not in (ROOT / path).read_text()
    ]
    assert held and not missing, f"{number}: {missing}"
