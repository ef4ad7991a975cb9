"""Every text and every name that a reader of the product can meet, for the tests of words."""

import ast
import re
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import typer
from babel.messages.pofile import read_po
from fastapi import FastAPI

from service import cli
from service.desk.doorway import ShopFacts
from service.paper import readings_table
from service.web import routes

ROOT = Path(__file__).resolve().parents[2]
# What the code calls things, and what quotes the world, is no text of ours.
CODE_ONLY = {"old_addresses.py", "glossary.py"}
DATA = {"sentence", "says", "remarks", "remark", "written_for", "specimen", "name", "means", "note"}


@cache
def texts() -> tuple[tuple[str, str], ...]:
    """Return every text of templates, strings, scripts, data, docs and the help of commands, with its file."""
    return (*_templates(), *_strings(), *_scripts(), *_data(), *_docs(), *_help())


def _templates() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "templates").rglob("*.html")):
        whole = re.sub(r"\{#.*?#\}", " ", path.read_text("utf-8"), flags=re.DOTALL)
        yield path.name, " ".join(whole.split())


def _strings() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "service").rglob("*.py")):
        if path.name not in CODE_ONLY:
            for text in strings_of(path):
                yield path.name, text


def strings_of(path: Path) -> Iterator[str]:
    """Yield every string of a module that is no docstring, with {} for what goes into it."""
    tree = ast.parse(path.read_text("utf-8"))
    inner = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)}
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            yield "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs | inner:
            yield node.value


def _scripts() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "service/web/static").glob("*.js")):
        for _, said in re.findall(r"""(["'`])((?:(?!\1).)*)\1""", path.read_text("utf-8")):
            if " " in said:
                yield path.name, said


def _data() -> Iterator[tuple[str, str]]:
    for path in sorted((ROOT / "service").rglob("*.toml")):
        if path.name != "glossary.toml":
            for key, text in _leaves(tomllib.loads(path.read_text("utf-8"))):
                if key in DATA:
                    yield path.name, text


def _leaves(data: Any, key: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(data, dict):
        for name, below in data.items():
            yield from _leaves(below, name)
    elif isinstance(data, list):
        for below in data:
            yield from _leaves(below, key)
    elif isinstance(data, str):
        yield key, data


def _docs() -> Iterator[tuple[str, str]]:
    for name in ("README.md", "DEVELOPERS.md", "docs/run-a-shop.md"):
        yield name, " ".join((ROOT / name).read_text("utf-8").split())


def _help() -> Iterator[tuple[str, str]]:
    for name, command in typer.main.get_command(cli.app).commands.items():  # type: ignore[attr-defined]
        yield f"loambook {name}", command.help or ""
        for one in command.params:
            yield f"loambook {name}", getattr(one, "help", None) or ""


@cache
def api() -> dict[str, Any]:
    """Return the description of the API: what a program's author reads."""
    app = FastAPI()
    routes.include(app)
    return app.openapi()


def api_texts() -> Iterator[tuple[str, str]]:
    """Yield every summary, description and heading of the API."""
    return ((key, text) for key, text in _leaves(api()) if key in ("summary", "description", "tags"))


@cache
def spanish() -> tuple[tuple[str, str], ...]:
    """Return every entry of the Spanish catalogue, with the English it stands for."""
    with (ROOT / "service/words/locales/es.po").open("rb") as file:
        return tuple((str(one.id), str(one.string)) for one in read_po(file, locale="es") if one.id)


@cache
def everything() -> tuple[tuple[str, str], ...]:
    """Return every text in English: the product's own, those of the API, and what the Spanish catalogue translates."""
    return (*texts(), *api_texts(), *(("es.po", english) for english, _ in spanish()))


@cache
def names() -> tuple[tuple[str, str], ...]:
    """Return every name of code that people see, with what it names: each part in small letters, "_" between them."""
    return tuple((kind, _parts(name)) for kind, name in _names())


def _parts(name: str) -> str:
    apart = re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name)
    return "_" + re.sub(r"[^A-Za-z0-9]+", "_", apart).strip("_").lower() + "_"


def _names_of_the_api() -> Iterator[tuple[str, str]]:
    for path, methods in api()["paths"].items():
        for operation in methods.values():
            yield f"operation at {path}", operation["operationId"].partition("_api_")[0]
        yield "address", path
    for schema, said in api()["components"]["schemas"].items():
        yield "schema", schema
        for key in said.get("properties", {}):
            yield f"key of {schema}", key


def _names() -> Iterator[tuple[str, str]]:
    yield from _names_of_the_api()
    for module in routes.PAGES:
        for route in module.router.routes:
            yield "address", str(getattr(route, "path", ""))
    for column in readings_table.columns(ShopFacts()):
        yield "column", column.key
    for name in typer.main.get_command(cli.app).commands:  # type: ignore[attr-defined]
        yield "command", name
    for folder, ending in (("service", "py"), ("templates", "html")):
        for path in sorted((ROOT / folder).rglob(f"*.{ending}")):
            yield "file", str(path.relative_to(ROOT).with_suffix(""))
