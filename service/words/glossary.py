"""The glossary: one name for each thing, state and act, read from glossary.toml by the menu, the docs and the tests."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path


@dataclass(frozen=True)
class Term:
    """A name, what it means, what it is called in Spanish, and other names that must not appear."""

    key: str
    name: str
    spanish: str
    means: str
    never: tuple[str, ...] = ()


@cache
def glossary() -> dict[str, Term]:
    """Return every term by its key, in the order of the file."""
    rows = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))["term"]
    return {row["key"]: Term(**{**row, "never": tuple(row.get("never", ()))}) for row in rows}
