"""What the trade says of itself: every public function names its parameters, its result, its source and an example."""

import importlib
import inspect
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.trade import sources

TRADE = Path(__file__).resolve().parents[2] / "service" / "trade"
# Bounds are refusals shared by the formulas, and sources is the list that the others name.
NO_FORMULAS = {"__init__", "validation", "sources"}


def public_functions() -> list[Callable[..., Any]]:
    """Return every public function of the trade that holds a formula or a rule."""
    files = sorted(path for path in TRADE.rglob("*.py") if path.stem not in NO_FORMULAS)
    names = [".".join(path.relative_to(TRADE).with_suffix("").parts) for path in files]
    modules = [importlib.import_module(f"service.trade.{name}") for name in names]
    return [
        function
        for module in modules
        for name, function in vars(module).items()
        if inspect.isfunction(function) and function.__module__ == module.__name__ and not name.startswith("_")
    ]


def sections(function: Callable[..., Any]) -> dict[str, list[str]]:
    """Return the lines of each underlined section of a docstring."""
    lines = (inspect.getdoc(function) or "").splitlines()
    heads = [i for i in range(len(lines) - 1) if re.fullmatch(r"-{3,}", lines[i + 1])]
    ends = [*heads[1:], len(lines)]
    return {lines[head]: lines[head + 2 : end] for head, end in zip(heads, ends, strict=True)}


def entries(lines: list[str]) -> list[str]:
    """Return what stands before the colon in the lines of a section that are not indented."""
    return [name.strip() for line in lines if re.match(r"\S", line) for name in line.partition(" :")[0].split(",")]


@pytest.mark.parametrize(
    "function", public_functions(), ids=lambda f: f"{f.__module__.removeprefix('service.trade.')}.{f.__name__}"
)
class TestEveryFunctionOfTheTrade:
    def test_lists_the_parameters_it_has(self, function):
        assert entries(sections(function).get("Parameters", [])) == list(inspect.signature(function).parameters)

    def test_says_what_it_returns(self, function):
        assert any(line.strip() for line in sections(function).get("Returns", []))

    def test_names_a_source_that_is_on_the_list_or_says_that_there_is_none(self, function):
        source = sections(function).get("Source", [])
        if "no published source needed" not in " ".join(source):
            assert entries(source) and set(entries(source)) <= set(sources.SOURCES)

    def test_shows_an_example_that_runs(self, function):
        assert any(line.startswith(">>> ") for line in sections(function).get("Examples", []))

    def test_says_that_it_refuses_when_it_does(self, function):
        if re.search(r"\b(raise Invalid|refuse|require)\(", inspect.getsource(function)):
            assert "Invalid" in sections(function).get("Raises", [])


def test_every_source_stands_on_the_list_once():
    assert len(sources.ALL) == len(sources.SOURCES)
    told = [(source.body, source.title, source.edition, source.clause) for source in sources.ALL]
    assert len(told) == len(set(told))
