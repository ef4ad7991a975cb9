"""Words and numbers as old tables have them, in English and Spanish: marks between digits, days, states of a block."""

import re
import unicodedata
from datetime import date
from functools import lru_cache
from typing import Literal

from service.errors import Invalid

Mark = Literal[".", ","]
Order = Literal["day", "month"]

CONDITIONS = (
    ("oven-dry", ("oven", "horno", "kiln")),
    # Before "soaked", which they hold.
    (
        "as cured",
        (
            "as cured",
            "not soaked",
            "unsoaked",
            "no soak",
            "sin sumergir",
            "no sumergid",
            "sin remoj",
            "no remoj",
            "sin moj",
            "no moj",
        ),
    ),
    ("soaked", ("soak", "wet", "satur", "submer", "immer", "sumerg", "humed", "moj", "remoj", "inmer")),
    ("air-dry", ("air", "dry", "seco", "seca", "aire")),
    ("as cured", ("cured", "curado")),
)
OUTCOMES = (
    ("held", ("held", "did not break", "not broken", "no break", "no se rompio", "no rompio", "sin romper")),
    ("fell apart", ("fell apart", "dissol", "disinteg", "collapsed in water", "se deshizo", "deshech", "desinteg")),
    ("spoiled", ("spoil", "invalid", "void", "not counted", "ensayo invalido", "nulo", "no cuenta")),
    ("broke", ("broke", "fail", "crushed", "se rompio", "rompio", "roto", "fallo", "ok", "counted", "cuenta")),
)
MONTHS = {
    name: number
    for number, names in enumerate(
        (
            ("jan", "january", "ene", "enero"), ("feb", "february", "febrero"), ("mar", "march", "marzo"),
            ("apr", "april", "abr", "abril"), ("may", "mayo"), ("jun", "june", "junio"), ("jul", "july", "julio"),
            ("aug", "august", "ago", "agosto"), ("sep", "sept", "september", "set", "septiembre", "setiembre"),
            ("oct", "october", "octubre"), ("nov", "november", "noviembre"), ("dec", "december", "dic", "diciembre"),
        ),
        1,
    )
    for name in names
}  # fmt: skip
GROUPED = {
    ".": re.compile(r"(?<![0-9.,])[0-9]{1,3}(?:,[0-9]{3})+(?![0-9,])", re.ASCII),
    ",": re.compile(r"(?<![0-9.,])[0-9]{1,3}(?:\.[0-9]{3})+(?![0-9.])", re.ASCII),
}
WITH_COMMA = re.compile(r"[0-9],(?:[0-9]{1,2}|[0-9]{4,})(?![0-9])", re.ASCII)
ISO = re.compile(r"([0-9]{4})[-/.]([0-9]{1,2})[-/.]([0-9]{1,2})(?:[T ].*)?", re.ASCII)
NUMBERS = re.compile(r"([0-9]{1,2})[-/. ]([0-9]{1,2})[-/. ]([0-9]{4}|[0-9]{2})(?: .*)?", re.ASCII)
NAMED = re.compile(r"([0-9]{1,2})[-/. ]*(?:de )?([a-z]{3,10})\.?,?[-/. ]*(?:de )?([0-9]{4}|[0-9]{2})", re.ASCII)
MONTH_FIRST = re.compile(r"([a-z]{3,10})\.? ([0-9]{1,2})(?:st|nd|rd|th)?,? ([0-9]{4})", re.ASCII)


@lru_cache(maxsize=8192)
def plain(text: str) -> str:
    """Return a text in small letters without accents and with single spaces, so that two spellings meet."""
    letters = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(sign for sign in letters if not unicodedata.combining(sign)).split())


def with_point(text: str, mark: Mark) -> str:
    """Return a number of a file as we read numbers: a point before the decimals and nothing between thousands.

    >>> with_point("1.234,5 psi", ","), with_point("1,234.5", "."), with_point("12,5", ".")
    ('1234.5 psi', '1234.5', '12,5')
    """
    text = GROUPED[mark].sub(lambda found: found.group().replace("," if mark == "." else ".", ""), text)
    return text.replace(",", ".") if mark == "," else text


def mark_of(cells: list[str]) -> Mark:
    """Return which sign stands before the decimals in a file: a comma where one is followed by one or two digits."""
    commas = sum(bool(WITH_COMMA.search(cell)) for cell in cells)
    points = sum(bool(re.search(r"[0-9]\.[0-9]{1,2}(?![0-9])", cell)) for cell in cells)
    return "," if commas > points else "."


def order_of(cells: list[str], *, otherwise: Order) -> Order:
    """Return whether day or month stands first in the days of a file, as far as one above twelve tells."""
    for cell in cells:
        found = NUMBERS.fullmatch(cell)
        if found and int(found[1]) > 12:
            return "day"
        if found and int(found[2]) > 12:
            return "month"
    return otherwise


def day_of(text: str, order: Order) -> date:
    """Return a day as old tables write it: 2021-03-04, 4/3/21, 4 Mar 2021, 4-mar-21, March 4, 2021."""
    said = plain(text)
    if found := ISO.fullmatch(said):
        year, month, day = int(found[1]), int(found[2]), int(found[3])
    elif found := NUMBERS.fullmatch(said):
        first, second, year = int(found[1]), int(found[2]), int(found[3])
        day, month = (first, second) if order == "day" else (second, first)
    elif (found := NAMED.fullmatch(said)) and found[2] in MONTHS:
        day, month, year = int(found[1]), MONTHS[found[2]], int(found[3])
    elif (found := MONTH_FIRST.fullmatch(said)) and found[1] in MONTHS:
        month, day, year = MONTHS[found[1]], int(found[2]), int(found[3])
    else:
        raise Invalid("Write the day as 2021-03-04.")
    try:
        return date(year + (0 if year > 99 else 2000 if year < 70 else 1900), month, day)
    except ValueError:
        raise Invalid("There is no such day in the calendar.") from None


def condition_of(text: str) -> str | None:
    """Return which condition a word means, None where it is not known."""
    return _meant(text, CONDITIONS)


def outcome_of(text: str) -> str | None:
    """Return which outcome a word means, None where it is not known."""
    return _meant(text, OUTCOMES)


def _meant(text: str, known: tuple[tuple[str, tuple[str, ...]], ...]) -> str | None:
    said = plain(text)
    return next((meaning for meaning, words in known if any(word in said for word in words)), None)
