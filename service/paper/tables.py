"""Tables that leave the shop as files, a row at a time: text, workbook or data for programs."""

import csv
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import IO

from service.words.table_numbers import spelled

Cell = str | int | float | datetime | date | None
# A spreadsheet runs a cell that begins with one of these; a tab or return hides one behind it.
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
# Told by it, a spreadsheet reads the letters of every language right.
BYTE_ORDER_MARK = "\ufeff"
ROWS_AT_ONCE = 500


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


def json_pieces(facts: dict[str, object], keys: Sequence[str], rows: Iterable[Sequence[Cell]]) -> Iterator[str]:
    """Yield an object with some facts and with ``readings``, one object a row, some rows at a time."""
    yield json.dumps(facts, ensure_ascii=False, indent=1).removesuffix("\n}") + ',\n "readings": ['
    held: list[str] = []
    for number, row in enumerate(rows, 1):
        one = {key: _said(value) for key, value in zip(keys, row, strict=True)}
        held.append(("" if number == 1 else ",") + "\n  " + json.dumps(one, ensure_ascii=False, allow_nan=False))
        if number % ROWS_AT_ONCE == 0:
            yield "".join(held)
            held.clear()
    yield "".join(held) + "\n ]\n}\n"


def write_xlsx(to: Path | IO[bytes], sheet: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a workbook of one sheet, row by row through a file of its own, so that memory does not grow with it.

    Text is written as text, so that nothing typed becomes a formula or a link; a moment stands on its own clock, which
    the head of its column has to name, for a workbook knows no zone.
    """
    # Loaded when a workbook is written: few requests need it.
    import xlsxwriter

    plain = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(to, {"constant_memory": True, "remove_timezone": True, **plain})
    made_at = datetime(2000, 1, 1)  # noqa: DTZ001
    book.set_properties({"created": made_at})
    page = book.add_worksheet(sheet)
    bold, moment, day = (
        book.add_format({"bold": True}),
        book.add_format({"num_format": "yyyy-mm-dd hh:mm"}),
        book.add_format({"num_format": "yyyy-mm-dd"}),
    )
    page.freeze_panes(1, 0)
    page.autofilter(0, 0, 0, max(0, len(head) - 1))
    for place, name in enumerate(head):
        page.set_column(place, place, min(40, max(9, len(name) + 2)))
        page.write_string(0, place, name, bold)
    for number, row in enumerate(rows, 1):
        for place, value in enumerate(row):
            if value is None or value == "":
                continue
            if isinstance(value, str):
                page.write_string(number, place, value)
            elif isinstance(value, int | float):
                page.write_number(number, place, value)
            else:
                page.write_datetime(number, place, value, moment if isinstance(value, datetime) else day)
    book.close()
