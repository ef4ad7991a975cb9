"""What the trade says of itself: every formula names its parameters, its result, its source and an example."""

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
# What only computes what another file states the formula of, and what makes sentences: one line is enough there.
NO_FORMULA_ROOMS = ("strength.content_curve.", "strength.fit.", "sentences.")
REFUSES = re.compile(r"\b(raise Invalid|refuse|require)\(")


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


def faults(function: Callable[..., Any]) -> list[str]:
    """Return what the docstring of a formula lacks; a function that is none needs a sentence."""
    told = sections(function)
    source = " ".join(told.get("Source", []))
    if not inspect.getdoc(function):
        return ["says nothing"]
    if function.__module__.removeprefix("service.trade.").startswith(NO_FORMULA_ROOMS) and not told:
        return []
    wrong = {
        "other parameters": entries(told.get("Parameters", [])) != list(inspect.signature(function).parameters),
        "no result": not any(line.strip() for line in told.get("Returns", [])),
        "a source that is not on the list": "no published source needed" not in source
        and not (entries(told.get("Source", [])) and set(entries(told["Source"])) <= set(sources.SOURCES)),
        "no example": not any(line.startswith(">>> ") for line in told.get("Examples", [])),
        "does not say that it refuses": bool(REFUSES.search(inspect.getsource(function)))
        and "Invalid" not in told.get("Raises", []),
    }
    return [sentence for sentence, is_so in wrong.items() if is_so]


@pytest.mark.parametrize("name", sorted({function.__module__ for function in public_functions()}))
def test_every_formula_names_its_parameters_its_result_its_source_and_an_example(name: str) -> None:
    found = {one.__name__: faults(one) for one in public_functions() if one.__module__ == name}
    assert {one: wrong for one, wrong in found.items() if wrong} == {}


def test_every_source_stands_on_the_list_once():
    assert len(sources.ALL) == len(sources.SOURCES)
    told = [(source.body, source.title, source.edition, source.clause) for source in sources.ALL]
    assert len(told) == len(set(told))
