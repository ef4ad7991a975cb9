"""What a form of the Calculator is made of: fields, tables of rows, and the ways in which an input can be given."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Field:
    """One input: its dotted place in the JSON of the calculation, its label and what may be typed.

    The kind is one of the quantities, or: whole, words, money, price (of a mass), moment,
    choice, tick, ticks, readings. Several numbers
    stand in one line where ``many`` is set. ``stored`` is the unit of the JSON where it is not that of the kind.
    """

    key: str
    label: str
    kind: str
    required: bool = True
    hint: str = ""
    value: str = ""
    unit: str = ""
    stored: str = ""
    options: tuple[tuple[str, str], ...] = ()
    many: bool = False
    folded: bool = False


@dataclass(frozen=True)
class Rows:
    """A table to fill in: its rows become a list of objects under the key.

    By name, they become one object a column under the column's own key, from the name in the row to the value.
    """

    key: str
    label: str
    columns: tuple[Field, ...]
    shown: int
    hint: str = ""
    by_name: bool = False
    required: bool = True
    folded: bool = False


Part = Field | Rows
Tree = dict[str, Any]


@dataclass(frozen=True)
class Way:
    """One of the ways to give an input.

    ``pack`` turns what the parts read into the JSON and ``spread`` turns it back; ``moved`` names, for places of the
    JSON that are no input of the form, the input at which a refusal is said.
    """

    key: str
    word: str
    parts: tuple[Part, ...]
    pack: Callable[[Tree], Tree] = dict
    spread: Callable[[Tree], Tree] = dict
    moved: Mapping[str, str] = field(default_factory=dict)

    def labels(self) -> Iterator[tuple[str, str]]:
        """Yield key and label of everything, columns too."""
        for part in self.parts:
            yield part.key, part.label
            if isinstance(part, Rows):
                yield from ((column.key, column.label) for column in part.columns)


@dataclass(frozen=True)
class Sheet:
    """The page of one calculation: what it is for, its ways, and what of the answer stands large."""

    title: str
    gives: str
    ways: tuple[Way, ...]
    large: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    charts: tuple[str, ...] = ()
    defers: bool = False
    wide: bool = False

    def way(self, key: str) -> Way:
        """Return the way of this key, or the first."""
        return next((way for way in self.ways if way.key == key), self.ways[0])


def sheet(title: str, gives: str, *parts: Part, **more: Any) -> Sheet:
    """Return a sheet whose input is given in one way only."""
    of_way = {key: more.pop(key) for key in ("pack", "spread", "moved") if key in more}
    return Sheet(title, gives, (Way("", "", parts, **of_way),), **more)
