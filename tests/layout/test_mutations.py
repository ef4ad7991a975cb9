"""Each patch of the mutation tables fits the tree: what it spoils stands there once, and its tests are there."""

import tomllib
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
PLACES = {"patches": ROOT / "service" / "trade", "rules": ROOT / "service"}
PATCHES = [
    (PLACES[name], patch)
    for name in PLACES
    for patch in tomllib.loads((ROOT / "tests" / "mutations" / f"{name}.toml").read_text("utf-8"))["patch"]
]
LEAST = {"patches": 100, "rules": 60}


@pytest.mark.parametrize("name", PLACES)
def test_there_are_enough_patches(name: str) -> None:
    assert sum(place == PLACES[name] for place, _ in PATCHES) >= LEAST[name]


@pytest.mark.parametrize("file", sorted({str((place / patch["file"]).relative_to(ROOT)) for place, patch in PATCHES}))
def test_what_a_patch_spoils_stands_there_once_and_its_tests_are_there(file: str) -> None:
    mine: list[dict[str, Any]] = [patch for place, patch in PATCHES if place / patch["file"] == ROOT / file]
    text = (ROOT / file).read_text("utf-8")
    assert [patch["old"] for patch in mine if text.count(patch["old"]) != 1] == []
    assert [name for patch in mine for name in patch["tests"].split() if not (ROOT / "tests" / name).exists()] == []
