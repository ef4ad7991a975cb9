"""Whether every typed quantity of a database still comes to what its column says."""

import math
from collections.abc import Iterator

from sqlmodel import Session, select

from service.records.base import Raw
from service.words.units import UNIT_NAMES, convert

# The end of a column's name says its unit; the longer endings come first, since "_kg_m3" also ends in "_m3".
UNIT_OF = {
    "_kg_m3": "kg/m3",
    "_kn_m": "kN/m",
    "_kg": "kg",
    "_l": "L",
    "_g": "g",
    "_mm": "mm",
    "_m": "m",
    "_mpa": "MPa",
    "_kn": "kN",
    "_hours": "h",
    "_hours_max": "h",
    "_min": "min",
    "_days": "d",
    "_c": "°C",
    "_s": "s",
    "moisture": "of 1",
    "waste": "of 1",
    "efficiency": "of 1",
    "share": "of 1",
    "reading": "of 1",
    "meniscus": "of 1",
    "specific_gravity": "of 1",
}


def raw_tables() -> list[type[Raw]]:
    """Return every declared table of typed quantities."""
    found, waiting = [], [Raw]
    while waiting:
        below = waiting.pop().__subclasses__()
        waiting += below
        found += [table for table in below if hasattr(table, "__table__")]
    return found


def disagreements(session: Session) -> Iterator[str]:
    """Yield one line for every kept text that is of no column, or comes to something else than its column says."""
    for table in raw_tables():
        for row in session.exec(select(table)):
            for column, typed in row.as_read.items():
                told = f"{table.__name__}.{column}: {typed['text']} {typed['unit']}"
                if column not in table.model_fields:
                    yield f"{told} is of no column"
                elif typed["unit"] in UNIT_NAMES and not agrees(column, getattr(row, column), typed):
                    yield f"{told} is not {getattr(row, column)}"


def agrees(column: str, value: float, typed: dict[str, str]) -> bool:
    """Return whether a text and its unit come to the value, to the last digits that a double carries."""
    unit = next((unit for ending, unit in UNIT_OF.items() if column.endswith(ending)), None)
    return unit is not None and math.isclose(convert(float(typed["text"]), typed["unit"], unit), value, rel_tol=1e-12)
