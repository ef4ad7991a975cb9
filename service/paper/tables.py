"""Tables that leave the shop as files."""

import csv
import io
from collections.abc import Iterable, Sequence

# A spreadsheet runs a cell that begins with one of these; a tab or return hides one behind it.
STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def as_csv(head: Sequence[str], rows: Iterable[Sequence[str | int | float | None]]) -> str:
    """Return rows as comma-separated text; typed text cannot become a formula."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_harmless(name) for name in head])
    writer.writerows([_harmless(value) for value in row] for row in rows)
    return out.getvalue()


def _harmless(value: str | int | float | None) -> str | int | float | None:
    # A quote in front makes the cell text; a number is written as a number and needs none.
    return f"'{value}" if isinstance(value, str) and value.startswith(STARTS_A_FORMULA) else value
