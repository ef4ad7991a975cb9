"""The units of the shop: how each is written, how people press session it, which kinds of quantity it may be typed for.

The one door to pint, which gets a float and a unit name of our own table and never what somebody typed.
"""

import re
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import pint

Units = Literal["imperial", "metric"]

# What we write -> what pint calls it.
UNIT_NAMES = {
    "kg": "kilogram", "g": "gram", "t": "metric_ton", "lb": "pound", "oz": "ounce",
    "short ton": "short_ton", "long ton": "long_ton",
    "mm": "millimeter", "cm": "centimeter", "m": "meter", "in": "inch", "ft": "foot",
    "MPa": "megapascal", "N/mm2": "newton / millimeter ** 2", "kPa": "kilopascal", "bar": "bar",
    "psi": "pound_force_per_square_inch", "kgf/cm2": "force_kilogram / centimeter ** 2",
    "kN": "kilonewton", "N": "newton", "lbf": "force_pound", "kgf": "force_kilogram", "tf": "force_metric_ton",
    "short tonf": "force_short_ton", "long tonf": "force_long_ton",
    "%": "percent", "of 1": "dimensionless", "kg/kg": "kilogram / kilogram",
    "h": "hour", "min": "minute", "s": "second", "d": "day",
    "kg/m3": "kilogram / meter ** 3", "lb/ft3": "pound / foot ** 3", "kg/L": "kilogram / liter",
    "kN/m": "kilonewton / meter", "lbf/ft": "force_pound / foot", "kgf/m": "force_kilogram / meter",
    "MPa/s": "megapascal / second", "MPa/min": "megapascal / minute", "psi/s": "pound_force_per_square_inch / second",
    "kN/s": "kilonewton / second", "N/s": "newton / second", "lbf/s": "force_pound / second",
    "lbf/min": "force_pound / minute",
    "L": "liter", "gal": "gallon", "m3": "meter ** 3", "yd3": "yard ** 3", "ft3": "foot ** 3",
    "°C": "degree_Celsius", "°F": "degree_Fahrenheit",
}  # fmt: skip

# Other spellings that people type after a number, without regard to capitals, each with what it may mean: the first
# that is offered is meant, so that "lb" is a mass on a scale and a force on a dial.
SPELLINGS: dict[str, tuple[str, ...]] = {
    "lb": ("lb", "lbf"), "lbs": ("lb", "lbf"), "pound": ("lb", "lbf"), "pounds": ("lb", "lbf"), "#": ("lb", "lbf"),
    "kg": ("kg", "kgf"), "kilo": ("kg", "kgf"), "kilos": ("kg", "kgf"), "kgs": ("kg", "kgf"),
    "grams": ("g",), "gram": ("g",), "ounce": ("oz",), "ounces": ("oz",), "ozs": ("oz",),
    "inch": ("in",), "inches": ("in",), "in.": ("in",), '"': ("in",), "”": ("in",), "″": ("in",), "''": ("in",),
    "feet": ("ft",), "foot": ("ft",), "ft.": ("ft",), "'": ("ft",), "’": ("ft",), "′": ("ft",),
    "kgf/cm²": ("kgf/cm2",), "kg/cm2": ("kgf/cm2",), "kg/cm²": ("kgf/cm2",), "n/mm²": ("N/mm2",), "percent": ("%",),
    "hours": ("h",), "hour": ("h",), "hr": ("h",), "hrs": ("h",), "minutes": ("min",), "minute": ("min",),
    "mins": ("min",), "seconds": ("s",), "second": ("s",), "sec": ("s",), "secs": ("s",), "days": ("d",), "day": ("d",),
    "kg/m³": ("kg/m3",), "pcf": ("lb/ft3",), "lb/ft³": ("lb/ft3",), "kg/l": ("kg/L",), "g/cm3": ("kg/L",),
    "g/cm³": ("kg/L",), "plf": ("lbf/ft",), "lb/ft": ("lbf/ft",), "litre": ("L",), "liter": ("L",), "litres": ("L",),
    "liters": ("L",), "gallon": ("gal",), "gallons": ("gal",), "c": ("°C",), "f": ("°F",), "degc": ("°C",),
    "degf": ("°F",), "tonne": ("t", "tf"), "tonnes": ("t", "tf"), "metric ton": ("t", "tf"),
    "metric tons": ("t", "tf"), "t": ("t", "tf"), "short tons": ("short ton", "short tonf"),
    "short ton": ("short ton", "short tonf"), "us ton": ("short ton", "short tonf"),
    "us tons": ("short ton", "short tonf"), "long tons": ("long ton", "long tonf"),
    "long ton": ("long ton", "long tonf"), "uk ton": ("long ton", "long tonf"), "uk tons": ("long ton", "long tonf"),
    "m³": ("m3",), "yd³": ("yd3",), "cubic yard": ("yd3",), "cubic yards": ("yd3",), "ft³": ("ft3",),
    "cubic foot": ("ft3",), "cubic feet": ("ft3",),
}  # fmt: skip
# A bare ton is a short ton in a shop of pounds, and nobody's guess in one of kilograms.
TON = {"ton": ("short ton", "short tonf"), "tons": ("short ton", "short tonf")}

# A dial that shows force instead of pressure: the force on its ram, over the ram's area, is the pressure behind it.
DIAL = re.compile(
    r"(kN|N|lbf|kgf|tf|short tonf|long tonf) on ((?=[0-9.]*[1-9])[0-9]{1,7}(?:\.[0-9]{1,6})?) mm2", re.ASCII
)
DIAL_FORCES = ("lbf", "kN", "N", "kgf", "tf", "short tonf", "long tonf")


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
    "mass": Kind(
        "kg",
        ("kg", "g", "t", "lb", "oz", "short ton", "long ton"),
        ("lb", "oz", "short ton", "long ton", "kg", "g", "t"),
        most=100_000,
    ),
    # Cans and pots are weighed in grams on either side of the border.
    "small_mass": Kind("kg", ("g", "kg", "oz", "lb"), ("g", "oz", "lb", "kg"), most=1_000),
    "sieve_mass": Kind("g", ("g", "kg", "oz", "lb"), ("g", "oz", "lb", "kg"), most=1_000_000),
    "length": Kind("mm", ("mm", "cm", "m", "in", "ft"), ("in", "ft", "mm", "cm", "m"), most=100_000),
    # Grains and openings of sieves are named in millimetres by the standards of both countries; sieves in inches and
    # by numbers too (`sieves`).
    "opening": Kind("mm", ("mm", "in"), ("mm", "in"), most=1_000),
    "height": Kind("m", ("m", "cm", "ft", "in"), ("ft", "in", "m", "cm"), most=100),
    "pressure": Kind(
        "MPa", ("MPa", "N/mm2", "kPa", "bar", "kgf/cm2", "psi"), ("psi", "MPa", "kPa", "bar", "kgf/cm2"), most=1_000
    ),
    # A zero that has wandered below the mark is a reading too.
    "gauge_zero": Kind("MPa", ("MPa", "kPa", "bar", "psi"), ("psi", "MPa", "kPa", "bar"), most=10, least=-10),
    "force": Kind(
        "kN",
        ("kN", "N", "kgf", "tf", "lbf", "short tonf", "long tonf"),
        ("lbf", "short tonf", "long tonf", "kN", "N", "kgf", "tf"),
        most=100_000,
    ),
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
    "volume": Kind("L", ("L", "gal", "ft3"), ("gal", "ft3", "L"), most=100_000),
    "temperature": Kind("°C", ("°C", "°F"), ("°F", "°C"), most=1_200, least=-90),
    # Carbon dioxide equivalent, in kg for each kg of a material.
    "carbon": Kind("kg/kg", ("kg/kg",), ("kg/kg",), most=1_000),
    # A bare number: a mark on a scale, a ratio.
    "plain": Kind("of 1", ("of 1",), ("of 1",), most=1_000_000, least=-1_000_000),
}


def offered(kind: str, units: Units) -> tuple[str, ...]:
    """Return the units offered for a kind, the shop's own first."""
    return KINDS[kind].metric if units == "metric" else KINDS[kind].imperial


def unit_meant(spelled: str, kind: str, *, units: Units, beside: str | None = None) -> str | None:
    """Return the unit of a kind that somebody means by a spelling; ``beside`` is the one chosen at the field."""
    choices = [*KINDS[kind].metric]
    if beside is not None and kind in ("pressure", "gauge_zero") and DIAL.fullmatch(beside):
        choices.append(beside)
    # What is written after a force on a dial is the force alone.
    known = {choice.casefold(): choice for choice in choices} | {unit_label(one).casefold(): one for one in choices}
    word = " ".join(spelled.casefold().split())
    if word in known:
        return known[word]
    meant = (SPELLINGS | (TON if units == "imperial" else {})).get(word, ())
    return next((known[one.casefold()] for one in meant if one.casefold() in known), None)


def dial_unit(force: str, area_mm2: float) -> str:
    """Return the unit of a dial that shows the force on a ram of an area as if it were one of pressure."""
    return f"{force} on {area_mm2:.6f} mm2".replace(".000000 ", " ")


LABELS = {
    "kg/m3": "kg/m³", "lb/ft3": "lb/ft³", "kgf/cm2": "kgf/cm²", "N/mm2": "N/mm²", "of 1": "", "m3": "m³", "yd3": "yd³",
    "ft3": "ft³",
}  # fmt: skip


def unit_label(unit: str) -> str:
    """Return a unit as it is printed."""
    dial = DIAL.fullmatch(unit)
    return dial[1] if dial else LABELS.get(unit, unit)


def convert(value: float, unit: str, to: str) -> float:
    """Return ``value`` in another unit of our own table."""
    if unit == to:
        return value
    if unit.startswith("°"):
        return float(_registry().Quantity(value, UNIT_NAMES[unit]).to(UNIT_NAMES[to]).magnitude)
    return value * _factor(unit, to)


@lru_cache(maxsize=1000)
def _factor(unit: str, to: str) -> float:
    dial = DIAL.fullmatch(unit)
    if dial:
        # A newton on a square millimetre is a megapascal.
        return _factor(dial[1], "N") / float(dial[2]) * _factor("MPa", to)
    if DIAL.fullmatch(to):
        return 1 / _factor(to, unit)
    return float(_registry().Quantity(1.0, UNIT_NAMES[unit]).to(UNIT_NAMES[to]).magnitude)


@cache
def _registry() -> "pint.UnitRegistry[float]":
    # Loaded at the first conversion: it is slow to load.
    import pint

    return pint.UnitRegistry()
