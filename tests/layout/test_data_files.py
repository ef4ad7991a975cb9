"""The numbers of the trade that stand in files: each with a source of the list and how that source was read."""

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.trade.sources import SOURCES

TRADE = Path(__file__).resolve().parents[2] / "service" / "trade"
FILES = sorted(TRADE.rglob("*.toml"))


def unsourced(node: Any, *, at: str, covered: bool = False) -> Iterator[str]:
    """Yield the place of every number that neither its own table nor one around it gives a source and a standing."""
    if isinstance(node, dict):
        covered = covered or {"source", "standing"} <= node.keys()
        for key, value in node.items():
            yield from unsourced(value, at=f"{at}.{key}", covered=covered)
    elif isinstance(node, list):
        for number, value in enumerate(node):
            yield from unsourced(value, at=f"{at}.{number}", covered=covered)
    elif isinstance(node, int | float) and not covered:
        yield at


def rows(node: Any) -> Iterator[dict[str, Any]]:
    """Yield every table that names a source."""
    if isinstance(node, dict):
        if "source" in node:
            yield node
        for value in node.values():
            yield from rows(value)
    elif isinstance(node, list):
        for value in node:
            yield from rows(value)


def read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text("utf-8"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_no_number_of_a_data_file_stands_without_source_and_standing(path: Path) -> None:
    assert list(unsourced(read(path), at=path.stem)) == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_row_names_a_source_of_the_list_and_is_no_surer_than_it(path: Path) -> None:
    found = list(rows(read(path)))
    assert found
    for row in found:
        assert SOURCES[row["source"]].standing == row["standing"], row["source"]


def test_a_number_without_a_source_is_found() -> None:
    data = {"row": [{"low": 1, "source": "x", "standing": "seen", "rule": [{"limit": 2}]}, {"low": 3, "source": "x"}]}
    assert list(unsourced(data, at="f")) == ["f.row.1.low"]


def test_every_source_is_named_by_a_formula_a_file_or_a_calculation() -> None:
    files = [
        *TRADE.rglob("*.py"),
        *FILES,
        *(TRADE.parent / "work").glob("*.py"),
        *(TRADE.parent / "paper").glob("*.py"),
    ]
    text = "\n".join(path.read_text("utf-8") for path in files if path.name != "sources.py")
    assert [key for key in SOURCES if key not in text] == []
