"""The table of what is met names tests and files that are there."""

import re

import pytest

from tests.layout.test_doors import ROOT, SERVICE

ROWS = [row for row in (ROOT / "docs" / "asvs.md").read_text().splitlines() if row.startswith("| V")]
TESTS = sorted({path for row in ROWS for path in re.findall(r"tests/[\w/]+/test_\w+\.py", row)})
PLACES = sorted({path for row in ROWS for path in re.findall(r"`((?:web|desk|paper|records|words)/[\w/.]+)`", row)})


def test_every_row_has_its_five_cells() -> None:
    assert {len(row.strip("|").split("|")) for row in ROWS} == {5}


@pytest.mark.parametrize("path", TESTS)
def test_a_test_that_the_table_names_is_there(path: str) -> None:
    assert re.search(r"^(async )?def test_", (ROOT / path).read_text(), re.MULTILINE)


@pytest.mark.parametrize("path", PLACES)
def test_a_place_that_the_table_names_is_there(path: str) -> None:
    assert (SERVICE / path).exists()
