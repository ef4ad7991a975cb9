"""What was typed, beside its answer: an answer on the page or on paper says from which numbers it comes."""

from collections.abc import Iterator, Mapping

from service.web.pages.calculator.parts import Field, Rows, Way
from service.web.pages.calculator.showing import Figure, Shown, Table
from service.words.units import unit_label


def typed_in(way: Way, typed: Mapping[str, str]) -> Shown:
    """Return every input that was filled in, word for word, with its unit."""
    facts = tuple(_facts(way, typed))
    tables = (_table(part, typed) for part in way.parts if isinstance(part, Rows))
    return Shown((), facts, tuple(table for table in tables if table.rows))


def _facts(way: Way, typed: Mapping[str, str]) -> Iterator[Figure]:
    for part in way.parts:
        if isinstance(part, Field):
            text = _text(part, typed, name=part.key, unit=typed.get(f"{part.key}_unit", ""))
            if text:
                yield Figure(part.label, text)


def _text(part: Field, typed: Mapping[str, str], *, name: str, unit: str) -> str:
    if part.kind == "ticks":
        return "; ".join(word for key, word in part.options if typed.get(f"{name}.{key}"))
    text = typed.get(name, "").strip()
    if not text:
        return ""
    if part.kind == "choice":
        return dict(part.options).get(text, text)
    return f"{text.replace('T', ' ') if part.kind == 'moment' else text} {unit_label(unit)}".strip()


def _table(part: Rows, typed: Mapping[str, str]) -> Table:
    numbers = {key.split(".")[1] for key, text in typed.items() if key.startswith(f"{part.key}.") and text.strip()}
    rows = []
    for number in sorted(int(number) for number in numbers if number.isdecimal()):
        cells = tuple(
            _text(column, typed, name=f"{part.key}.{number}.{column.key}", unit="") for column in part.columns
        )
        if any(cell for cell, column in zip(cells, part.columns, strict=True) if column.kind != "choice"):
            rows.append(cells)
    used = [place for place in range(len(part.columns)) if any(row[place] for row in rows)]
    heads = tuple(_head(part, part.columns[place], typed) for place in used)
    return Table(f"{part.label}, as typed", heads, tuple(tuple(row[place] for place in used) for row in rows))


def _head(part: Rows, column: Field, typed: Mapping[str, str]) -> str | tuple[str, str]:
    if column.kind in ("words", "choice"):
        return column.label
    return column.label, typed.get(f"{part.key}.{column.key}_unit", "")
