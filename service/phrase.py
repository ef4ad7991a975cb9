"""A sentence not yet put into a language: its English form and what goes into it."""

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Phrase:
    """One sentence: ``english`` is both the fallback and the key of the translation.

    ``values`` fill the ``{names}`` of the sentence. Numbers stay numbers, so that the words room
    can write them in the reader's units; a name ending in a unit (``_mpa``, ``_kg``, ``_mm``) says
    what it is.
    """

    english: str
    values: Mapping[str, str | float | int] = field(default_factory=dict)
