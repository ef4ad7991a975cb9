"""One thing, one name: in every text, in Spanish, and in addresses, data, commands and names of files.

``LOAMBOOK_WRITE_DOCS=1 pytest tests/words/test_glossary.py`` writes docs/glossary.md, which is the file's own.
"""

import os
import re

import pytest

from service.words.glossary import Term, glossary
from tests.words.every_text import ROOT, everything, names, spanish

DOC = ROOT / "docs" / "glossary.md"
HEAD = """# Glossary

Made from `service/words/glossary.toml` by `tests/words/test_glossary.py`. One thing, one name: in the menu, on pages,
papers, in messages, commands and addresses. "In code" is its name in addresses, data and code, where that is another.
The acts of the log (`crushing.open_spell`) are stored data: they keep the name under which they were written.

| name | what it is | Spanish | in code | never |
|---|---|---|---|---|
"""


def written() -> str:
    rows = (
        (term.name, term.means, term.spanish, f"`{term.in_code}`" if term.in_code else "",
         ", ".join((*term.never, *term.never_spanish, *(f"`{name}`" for name in term.never_in_code))))
        for term in glossary().values()
    )  # fmt: skip
    return HEAD + "".join(f"| {' | '.join(row)} |\n" for row in rows)


def meets(name: str, text: str) -> bool:
    return name in text and re.search(rf"(?<![\w/.-]){re.escape(name)}(?![\w-])", text) is not None


@pytest.mark.parametrize("term", [one for one in glossary().values() if one.never], ids=lambda term: term.key)
def test_no_text_uses_a_second_name(term: Term):
    assert [(file, name) for name in term.never for file, text in everything() if meets(name, text)] == []


@pytest.mark.parametrize("term", [one for one in glossary().values() if one.never_spanish], ids=lambda term: term.key)
def test_no_spanish_text_uses_a_second_name(term: Term):
    assert [text for name in term.never_spanish for _, text in spanish() if meets(name, text)] == []


@pytest.mark.parametrize("term", [one for one in glossary().values() if one.never_in_code], ids=lambda term: term.key)
def test_no_address_key_column_command_or_file_has_a_second_name(term: Term):
    assert [(kind, told) for name in term.never_in_code for kind, told in names() if f"_{name}_" in told] == []


@pytest.mark.parametrize("kind", ["operation at", "address", "schema", "key of", "column", "command", "file"])
def test_names_of_every_kind_are_looked_at(kind):
    assert sum(told.startswith(kind) for told, _ in names()) > 5


def test_two_things_do_not_have_one_name():
    called = [term.name.casefold() for term in glossary().values()]
    assert len(called) == len(set(called))


def test_the_glossary_for_readers_is_the_files_own():
    if os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
        DOC.write_text(written(), "utf-8")
    assert DOC.read_text("utf-8") == written()
