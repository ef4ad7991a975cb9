"""A sentence not yet put into a language: its English form and what goes into it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal


@dataclass(frozen=True)
class Phrase:
    """One sentence: ``english`` is both the fallback and the key of the translation.

    ``values`` fill the ``{names}`` of the sentence. Numbers stay numbers, so that the words room
    can write them in the reader's units; a name ending in a unit (``_mpa``, ``_kg``, ``_mm``) says
    what it is, ``_share`` is written in percent, ``_chance`` as so many in twenty, ``_likely`` as percent,
    ``_money`` with the currency, ``_least`` is rounded down. A phrase may stand inside another, and a tuple
    is written as a list ("A, B and C").
    """

    english: str
    values: "Mapping[str, Value]" = field(default_factory=dict)


Value = str | float | int | Decimal | Phrase | tuple["str | Phrase", ...]
