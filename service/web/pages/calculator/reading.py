"""From what was typed in a form of the Calculator to the JSON of its calculation, and refusals back to their fields."""

import re
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from starlette.datastructures import FormData

from service.desk.doorway import ShopFacts
from service.errors import Invalid
from service.typed import Typed
from service.web.form_input import FormReader
from service.web.pages.calculator.parts import Field, Rows, Tree, Way
from service.words import prices, text_to_numbers, units

EMPTY = "Fill this in."
LONGEST_LINE = 2000
MOST_ROWS = 60


@dataclass
class Input:
    """What a form gave: the JSON, the inputs in words, and from which row of the form each entry came."""

    given: Tree = field(default_factory=dict)
    rows: dict[str, list[int]] = field(default_factory=dict)
    names: dict[str, dict[str, int]] = field(default_factory=dict)


def read_way(form: FormData, way: Way, shop: ShopFacts) -> Input:
    """Return the input that the form gives, or refuse every field that cannot be read."""
    read = FormReader(form, shop)
    found = Input()
    tree: Tree = {}
    for part in way.parts:
        if isinstance(part, Rows):
            _read_rows(read, part, found, tree)
        else:
            value = _value(read, part, name=part.key, unit=read.raw(f"{part.key}_unit"))
            if value is not None:
                _put(tree, part.key, value)
    if read.errors:
        raise Invalid("Check the marked fields.", read.errors)
    found.given = way.pack(tree)
    return found


def _put(tree: Tree, key: str, value: Any) -> None:
    *above, last = key.split(".")
    for step in above:
        tree = tree.setdefault(step, {})
    tree[last] = value


def _read_rows(read: FormReader, part: Rows, found: Input, tree: Tree) -> None:
    filled = tuple(column.key for column in part.columns if column.kind != "choice")
    numbers = read.numbered(part.key, filled, most=MOST_ROWS)
    if part.required and not numbers:
        read.errors.setdefault(part.key, "Fill in one row at the least.")
    found.rows[part.key] = numbers
    rows = [_read_row(read, part, number) for number in numbers]
    if not part.by_name:
        if rows or part.required:
            tree[part.key] = rows
        return
    found.names[part.key] = {}
    for number, row in zip(numbers, rows, strict=True):
        name = row.pop("name", "")
        if name in found.names[part.key]:
            read.wrong(f"{part.key}.{number}.name", "This name is used twice.")
        found.names[part.key][name] = number
        for key, value in row.items():
            tree.setdefault(key, {})[name] = value


def _read_row(read: FormReader, part: Rows, number: int) -> Tree:
    row: Tree = {}
    for column in part.columns:
        unit = read.raw(f"{part.key}.{column.key}_unit")
        value = _value(read, column, name=f"{part.key}.{number}.{column.key}", unit=unit)
        if value is not None:
            row[column.key] = value
    return row


def _value(read: FormReader, part: Field, *, name: str, unit: str) -> Any:
    """Return one value for the JSON, or None when it was left empty or cannot be read."""
    if part.kind == "tick":
        return True if read.tick(name) else (False if part.required else None)
    if part.kind == "ticks":
        return [key for key, _ in part.options if read.tick(f"{name}.{key}")] or None
    if not read.raw(name):
        if part.required:
            read.wrong(name, EMPTY)
        return None
    if part.kind in units.KINDS:
        return _quantities(read, part, name, unit) if part.many else _quantity(read, part, name, read.raw(name), unit)
    return _plain(read, part, name, unit)


def _plain(read: FormReader, part: Field, name: str, unit: str) -> Any:
    if part.kind == "whole":
        return read.maybe_count(name)
    if part.kind == "choice":
        return read.maybe_choice(name, tuple(key for key, _ in part.options))
    if part.kind == "words":
        return read.maybe_text(name)
    if part.kind in ("money", "price"):
        return _money(read, part, name, unit)
    if part.kind == "moment":
        moment = read.maybe_moment(name)
        if moment is None or name in read.errors:
            return None
        return moment.astimezone(ZoneInfo(read.shop.time_zone)).isoformat()
    return _readings(read, part, name, unit)


def _money(read: FormReader, part: Field, name: str, unit: str) -> str | None:
    text = read.raw(name)
    try:
        if part.kind == "price":
            return f"{prices.read_price_per_kg(text, field=name, unit=unit, writing=read.writing):f}"
        return f"{text_to_numbers.read_money(text, field=name, writing=read.writing):f}"
    except Invalid as refusal:
        read.errors.update(refusal.fields)
        return None


def _quantity(read: FormReader, part: Field, name: str, text: str, unit: str) -> float | None:
    # A bare number is printed with the unit that its formula takes it in.
    chosen = None if part.kind == "plain" else unit or None
    try:
        typed: Typed = text_to_numbers.read_quantity(
            text, field=name, kind=part.kind, unit=chosen, writing=read.writing
        )
    except Invalid as refusal:
        read.errors.update(refusal.fields)
        return None
    kept_in = units.KINDS[part.kind].stored_in
    return units.convert(typed.value, kept_in, part.stored or kept_in)


def _quantities(read: FormReader, part: Field, name: str, unit: str) -> list[float]:
    words = read.raw(name)[:LONGEST_LINE].split()
    found = []
    for place, word in enumerate(words, 1):
        value = _quantity(read, part, name, word, unit)
        if value is None:
            read.wrong(name, f"Number {place}: {read.errors[name]}")
            break
        found.append(value)
    return found


def _readings(read: FormReader, part: Field, name: str, unit: str) -> list[Tree]:
    """Return the readings of a line such as ``9.9 >10.6 fell``."""
    stress = Field(part.key, part.label, "pressure")
    found: list[Tree] = []
    for word in read.raw(name)[:LONGEST_LINE].split():
        if word.casefold() == "fell":
            found.append({"fell_apart": True})
            continue
        number = re.sub(r"^(>=|>|≥)", "", word)
        value = _quantity(read, stress, name, number, unit)
        if value is None:
            read.wrong(name, f"{word[:24]}: write 9.9 for broke, >10.6 for held, or fell.")
            break
        found.append({"broke_mpa" if number == word else "held_mpa": value})
    return found


def at_fields(refusal: Invalid, way: Way, found: Input) -> Invalid:
    """Return a refusal of the calculation with each sentence at the input of the form that it is about."""
    placed: dict[str, str] = {}
    homeless = []
    for path, sentence in refusal.fields.items():
        name = _place_of(path, way, found)
        told = _in_words(sentence, way)
        if name is None:
            homeless.append(told)
        else:
            placed.setdefault(name, told)
    general = _in_words(refusal.sentence, way)
    return Invalid(" ".join(dict.fromkeys([general, *homeless])), placed)


def _place_of(path: str, way: Way, found: Input) -> str | None:
    steps = path.split(".")
    for part in way.parts:
        if isinstance(part, Rows) and part.by_name and steps[0] in {column.key for column in part.columns}:
            number = found.names[part.key].get(".".join(steps[1:]))
            return part.key if number is None else f"{part.key}.{number}.{steps[0]}"
    if len(steps) > 1 and steps[1].isdecimal() and steps[0] in found.rows:
        numbers = found.rows[steps[0]]
        steps[1] = str(numbers[int(steps[1])]) if int(steps[1]) < len(numbers) else steps[1]
    return _nearest(steps, way)


def _nearest(steps: list[str], way: Way) -> str | None:
    fields = {part.key for part in way.parts}
    cells = {(part.key, column.key) for part in way.parts if isinstance(part, Rows) for column in part.columns}
    for end in range(len(steps), 0, -1):
        name = ".".join(steps[:end])
        if name in way.moved:
            return way.moved[name]
        if name in fields or (end == 3 and (steps[0], steps[2]) in cells):
            return name
    return None


def _in_words(sentence: str, way: Way) -> str:
    """Return a sentence with the labels of the form where the calculation named its keys."""
    for key, label in way.labels():
        if "_" in key:
            sentence = re.sub(rf"\b{re.escape(key)}\b", f"“{label}”", sentence)
    return sentence
