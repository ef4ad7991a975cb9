"""Numbers for tables that programs and spreadsheets read: still numbers, with the digits that somebody could read.

Rounded as ``numbers_to_text`` rounds them, so that a table and a page never differ; many thousands are written at once,
which decimals would take long for.
"""

from functools import lru_cache
from math import floor, log10
from typing import Any

from service.typed import number_of
from service.words.units import convert

# What binary fractions lose must not cost a half its rounding up, nor a floor its last digit.
HAIR = 1e-12


def to_step(value: float, step: float, *, held: bool = False) -> float | int:
    """Return a number to the place that a gauge with such steps tells; one that is only a floor is rounded down."""
    return _at_place(value, _place(step), held=held)


def to_digits(value: float, digits: int) -> float | int:
    """Return a number in at most so many significant figures."""
    return _at_place(value, floor(log10(abs(value))) - digits + 1, held=False) if value else 0


def _at_place(value: float, place: int, *, held: bool) -> float | int:
    size = abs(value) * (1 + HAIR)
    steps = floor(size / 10.0**place + (0.0 if held else 0.5))
    if place >= 0:
        whole: int = steps * 10**place
        return -whole if value < 0 else whole
    # The division of two whole numbers gives the float next to the decimal.
    rounded: float = steps / 10**-place
    return -rounded if value < 0 else rounded


@lru_cache(maxsize=4096)
def _place(step: float) -> int:
    return floor(log10(float(f"{step:.9g}"))) if step else -2


@lru_cache(maxsize=4096)
def as_shown(text: str, unit: str, to: str) -> float | int | None:
    """Return what a dial showed in another unit, to the last digit written down; None for no number."""
    number = number_of(text)
    if number is None:
        return None
    _, _, behind = text.partition(".")
    return to_step(convert(float(number), unit, to), convert(10.0 ** -len(behind), unit, to))


def spelled(cell: Any) -> Any:
    """Return a number without a zero that nobody read behind its point."""
    return int(cell) if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15 else cell
