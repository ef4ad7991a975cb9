"""Rows on their way into an archive and out of it: one canonical line of JSON a row, made a column at a time.

A shop of ten years has ten million rows. What the driver gives is written as it is where that is the same text, so
that no object is made of a value only to be written down again.
"""

import json
from collections.abc import Callable, Iterator, Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from json.encoder import encode_basestring
from typing import Any
from uuid import UUID

from sqlalchemy import Connection, String, text
from sqlalchemy import Table as Columns

from service.records.base import MILLIONTHS, canonical

# Few, for the frozen data of an issued result is a row of 100 kB and more.
ROWS_AT_ONCE = 100
Tell = Callable[[Any], str]
# As SQLite keeps a moment, with its millionths.
KEPT_TIME = 26


def lines_of(connection: Connection, table: Columns, words: Mapping[str, str]) -> Iterator[list[str]]:
    """Yield the rows of a table in the order of their keys, some lines at once; ``words`` says what columns hold."""
    names = sorted(words)
    tell = [_TELL[connection.dialect.name][words[name]] for name in names]
    line = "{" + ",".join(f'"{name}":%s' for name in names) + "}\n"
    told = connection.execute(text(_question(connection, table, names)), execution_options={"yield_per": ROWS_AT_ONCE})
    for rows in told.partitions(ROWS_AT_ONCE):
        columns = [
            ["null" if value is None else one(value) for value in column]
            for one, column in zip(tell, zip(*rows, strict=True), strict=True)
        ]
        yield [line % row for row in zip(*columns, strict=True)]


def _question(connection: Connection, table: Columns, names: list[str]) -> str:
    """Return what is asked of the database as plain text: what comes back is what the driver says."""
    quoted = connection.dialect.identifier_preparer.quote
    # One order of text on all machines, whatever language the server of a database speaks.
    bytewise = ' COLLATE "C"' if connection.dialect.name == "postgresql" else ""
    order = ", ".join(
        quoted(key.name) + (bytewise if isinstance(key.type, String) else "") for key in table.primary_key.columns
    )
    return f"SELECT {', '.join(map(quoted, names))} FROM {quoted(table.name)} ORDER BY {order}"


def _kept_id(kept: str) -> str:
    return f'"{kept[:8]}-{kept[8:12]}-{kept[12:16]}-{kept[16:20]}-{kept[20:]}"'


def _kept_time(kept: str) -> str:
    if len(kept) != KEPT_TIME:
        return _time(datetime.fromisoformat(kept))
    return f'"{kept[:10]}T{kept[11:]}+00:00"'


def _time(moment: datetime) -> str:
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return f'"{aware.astimezone(UTC).isoformat(timespec="microseconds")}"'


def _quoted(value: Any) -> str:
    return f'"{value}"'


def _number(value: Any) -> str:
    told = float.__repr__(float(value))
    if not told[-1].isdigit():
        raise ValueError(f"{told} is no number that JSON has.")
    return told


def _money(millionths: int) -> str:
    return f'"{Decimal(millionths) / MILLIONTHS}"'


def _truth(value: Any) -> str:
    return "true" if value else "false"


_SAME: dict[str, Tell] = {
    "money": _money,
    "text": encode_basestring,
    "truth": _truth,
    "whole": int.__repr__,
    "number": _number,
    "day": _quoted,
}
_TELL: dict[str, dict[str, Tell]] = {
    "sqlite": {
        **_SAME,
        "typed": lambda kept: canonical(json.loads(kept)),
        "words": lambda kept: canonical(json.loads(kept)),
        "time": _kept_time,
        "id": _kept_id,
    },
    "postgresql": {**_SAME, "typed": canonical, "words": canonical, "time": _time, "id": _quoted},
}


def reader_of(dialect: str, words: Mapping[str, str]) -> Callable[[str | bytes], tuple[Any, ...]]:
    """Return what makes of a line the values of a row, in the order of ``words``, as the driver takes them.

    Whatever is no id, moment, day or amount is refused with a ValueError or ArithmeticError.
    """
    read = _READ[dialect]
    columns = [(name, read[word]) for name, word in words.items()]

    def values(line: str | bytes) -> tuple[Any, ...]:
        told = json.loads(line)
        return tuple(
            [value if (value := told[name]) is None or as_kept is None else as_kept(value) for name, as_kept in columns]
        )

    return values


def _to_kept_time(told: str) -> str:
    moment = datetime.fromisoformat(told)
    if moment.tzinfo is not UTC:
        moment = moment.astimezone(UTC)
    return moment.replace(tzinfo=None).isoformat(" ", "microseconds")


def _to_money(told: Any) -> int:
    millionths = Decimal(told) * MILLIONTHS
    if millionths != int(millionths):
        raise ValueError("Money is kept to six decimals.")
    return int(millionths)


def _to_day(told: str) -> str:
    return date.fromisoformat(told).isoformat()


# Nothing where a value is what the driver takes.
_AS_IT_IS: dict[str, Callable[[Any], Any] | None] = {"text": None, "truth": None, "whole": None, "number": None}
_READ: dict[str, dict[str, Callable[[Any], Any] | None]] = {
    "sqlite": {
        **_AS_IT_IS,
        "money": _to_money,
        "typed": json.dumps,
        "words": json.dumps,
        "time": _to_kept_time,
        "day": _to_day,
        "id": lambda told: UUID(told).hex,
    },
    "postgresql": {
        **_AS_IT_IS,
        "money": _to_money,
        "typed": json.dumps,
        "words": json.dumps,
        "time": datetime.fromisoformat,
        "day": date.fromisoformat,
        "id": UUID,
    },
}
