"""One thing, one name: no text that a reader can meet uses a second name, and docs/glossary.md is the file's own.

``LOAMBOOK_WRITE_DOCS=1 pytest tests/words/test_glossary.py`` writes docs/glossary.md.
"""

import ast
import os
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from service.words.glossary import Term, glossary

ROOT = Path(__file__).resolve().parents[2]
DOC = ROOT / "docs" / "glossary.md"
# What the code calls things, and what quotes the world, is no text of ours.
CODE_ONLY = {"old_addresses.py", "glossary.py"}


def texts() -> Iterator[tuple[str, str]]:
    """Yield every text of templates and every string of the service that reads like one, with its file."""
    for path in sorted((ROOT / "templates").rglob("*.html")):
        whole = re.sub(r"\{#.*?#\}", " ", path.read_text("utf-8"), flags=re.S)
        yield path.name, " ".join(whole.split())
    for path in sorted((ROOT / "service").rglob("*.py")):
        if path.name in CODE_ONLY:
            continue
        tree = ast.parse(path.read_text("utf-8"))
        said = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in said:
                yield path.name, node.value


TEXTS = list(texts())


def written() -> str:
    rows = "".join(
        f"| {term.name} | {term.means} | {term.spanish} | {', '.join(term.never)} |\n" for term in glossary().values()
    )
    return (
        "# Glossary\n\nMade from `service/words/glossary.toml` by `tests/words/test_glossary.py`. One thing, one name: "
        "in the menu, on pages and\npapers, in messages and commands.\n\n"
        "| name | what it is | Spanish | never |\n|---|---|---|---|\n" + rows
    )


@pytest.mark.parametrize("term", glossary().values(), ids=lambda term: term.key)
def test_no_text_uses_a_second_name(term: Term):
    second = [
        (file, name)
        for name in term.never
        for file, text in TEXTS
        if re.search(rf"(?<![\w/.-]){re.escape(name)}(?![\w-])", text)
    ]
    assert second == []


def test_two_things_do_not_have_one_name():
    names = [term.name.casefold() for term in glossary().values()]
    assert len(names) == len(set(names))


def test_the_glossary_for_readers_is_the_files_own():
    if os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
        DOC.write_text(written(), "utf-8")
    assert DOC.read_text("utf-8") == written()
