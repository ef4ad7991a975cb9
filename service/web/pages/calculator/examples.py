"""What an empty form shows, what the example fills in, and how many rows a table has."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from service.desk.doorway import ShopFacts
from service.web.pages.calculator.parts import Field, Part, Rows, Tree, Way
from service.words import prices
from service.words import units as known
from service.words.numbers_to_text import clock_field

MORE_ROWS = 2
SHARES = ("share", "moisture")
READINGS_IN = "MPa"


def example_typed(way: Way, example: Tree, shop: ShopFacts) -> dict[str, str] | None:
    """Return what a person would type to give the example, or None when it is given in another way."""
    tree = way.spread(example)
    if any(not isinstance(part, Rows) and part.required and _at(tree, part.key) is None for part in way.parts):
        return None
    if any(isinstance(part, Rows) and part.required and not _rows_of(tree, part) for part in way.parts):
        return None
    typed: dict[str, str] = {}
    for part in way.parts:
        if isinstance(part, Rows):
            for number, row in enumerate(_rows_of(tree, part)):
                for column in part.columns:
                    _fill(typed, column, row.get(column.key), shop, name=f"{part.key}.{number}.{column.key}")
                    typed[f"{part.key}.{column.key}_unit"] = unit_stored(column)
        else:
            _fill(typed, part, _at(tree, part.key), shop, name=part.key)
            typed[f"{part.key}_unit"] = unit_stored(part)
    return typed


def _at(tree: Tree, key: str) -> Any:
    found: Any = tree
    for step in key.split("."):
        found = found.get(step) if isinstance(found, dict) else None
    return found


def _rows_of(tree: Tree, part: Rows) -> list[Tree]:
    if not part.by_name:
        rows: list[Tree] = tree.get(part.key, [])
        return rows
    columns = [column.key for column in part.columns if column.key != "name"]
    names = dict.fromkeys(name for key in columns for name in tree.get(key, {}))
    return [{"name": name, **{key: tree[key][name] for key in columns if name in tree.get(key, {})}} for name in names]


def unit_stored(part: Field) -> str:
    """Return the unit in which an example is typed: the one of the JSON, and percent for a share."""
    if part.kind == "readings":
        return READINGS_IN
    if part.kind == "price":
        return "kg"
    if part.kind not in known.KINDS:
        return ""
    return "%" if part.kind in SHARES else part.stored or known.KINDS[part.kind].stored_in


def _fill(typed: dict[str, str], part: Field, value: Any, shop: ShopFacts, *, name: str) -> None:
    if value is None:
        return
    if part.kind == "ticks":
        typed.update({f"{name}.{key}": "yes" for key in value})
    elif part.many:
        typed[name] = " ".join(_text(part, one, shop) for one in value)
    else:
        typed[name] = _text(part, value, shop)


def _text(part: Field, value: Any, shop: ShopFacts) -> str:
    if part.kind == "tick":
        return "yes" if value else ""
    if part.kind == "readings":
        return " ".join(_reading(one) for one in value)
    if part.kind == "moment":
        moment = datetime.fromisoformat(value)
        return clock_field(moment.astimezone(ZoneInfo(shop.time_zone)), zone=shop.time_zone)
    if isinstance(value, str):
        return value
    return f"{100 * value if part.kind in SHARES else value:.10g}"


def _reading(one: Mapping[str, Any]) -> str:
    if one.get("fell_apart"):
        return "fell"
    return f">{one['held_mpa']:.10g}" if "held_mpa" in one else f"{one['broke_mpa']:.10g}"


def offers(kind: str, *, units: known.Units) -> tuple[str, ...]:
    """Return the units in which something of a kind may be typed, none for what has no unit."""
    if kind == "price":
        return tuple(per for per in prices.PER[units] if per in prices.KG_PER)
    return known.offered(kind, units) if kind in known.KINDS else ()


def rows_shown(parts: tuple[Part, ...], typed: Mapping[str, str]) -> dict[str, int]:
    """Return how many rows each table shows: its own number, and always some beyond the last one filled in."""
    shown = {}
    for part in parts:
        if isinstance(part, Rows):
            prefix = f"{part.key}."
            numbers = [key.removeprefix(prefix).partition(".")[0] for key in typed if key.startswith(prefix)]
            filled = max((int(number) for number in numbers if number.isdecimal() and len(number) < 4), default=-1)
            shown[part.key] = max(part.shown, filled + 1 + MORE_ROWS)
    return shown
