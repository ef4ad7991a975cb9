"""Tables that come in as files: comma-separated text as people's programs write it, or a workbook."""

import csv
import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import islice
from typing import Any

from service.errors import Invalid
from service.paper.tables import STARTS_A_FORMULA

FIELD = "file"
MOST_TABLE_BYTES = 10_000_000
# What a small file may unpack to, and how large a table may be.
MOST_UNPACKED, MOST_ROWS, MOST_COLUMNS, LONGEST_CELL = 200_000_000, 50_000, 100, 1_000
SEPARATORS = (",", ";", "\t", "|")
XLSX, CSV = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "text/csv"
NO_TABLE = "This is no table. Save it as CSV or XLSX."
UNIT_BEHIND = re.compile(r"[(\[][^)\]]*[)\]]$")
Row = tuple[str, ...]


@dataclass(frozen=True)
class Sheet:
    """A table: what stands above its columns, and its rows that are not blank, with their numbers in the file."""

    head: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    media_type: str


def read_table(content: bytes) -> Sheet:
    """Return the table in a file, every cell as the text that is seen in it; what is no table is refused."""
    if not content:
        raise Invalid("No file was sent.", {FIELD: "Choose a file first."})
    if len(content) > MOST_TABLE_BYTES:
        raise _refused(f"A file has at most {MOST_TABLE_BYTES // 1_000_000} MB.")
    is_book = content.startswith(b"PK\x03\x04")
    numbered = _book(content) if is_book else _text(content)
    rows = [(number, row) for number, row in numbered if any(row)]
    if not rows:
        raise _refused("There is nothing in this table.")
    if len(rows) > MOST_ROWS:
        raise _refused(f"A table has at most {MOST_ROWS} rows. Split the file.")
    # A title may stand above the heads: those are the first row in which several cells are filled.
    place = next((at for at, (_, row) in enumerate(rows) if sum(map(bool, row)) >= 3), 0)
    head = rows[place][1]
    if sum(map(bool, head)) < 3:
        raise _refused(NO_TABLE)
    if place + 1 < len(rows) and _is_lower_head(head, rows[place + 1][1]):
        place += 1
        head = _joined(head, rows[place][1])
    # A workbook's rows are as wide as may be: what is blank in all of them is no column.
    wide = max(at for row in (head, *(row for _, row in rows[place:])) for at, cell in enumerate(row, 1) if cell)
    head = (*head, *("",) * wide)[:wide]
    return Sheet(
        head,
        tuple((number, (*row[:wide], *("",) * (wide - len(row)))) for number, row in rows[place + 1 :]),
        XLSX if is_book else CSV,
    )


def _is_lower_head(above: Row, below: Row) -> bool:
    """Return whether a row is the lower half of heads: words alone, below a head that spans several columns."""
    spanned = {place for place, cell in enumerate(above) if not cell and place and any(above[:place])}
    filled = {place for place, cell in enumerate(below) if cell}
    return bool(spanned & filled) and not any(re.search(r"[0-9]", cell) for cell in below)


def _joined(above: Row, below: Row) -> Row:
    """Return heads of two rows as one: the lower word, with the unit that a head across several columns says."""
    heads, across = [], ""
    for place in range(max(len(above), len(below))):
        upper, lower = (row[place] if place < len(row) else "" for row in (above, below))
        across = upper or across
        unit = UNIT_BEHIND.search(across)
        has_unit = UNIT_BEHIND.search(lower) is not None
        heads.append(f"{lower} {unit[0]}" if lower and unit and not has_unit else lower or upper)
    return tuple(heads)


def _text(content: bytes) -> Iterator[tuple[int, tuple[str, ...]]]:
    text = _decoded(content)
    begins = text[:4000].splitlines()[:5]
    separator = max(SEPARATORS, key=lambda sign: max((line.count(sign) for line in begins), default=0))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    try:
        for row in islice(reader, MOST_ROWS + 1000):
            yield reader.line_num, tuple(_cell(_unguarded(cell)) for cell in row[:MOST_COLUMNS])
    except csv.Error as error:
        raise _refused(NO_TABLE) from error


def _unguarded(cell: str) -> str:
    # Our own tables put a quote before text that a spreadsheet would run; here it is text anyway.
    return cell[1:] if cell.startswith("'") and cell[1:].startswith(STARTS_A_FORMULA) else cell


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", "replace")
    if b"\0" in content:
        raise _refused(NO_TABLE)
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        # As spreadsheets write where UTF-8 is not asked for; every byte has a sign in it but for a few.
        return content.decode("cp1252", "replace")


def _book(content: bytes) -> Iterator[tuple[int, tuple[str, ...]]]:
    # Loaded when a workbook is read: few requests need it.
    import openpyxl

    try:
        with zipfile.ZipFile(io.BytesIO(content)) as packed:
            if sum(each.file_size for each in packed.infolist()) > MOST_UNPACKED:
                raise _refused("This workbook unpacks to too much.")
        book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True)
        rows = book.worksheets[0].iter_rows(max_col=MOST_COLUMNS, max_row=MOST_ROWS + 1000, values_only=True)
        for number, row in enumerate(rows, 1):
            yield number, tuple(_cell(cell) for cell in row)
    except Invalid:
        raise
    except Exception as error:
        # A broken workbook breaks the library in many ways; none of them is a fault of ours.
        raise _refused(NO_TABLE) from error


def _cell(cell: Any) -> str:
    if cell is None:
        return ""
    if isinstance(cell, datetime):
        return cell.date().isoformat() if cell.time() == time() else cell.isoformat(" ", "minutes")
    if isinstance(cell, date):
        return cell.isoformat()
    if isinstance(cell, float):
        return repr(int(cell)) if cell.is_integer() else f"{cell:.12g}"
    return re.sub(r"\s+", " ", str(cell)).strip()[:LONGEST_CELL]


def _refused(sentence: str) -> Invalid:
    return Invalid(sentence, {FIELD: sentence})
