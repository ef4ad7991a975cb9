"""Tables that leave the shop as files, a row at a time: text, or data for programs (workbooks: workbooks.py)."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from service.words.table_numbers import spelled
from service.words.units import unit_label

Cell = str | int | float | datetime | date | None
# A spreadsheet runs a cell that begins with one of these; a tab or return hides one behind it.
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
# Told by it, a spreadsheet reads the letters of every language right.
BYTE_ORDER_MARK = "\ufeff"
ROWS_AT_ONCE = 500


@dataclass(frozen=True)
class Column:
    """A column: its name in English, and the unit of its figures or the zone of its moments."""

    name: str
    unit: str = ""
    zone: str = ""

    @property
    def key(self) -> str:
        """What a program calls it."""
        return f"{self.name} {self.unit}".strip().lower().replace(" ", "_").replace("/", "_")

    def head(self, words: Mapping[str, str]) -> str:
        """Return what stands above it, in the words of a language."""
        behind = self.zone or words.get(self.unit, unit_label(self.unit))
        return f"{words.get(self.name, self.name)} ({behind})" if behind else words.get(self.name, self.name)


def as_csv(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> str:
    """Return rows as comma-separated text; typed text cannot become a formula."""
    return "".join(csv_pieces(head, rows))


def csv_pieces(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """Yield the same, some rows at a time."""
    out = io.StringIO(BYTE_ORDER_MARK)
    out.seek(0, io.SEEK_END)
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_harmless(name) for name in head])
    for number, row in enumerate(rows, 1):
        writer.writerow([_harmless(value) for value in row])
        if number % ROWS_AT_ONCE == 0:
            yield out.getvalue()
            out.seek(0)
            out.truncate()
    yield out.getvalue()


def _harmless(value: Cell) -> str | int | float | None:
    # A quote in front makes the cell text; a number is written as a number and needs none.
    if isinstance(value, str):
        return f"'{value}" if value.startswith(STARTS_A_FORMULA) else value
    return _said(value)


def _said(value: Cell) -> str | int | float | None:
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    number: str | int | float | None = spelled(value)
    return number


def json_pieces(
    facts: dict[str, object], name: str, keys: Sequence[str], rows: Iterable[Sequence[Cell]]
) -> Iterator[str]:
    """Yield an object with some facts and with the rows under a name, one object a row, some rows at a time."""
    yield json.dumps(facts, ensure_ascii=False, indent=1).removesuffix("\n}") + f',\n "{name}": ['
    held: list[str] = []
    for number, row in enumerate(rows, 1):
        one = {key: _said(value) for key, value in zip(keys, row, strict=True)}
        held.append(("" if number == 1 else ",") + "\n  " + json.dumps(one, ensure_ascii=False, allow_nan=False))
        if number % ROWS_AT_ONCE == 0:
            yield "".join(held)
            held.clear()
    yield "".join(held) + "\n ]\n}\n"
