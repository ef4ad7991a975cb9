"""What rests on memory alone, listed for whoever can look it up.

``LOAMBOOK_WRITE_DOCS=1 pytest tests/layout/test_from_memory.py`` writes docs/from_memory.md anew.
"""

import os
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from service.trade.sources import ALL, Source
from tests.layout.test_data_files import FILES
from tests.layout.test_docstrings import entries, public_functions, sections

LIST = Path(__file__).resolve().parents[2] / "docs" / "from_memory.md"
HEAD = """# Numbers from memory

Written by `LOAMBOOK_WRITE_DOCS=1 pytest tests/layout/test_from_memory.py`. Each was recalled and not read. A criterion
from memory is off until the owner notes that its text was read, a threshold is shown and drives no verdict, and where a
formula was recalled its tests say which published numbers it was held against.

| source | numbers in files | functions |
|---|---|---|
"""


def numbers(node: Any, key: str, name: str = "") -> Iterator[str]:
    """Yield every number under the tables that name a source, as "row: key value"."""
    if isinstance(node, dict):
        name = str(node.get("name", name))
        if node.get("source") not in (None, key):
            return
        for word, value in node.items():
            if isinstance(value, int | float):
                yield f"{name} {word} {value:g}".strip()
            else:
                yield from numbers(value, key, name)
    elif isinstance(node, list):
        for value in node:
            yield from numbers(value, key, name)


def in_files(source: Source) -> str:
    found = []
    for path in FILES:
        for table in tomllib.loads(path.read_text("utf-8")).values():
            rows = [one for one in (table if isinstance(table, list) else [table]) if one.get("source") == source.key]
            for row in rows:
                told = ", ".join(numbers({**row, "name": ""}, source.key))
                found.append(f"{path.name} {row.get('key', '')}: {told}".replace(" :", ":"))
    return "; ".join(found)


def in_functions(source: Source) -> str:
    named = [
        f"`{function.__module__.removeprefix('service.trade.')}.{function.__name__}`"
        for function in public_functions()
        if source.key in entries(sections(function).get("Source", []))
        # It reads them all from the file.
        and function.__module__ != "service.trade.criteria.codes_and_rules"
    ]
    return ", ".join(named)


def written() -> str:
    rows = []
    for source in ALL:
        if source.standing == "memory":
            told = ", ".join(part for part in (source.body, source.title, source.edition, source.clause) if part)
            rows.append(f"| {told} | {in_files(source)} | {in_functions(source)} |\n")
    return HEAD + "".join(rows)


def test_the_list_of_what_rests_on_memory_is_as_it_stands():
    if os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
        LIST.write_text(written(), "utf-8")
    assert LIST.read_text("utf-8") == written()


def test_every_published_source_says_who_wrote_it_its_title_and_its_year():
    """A reader can look it up; what has no year says so, and what is ours or a definition has neither."""
    published = [one for one in ALL if one.standing not in ("definition", "computed") and one.body]
    assert len(published) > 40
    assert [
        one.key for one in published if not one.title or not re.search(r"(18|19|20)\d\d|undated", one.edition)
    ] == []
