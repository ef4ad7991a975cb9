"""Typed text becomes a number here and nowhere else: checked by pattern, then by an offered unit, then converted.

The text never reaches pint, which reads "1,5 kN" as 15 kN and hangs on "9**9**9"; pint gets a float
and a unit name of our own table.
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import ROUND_HALF_UP, Decimal
from functools import cache
from typing import TYPE_CHECKING, Literal
from zoneinfo import ZoneInfo

from service.errors import Invalid
from service.typed import Typed

if TYPE_CHECKING:
    import pint

Units = Literal["imperial", "metric"]

# What we write -> what pint calls it.
UNIT_NAMES = {
    "kg": "kilogram", "g": "gram", "t": "metric_ton", "lb": "pound", "oz": "ounce",
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "ft": "foot",
    "MPa": "megapascal", "N/mm2": "newton / millimeter ** 2", "kPa": "kilopascal", "bar": "bar",
    "psi": "pound_force_per_square_inch", "kgf/cm2": "force_kilogram / centimeter ** 2",
    "kN": "kilonewton", "N": "newton", "lbf": "force_pound", "kgf": "force_kilogram", "tf": "force_metric_ton",
    "%": "percent", "of 1": "dimensionless", "kg/kg": "kilogram / kilogram",
    "h": "hour", "min": "minute", "s": "second", "d": "day",
    "kg/m3": "kilogram / meter ** 3", "lb/ft3": "pound / foot ** 3", "kg/L": "kilogram / liter",
    "kN/m": "kilonewton / meter", "lbf/ft": "force_pound / foot", "kgf/m": "force_kilogram / meter",
    "MPa/s": "megapascal / second", "MPa/min": "megapascal / minute", "psi/s": "pound_force_per_square_inch / second",
    "kN/s": "kilonewton / second", "N/s": "newton / second", "lbf/s": "force_pound / second",
    "lbf/min": "force_pound / minute",
    "L": "liter", "gal": "gallon", "°C": "degree_Celsius", "°F": "degree_Fahrenheit",
}  # fmt: skip

# Other spellings that people type after a number; matched without regard to capitals.
SPELLINGS = {
    "lbs": "lb", "pound": "lb", "pounds": "lb", "kilo": "kg", "kilos": "kg", "kgs": "kg", "grams": "g", "gram": "g",
    "inch": "in", "inches": "in", "in.": "in", '"': "in", "”": "in", "feet": "ft", "foot": "ft", "ft.": "ft",
    "'": "ft", "’": "ft", "kgf/cm²": "kgf/cm2", "kg/cm2": "kgf/cm2", "n/mm²": "N/mm2", "percent": "%",
    "hours": "h", "hour": "h", "hr": "h", "hrs": "h", "minutes": "min", "seconds": "s", "sec": "s", "days": "d",
    "day": "d", "kg/m³": "kg/m3", "pcf": "lb/ft3", "lb/ft³": "lb/ft3", "kg/l": "kg/L", "g/cm3": "kg/L", "plf": "lbf/ft",
    "lb/ft": "lbf/ft", "litre": "L", "liter": "L", "litres": "L", "liters": "L", "c": "°C", "f": "°F",
    "degc": "°C", "degf": "°F",
}  # fmt: skip


@dataclass(frozen=True)
class Kind:
    """A kind of quantity: the unit it is stored in, the units it may be typed in, and what is beyond belief.

    ``least`` and ``most`` are in the unit of storage. They stop slips of a keyboard, not poor soils.
    """

    stored_in: str
    metric: tuple[str, ...]
    imperial: tuple[str, ...]
    most: float
    least: float = 0.0


KINDS = {
    "mass": Kind("kg", ("kg", "g", "lb", "oz"), ("lb", "oz", "kg", "g"), most=100_000),
    # Cans and pots are weighed in grams on either side of the border.
    "small_mass": Kind("kg", ("g", "kg", "oz", "lb"), ("g", "oz", "lb", "kg"), most=1_000),
    "sieve_mass": Kind("g", ("g", "kg", "oz", "lb"), ("g", "oz", "lb", "kg"), most=1_000_000),
    "length": Kind("mm", ("mm", "cm", "m", "in", "ft"), ("in", "ft", "mm", "cm", "m"), most=100_000),
    # Openings of sieves are named in millimetres by the standards of both countries.
    "small_length": Kind("mm", ("mm", "in"), ("mm", "in"), most=1_000),
    "height": Kind("m", ("m", "cm", "ft", "in"), ("ft", "in", "m", "cm"), most=100),
    "pressure": Kind(
        "MPa", ("MPa", "N/mm2", "kPa", "bar", "kgf/cm2", "psi"), ("psi", "MPa", "kPa", "bar", "kgf/cm2"), most=1_000
    ),
    # A zero that has wandered below the mark is a reading too.
    "gauge_zero": Kind("MPa", ("MPa", "kPa", "bar", "psi"), ("psi", "MPa", "kPa", "bar"), most=10, least=-10),
    "force": Kind("kN", ("kN", "N", "kgf", "tf", "lbf"), ("lbf", "kN", "N", "kgf", "tf"), most=100_000),
    "stress_rate": Kind("MPa/s", ("MPa/s", "MPa/min", "psi/s"), ("psi/s", "MPa/s", "MPa/min"), most=1_000),
    "load_rate": Kind("kN/s", ("kN/s", "N/s", "lbf/s", "lbf/min"), ("lbf/s", "lbf/min", "kN/s", "N/s"), most=100_000),
    "share": Kind("of 1", ("%", "of 1"), ("%", "of 1"), most=1),
    # Peat holds several times its dry mass of water.
    "moisture": Kind("of 1", ("%", "of 1"), ("%", "of 1"), most=20),
    "hours": Kind("h", ("h", "min", "d"), ("h", "min", "d"), most=10_000),
    "minutes": Kind("min", ("min", "h"), ("min", "h"), most=100_000),
    "seconds": Kind("s", ("s", "min"), ("s", "min"), most=86_400),
    "days": Kind("d", ("d", "h"), ("d", "h"), most=3_660),
    "density": Kind("kg/m3", ("kg/m3", "kg/L", "lb/ft3"), ("lb/ft3", "kg/m3", "kg/L"), most=10_000),
    "line_load": Kind("kN/m", ("kN/m", "kgf/m", "lbf/ft"), ("lbf/ft", "kN/m", "kgf/m"), most=10_000),
    "volume": Kind("L", ("L", "gal"), ("gal", "L"), most=100_000),
    "temperature": Kind("°C", ("°C", "°F"), ("°F", "°C"), most=1_200, least=-90),
    # Carbon dioxide equivalent, in kg for each kg of a material.
    "carbon": Kind("kg/kg", ("kg/kg",), ("kg/kg",), most=1_000),
    # A bare number: a mark on a scale, a ratio.
    "plain": Kind("of 1", ("of 1",), ("of 1",), most=1_000_000, least=-1_000_000),
}

NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?", re.ASCII)
MONEY = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,6})?", re.ASCII)
LONGEST_NUMBER = 24
SMALLEST = 1e-9


def offered(kind: str, units: Units) -> tuple[str, ...]:
    """Return the units offered for a kind, the shop's own first."""
    return KINDS[kind].metric if units == "metric" else KINDS[kind].imperial


def read_quantity(text: str, *, field: str, kind: str, unit: str | None = None) -> Typed:
    """Return what was typed, as typed and in the unit its kind is stored in.

    A unit typed after the number is the person's own word and outranks the one of the select.
    """
    number, typed_unit = _parted(text, field=field)
    unit = _offered_unit(typed_unit or unit, field=field, kind=kind)
    value = convert(_number(number, field=field), unit, KINDS[kind].stored_in)
    _check_believable(value, field=field, kind=kind, unit=unit)
    return Typed(value=value, text=number, unit=unit)


def convert(value: float, unit: str, to: str) -> float:
    """Return ``value`` in another unit of our own table."""
    if unit == to:
        return value
    if unit.startswith("°"):
        return float(_registry().Quantity(value, UNIT_NAMES[unit]).to(UNIT_NAMES[to]).magnitude)
    return value * _factor(unit, to)


@cache
def _factor(unit: str, to: str) -> float:
    return float(_registry().Quantity(1.0, UNIT_NAMES[unit]).to(UNIT_NAMES[to]).magnitude)


@cache
def _registry() -> "pint.UnitRegistry[float]":
    # Loaded at the first conversion: it is slow to load.
    import pint

    return pint.UnitRegistry()


def _parted(text: str, *, field: str) -> tuple[str, str | None]:
    text = text.strip().replace("\N{MINUS SIGN}", "-")
    if not text:
        raise _refused(field, "Fill this in.")
    if "," in text:
        raise _refused(field, "Use a point before the decimals and no comma anywhere: 1.5 or 1500.")
    found = NUMBER.match(text)
    if found is None:
        raise _refused(field, "Write a number, such as 7.25.")
    return found.group(), text[found.end() :].strip() or None


def _offered_unit(unit: str | None, *, field: str, kind: str) -> str:
    choices = KINDS[kind].metric
    known = {choice.casefold(): choice for choice in choices}
    known |= {spelling: name for spelling, name in SPELLINGS.items() if name in choices}
    if unit is None and len(choices) == 1:
        return choices[0]
    if unit is None or len(unit) > LONGEST_NUMBER or unit.casefold() not in known:
        raise _refused(field, f"Write one number and one of these units: {', '.join(choices)}.")
    return known[unit.casefold()]


def _number(text: str, *, field: str) -> float:
    if len(text) > LONGEST_NUMBER:
        raise _refused(field, f"Write a shorter number; at most {LONGEST_NUMBER} characters are read.")
    value = float(text)
    if not math.isfinite(value):
        raise _refused(field, "This number is too large to have been meant.")
    mantissa = re.split("[eE]", text)[0]
    if value == 0 and mantissa.strip("+-0."):
        raise _refused(field, "This number is too small to have been meant.")
    return value


def _check_believable(value: float, *, field: str, kind: str, unit: str) -> None:
    limits = KINDS[kind]
    if value < 0 <= limits.least:
        raise _refused(field, "This cannot be below zero.")
    if value < limits.least or value > limits.most:
        least = f"{convert(limits.least, limits.stored_in, unit):.6g}"
        most = f"{convert(limits.most, limits.stored_in, unit):.6g}"
        raise _refused(field, f"Only {least} to {most} {unit} can be meant here.")
    if 0 < abs(value) < SMALLEST:
        raise _refused(field, "This number is too small to have been meant.")


def read_count(text: str, *, field: str, least: int = 0, most: int = 10_000) -> int:
    """Return a whole number between two bounds."""
    digits = text.strip()
    if not digits:
        raise _refused(field, "Fill this in.")
    if not re.fullmatch(r"[0-9]{1,9}", digits, re.ASCII) or not least <= int(digits) <= most:
        raise _refused(field, f"Write a whole number from {least} to {most}.")
    return int(digits)


def read_date(text: str, *, field: str) -> date:
    """Return a day written as year-month-day."""
    text = text.strip()
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text, re.ASCII):
        raise _refused(field, "Write the day as year-month-day, such as 2027-03-01.")
    try:
        day = date.fromisoformat(text)
    except ValueError:
        raise _refused(field, "There is no such day in the calendar.") from None
    _check_year(day.year, field=field)
    return day


def read_time(text: str, *, field: str, zone: str) -> datetime:
    """Return a moment typed on the shop's clock as aware UTC; an offset typed behind it outranks the zone.

    In the hour that comes twice in autumn the first of the two is meant.
    """
    text = text.strip()
    pattern = r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,6})?)?(Z|[+-][0-9]{2}:[0-9]{2})?"
    if not re.fullmatch(pattern, text, re.ASCII):
        raise _refused(field, "Write day and time as 2027-03-01 15:20.")
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise _refused(field, "There is no such day or time.") from None
    _check_year(moment.year, field=field)
    return _on_the_clock(moment, field=field, zone=zone) if moment.tzinfo is None else moment.astimezone(UTC)


def _on_the_clock(moment: datetime, *, field: str, zone: str) -> datetime:
    local = moment.replace(tzinfo=ZoneInfo(zone))
    universal = local.astimezone(UTC)
    if universal.astimezone(local.tzinfo).replace(tzinfo=None) != moment:
        raise _refused(field, "The clocks skip this hour on that day; write a time that the clock showed.")
    return universal


def _check_year(year: int, *, field: str) -> None:
    if not 1990 <= year <= 2200:
        raise _refused(field, "Write a year from 1990 to 2200.")


def read_money(text: str, *, field: str) -> Decimal:
    """Return an exact amount, at most six decimals, never below zero."""
    text = text.strip()
    if not text:
        raise _refused(field, "Fill this in.")
    if "," in text:
        raise _refused(field, "Use a point before the decimals and no comma anywhere: 0.18 or 1500.")
    if not MONEY.fullmatch(text):
        raise _refused(field, "Write the amount alone, such as 0.18, with at most six decimals.")
    return Decimal(text)


# Exact by definition (the international pound), so that a price stays exact on its way to the kilogram.
KG_PER = {"kg": Decimal(1), "lb": Decimal("0.45359237"), "t": Decimal(1000)}


def read_price_per_kg(text: str, *, field: str, unit: str) -> Decimal:
    """Return a price typed for a kilogram, a pound or a tonne as the price of a kilogram, to the millionth, half up."""
    per = KG_PER[read_choice(unit, field=field, offered=tuple(KG_PER))]
    return (read_money(text, field=field) / per).quantize(Decimal("0.000001"), ROUND_HALF_UP)


def read_choice(text: str, *, field: str, offered: Sequence[str]) -> str:
    """Return the choice made, if it is one of those offered."""
    if text not in offered:
        raise _refused(field, "Choose one of those offered.")
    return text


def read_words(text: str, *, field: str, most: int, required: bool = True) -> str:
    """Return a line or paragraph that fits its column; controls other than line ends are refused."""
    text = text.strip().replace("\r\n", "\n")
    if required and not text:
        raise _refused(field, "Fill this in.")
    if len(text) > most:
        raise _refused(field, f"At most {most} characters fit here; this has {len(text)}.")
    if any((ord(sign) < 32 and sign not in "\n\t") or 0xD800 <= ord(sign) < 0xE000 for sign in text):
        raise _refused(field, "This holds a sign that cannot be kept.")
    return text


def _refused(field: str, sentence: str) -> Invalid:
    return Invalid(sentence, {field: sentence})
