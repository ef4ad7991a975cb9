"""Workbooks of one sheet, a row at a time: the library makes the file, and the cells are written here.

Its own cells take three times as long, which a table of 100,000 rows feels and a small one does not.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from functools import lru_cache
from html import escape
from itertools import chain
from math import isfinite
from pathlib import Path
from typing import IO

import xlsxwriter
from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from service.paper.tables import Cell

# Day 0 of a workbook, so that the days after February 1900 have the numbers that spreadsheets give them.
FIRST_DAY, MIDNIGHT = date(1899, 12, 30), datetime(1899, 12, 30)  # noqa: DTZ001
ONE_DAY = timedelta(days=1)
# What no XML may hold is written by its number, and so is what looks like such a number.
UNWRITTEN = re.compile(r"[\x00-\x08\x0b-\x1f\ufffe\uffff]|_(?=x[0-9A-Fa-f]{4}_)")


class _Sheet(Worksheet):  # type: ignore[misc]
    """A sheet whose rows come as finished text; they go through a file of their own, so that memory does not grow."""

    def put(self, rows: Iterable[str], *, width: int) -> None:
        """Write all rows of the sheet."""
        written = 0
        try:
            for row in rows:
                self.row_data_fh.write(row)
                written += 1
        except BaseException:
            # The library removes its file when the workbook is closed, which now never is.
            self.row_data_fh.close()
            Path(self.row_data_filename).unlink()
            raise
        self.dim_rowmin, self.dim_rowmax = 0, max(0, written - 1)
        self.dim_colmin, self.dim_colmax = 0, max(0, width - 1)


def write_xlsx(to: Path | IO[bytes], sheet: str, head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a workbook of one sheet.

    Text is written as text, so that nothing typed becomes a formula or a link; a moment stands on its own clock, which
    the head of its column has to name, for a workbook knows no zone.
    """
    book = xlsxwriter.Workbook(to, {"constant_memory": True})
    made_at = datetime(2000, 1, 1)  # noqa: DTZ001
    book.set_properties({"created": made_at})
    page = book.add_worksheet(sheet, worksheet_class=_Sheet)
    bold, moment, day = (
        book.add_format({"bold": True}),
        book.add_format({"num_format": "yyyy-mm-dd hh:mm"}),
        book.add_format({"num_format": "yyyy-mm-dd"}),
    )
    page.freeze_panes(1, 0)
    page.autofilter(0, 0, 0, max(0, len(head) - 1))
    for place, name in enumerate(head):
        page.set_column(place, place, min(40, max(9, len(name) + 2)))
    # A format has its number in the file from the moment at which it is asked for.
    bold_style, moment_style, day_style = (one._get_xf_index() for one in (bold, moment, day))
    places = [xl_col_to_name(place) for place in range(len(head))]
    heads = [f'<c r="{place}1' + _text(name, f' s="{bold_style}"') for place, name in zip(places, head, strict=True)]
    made = _rows(places, rows, moment=f' s="{moment_style}"', day=f' s="{day_style}"')
    page.put(chain([f'<row r="1">{"".join(heads)}</row>'], made), width=len(head))
    book.close()


def _rows(places: Sequence[str], rows: Iterable[Sequence[Cell]], *, moment: str, day: str) -> Iterator[str]:
    for number, row in enumerate(rows, 2):
        cells = []
        for place, value in zip(places, row, strict=True):
            if value is None or value == "":
                continue
            if isinstance(value, str):
                cells.append(f'<c r="{place}{number}{_text(value)}')
            elif isinstance(value, int | float):
                cells.append(f'<c r="{place}{number}"><v>{_number(value)}</v></c>')
            elif isinstance(value, datetime):
                days = (value.replace(tzinfo=None) - MIDNIGHT) / ONE_DAY
                cells.append(f'<c r="{place}{number}"{moment}><v>{_number(days)}</v></c>')
            else:
                cells.append(f'<c r="{place}{number}"{day}><v>{(value - FIRST_DAY).days}</v></c>')
        yield f'<row r="{number}">{"".join(cells)}</row>'


def _number(value: float) -> str:
    if not isfinite(value):
        raise ValueError("A workbook holds no such number.")
    return str(int(value)) if value == int(value) else repr(value)


@lru_cache(maxsize=4096)
def _text(text: str, style: str = "") -> str:
    """Return what follows the place of a cell with a text."""
    written = escape(UNWRITTEN.sub(lambda found: f"_x{ord(found[0]):04X}_", text), quote=False)
    kept = "" if written == " ".join(written.split()) else ' xml:space="preserve"'
    return f'"{style} t="inlineStr"><is><t{kept}>{written}</t></is></c>'
