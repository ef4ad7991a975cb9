"""The glossary: one name for each thing, state and act, read from glossary.toml by the menu, the docs and the tests."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any


@dataclass(frozen=True)
class Term:
    """A name, what it means, what it is called in Spanish and in code, and other names that must not appear in each."""

    key: str
    name: str
    spanish: str
    means: str
    in_code: str = ""
    never: tuple[str, ...] = ()
    never_on_a_page: tuple[str, ...] = ()
    never_spanish: tuple[str, ...] = ()
    never_in_code: tuple[str, ...] = ()


@cache
def glossary() -> dict[str, Term]:
    """Return every term by its key, in the order of the file."""
    rows = tomllib.loads(Path(__file__).with_suffix(".toml").read_text("utf-8"))["term"]
    return {row["key"]: Term(**{key: _listed(said) for key, said in row.items()}) for row in rows}


def _listed(said: Any) -> Any:
    return tuple(said) if isinstance(said, list) else said
