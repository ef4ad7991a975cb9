"""From the JSON of an answer to what stands on the page: figures, tables and lines, in the shop's units."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from service.desk.doorway import ShopFacts
from service.trade.sources import SOURCES
from service.web.pages.calculator import answer_names
from service.web.pages.calculator.parts import Sheet, Tree
from service.words import numbers_to_text as figures
from service.words import prices
from service.words.units import Units, convert

Path = tuple[str, ...]
UNKNOWN = "not known"
NOTHING = 1e-9
STANDINGS = {
    "seen": "read in the source",
    "second-hand": "quoted by others",
    "memory": "from memory, not checked",
    "definition": "by definition",
    "computed": "worked out and checked",
}


@dataclass(frozen=True)
class Figure:
    """One number or word with its label."""

    label: str
    text: str


@dataclass(frozen=True)
class Table:
    """Rows of cells below heads, each a word or a word with a unit; the first cell of a row is its head."""

    caption: str
    heads: tuple[str | tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    large: bool = False


@dataclass(frozen=True)
class Lines:
    """Sentences, one below the other."""

    label: str
    lines: tuple[str, ...]


@dataclass(frozen=True)
class Facts:
    """Numbers that belong together, under one heading."""

    label: str
    figures: tuple[Figure, ...]


Block = Table | Lines | Facts


@dataclass(frozen=True)
class Shown:
    """A whole answer, ready for the page."""

    large: tuple[Figure, ...]
    facts: tuple[Figure, ...]
    blocks: tuple[Block, ...]


def show(name: str, sheet: Sheet, answer: Tree, shop: ShopFacts) -> Shown:
    """Return the answer of a calculation in labels, units and tables."""
    found = list(_parts((name,), answer, shop, sheet.large))
    large = tuple(_figure((name, key), answer[key], shop, both=True) for key in sheet.large if _is_large(answer, key))
    facts = tuple(part for part in found if isinstance(part, Figure))
    blocks = [part for part in found if not isinstance(part, Figure)]
    # What is read from across the bench comes first.
    blocks.sort(key=lambda block: not (isinstance(block, Table) and block.large))
    return Shown(large, facts, tuple(blocks))


def _is_large(answer: Tree, key: str) -> bool:
    return answer.get(key) is not None and not isinstance(answer[key], dict | list)


def _parts(path: Path, tree: Tree, shop: ShopFacts, large: Sequence[str]) -> Iterator[Figure | Block]:
    alike = _alike(tree)
    if alike:
        yield _table(
            (*path, "factors"), [{"factors": answer_names.label((*path, key)), **tree[key]} for key in alike], shop
        )
    for key, value in tree.items():
        here = (*path, key)
        if (key in large and _is_large(tree, key)) or (value is None and key in answer_names.OFTEN_ABSENT):
            continue
        if isinstance(value, dict) and key not in alike:
            yield from _object(here, value, shop, large=key in large)
        elif isinstance(value, list) and value and isinstance(value[0], dict):
            yield _table(here, value, shop)
        elif isinstance(value, list) and value and isinstance(value[0], str) and answer_names.unit(here) != "when":
            yield Lines(answer_names.label(here), tuple(answer_names.label((line,)) for line in value))
        elif not isinstance(value, dict):
            yield _figure(here, value, shop)


def _alike(tree: Tree) -> list[str]:
    """Return the keys of objects that have the same keys each, when there are several: rows of one table."""
    records = {key: tuple(value) for key, value in tree.items() if isinstance(value, dict) and "standing" in value}
    return list(records) if len(records) > 1 and len(set(records.values())) == 1 else []


def _object(path: Path, value: Tree, shop: ShopFacts, *, large: bool) -> Iterator[Figure | Block]:
    if not value:
        return
    if answer_names.is_named(path):
        yield _named(path, value, shop, large=large)
        return
    scalars = {key: one for key, one in value.items() if not isinstance(one, dict)}
    if scalars:
        yield Facts(answer_names.label(path), tuple(_figure((*path, key), one, shop) for key, one in scalars.items()))
    for key, one in value.items():
        if isinstance(one, dict):
            yield from _object((*path, key), one, shop, large=False)


def _named(path: Path, value: Tree, shop: ShopFacts, *, large: bool) -> Table:
    caption = ", ".join(dict.fromkeys(answer_names.label(path[:end]) for end in range(2, len(path) + 1)))
    if all(isinstance(one, dict) for one in value.values()):
        table = _table(path, [{"name": name, **one} for name, one in value.items()], shop)
        return Table(caption, table.heads, table.rows)
    rows = tuple((name, _cell(path, one, shop)) for name, one in value.items())
    return Table(caption, ("Name", _head(path, value.values(), shop)), rows, large=large)


def _table(path: Path, rows: Sequence[Tree], shop: ShopFacts) -> Table:
    there = dict.fromkeys(key for row in rows for key in row)
    keys = [key for key in answer_names.COLUMNS.get(path[-1], tuple(there)) if key in there]
    heads = tuple(_head((*path, key), [row.get(key) for row in rows], shop) for key in keys)
    cells = tuple(tuple(_cell((*path, key), row.get(key), shop) for key in keys) for row in rows)
    return Table(answer_names.label(path), heads, cells)


def _head(path: Path, values: Iterable[Any], shop: ShopFacts) -> str | tuple[str, str]:
    """Return the head of a column: a word above words, a word and the unit above figures."""
    words = any(isinstance(value, str | bool | list) for value in values) and answer_names.unit(path) != "money"
    if words or answer_names.unit(path) == "chance":
        return answer_names.label(path)
    return answer_names.label(path), _shown_unit(path, shop.units_first)


def _shown_unit(path: Path, units: Units) -> str:
    unit = answer_names.unit(path)
    if unit in ("", "%", "chance", "when", "money"):
        return "%" if unit == "%" else ""
    return unit if path[-1] in answer_names.SIZES else figures.shown_in(unit, units)


def _cell(path: Path, value: Any, shop: ShopFacts) -> str:
    """Return a value for a column whose head names the unit."""
    if isinstance(value, bool) or not isinstance(value, int | float) or answer_names.unit(path) == "chance":
        return _text(path, value, shop)
    unit = _shown_unit(path, shop.units_first)
    if unit == "%":
        return _percent(value).removesuffix(" %")
    if path[-1] in answer_names.SIZES:
        return f"{value:.4g}"
    return _number(convert(value, answer_names.unit(path), unit) if unit else value)


def _figure(path: Path, value: Any, shop: ShopFacts, *, both: bool = False) -> Figure:
    if both and answer_names.unit(path) == "MPa":
        floor = path[-1] in answer_names.FLOORS
        return Figure(answer_names.label(path), figures.stress(value, units=shop.units_first, floor=floor))
    return Figure(answer_names.label(path), _text(path, value, shop))


def _text(path: Path, value: Any, shop: ShopFacts) -> str:
    if value is None:
        return "none" if answer_names.is_absent(path) else UNKNOWN
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return (" to " if answer_names.is_span(path) else ", ").join(_text(path, one, shop) for one in value) or "none"
    if isinstance(value, str):
        return _words(path, value, shop)
    unit = answer_names.unit(path)
    if unit == "%":
        return _percent(value)
    if unit == "chance":
        return figures.chance(value)
    if not unit:
        return _number(value)
    if path[-1] in answer_names.SIZES:
        return f"{value:.4g} {unit}"
    return figures.own(value, unit, units=shop.units_first, digits=4)


def _words(path: Path, value: str, shop: ShopFacts) -> str:
    unit = answer_names.unit(path)
    if unit == "when":
        return figures.time(datetime.fromisoformat(value), zone=shop.time_zone)
    if unit == "money":
        return prices.money(Decimal(value), currency=shop.currency)
    if path[-1] == "standing":
        return STANDINGS[value]
    if path[-1] == "source" and value in SOURCES:
        return SOURCES[value].body or SOURCES[value].title
    return answer_names.label((value,)) if path[-1] in ("about", "kind", "verdict") else value


def _percent(share: float) -> str:
    """Return a share in percent; what a linear programme leaves of nothing is nothing."""
    return figures.percent(0.0 if abs(share) < NOTHING else share, digits=3)


def _number(value: float) -> str:
    """Return a bare number: a whole one as it is, any other in four figures."""
    return str(int(value)) if float(value).is_integer() and abs(value) < 1e15 else figures.significant(value, digits=4)
