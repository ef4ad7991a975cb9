"""A sentence not yet put into a language: its English form and what goes into it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any


@dataclass(frozen=True)
class Phrase:
    """One sentence: ``english`` is both the fallback and the key of the translation.

    ``values`` fill the ``{names}`` of the sentence. Numbers stay numbers, to be written in the reader's units.
    The end of a name says its unit: ``_mpa``, ``_kg``, ``_mm``. Names in ``_share`` and ``_likely`` are written in
    percent, those in ``_chance`` as so many in twenty, those in ``_money`` with the currency. Names in ``_least`` are
    rounded down. A phrase may be inside another. A tuple is written as a list ("A, B and C").
    """

    english: str
    values: "Mapping[str, Value]" = field(default_factory=dict)


Value = str | float | int | Decimal | Phrase | tuple["str | Phrase", ...]


def stored(told: Mapping[str, Any]) -> Phrase:
    """Return a phrase that was written down as data: the phrases, lists and money inside it are whole again."""
    return Phrase(told["english"], {name: _stored(name, value) for name, value in told["values"].items()})


def _stored(name: str, value: Any) -> Value:
    if isinstance(value, Mapping):
        return stored(value)
    if isinstance(value, list):
        return tuple(stored(part) if isinstance(part, Mapping) else part for part in value)
    if isinstance(value, str) and name.endswith("_money"):
        return Decimal(value)
    given: str | float | int = value
    return given
