"""Numbers become text here: one way for the page, the print, the mail and the sentence.

Rounding is half away from zero on the shortest decimal form of the number, which is what a person
with a pencil would do to the digits shown. A floor ("at least") is rounded down and never up, so that
no one reads more than was measured. No zero ends a number behind its point, for it claims a digit that
nobody read; only a scale and a gauge say by their own steps how many digits they tell (`weighed`, `told`).
A comma parts the thousands only in a shop that writes so (`thousands_parted`): what is shown may be typed again.
"""

import math
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import UTC, date, datetime
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal
from functools import cache, lru_cache
from zoneinfo import ZoneInfo

from babel import Locale
from babel.dates import format_date, format_datetime

from service.typed import number_of
from service.words.units import Units, convert, unit_label

# As in the United States and Mexico: Spanish words, a point before the decimals.
LOCALES = {"en": "en_US", "es": "es_US"}

# Between the thousands of every number of the page or paper that is being written.
_MARK: ContextVar[str] = ContextVar("mark", default="")

AT_LEAST = {"en": "at least", "es": "al menos"}

# What a reader of each system is shown, by the unit the number is stored in.
SHOWN_IN: dict[Units, dict[str, str]] = {
    "metric": {},
    "imperial": {
        "MPa": "psi", "kg": "lb", "mm": "in", "m": "ft", "kN": "lbf", "kg/m3": "lb/ft3", "kN/m": "lbf/ft",
        "MPa/s": "psi/s", "kN/s": "lbf/s", "L": "gal", "m3": "ft3", "°C": "°F",
    },
}  # fmt: skip


@contextmanager
def thousands_parted(by_comma: bool) -> Iterator[None]:
    """Write every number within as a shop writes it: with a comma between its thousands, or with none."""
    before = _MARK.set("," if by_comma else "")
    try:
        yield
    finally:
        _MARK.reset(before)


def figure(
    value: float,
    *,
    stored_in: str,
    to: str,
    digits: int = 3,
    held: bool = False,
    floor: bool = False,
    language: str = "en",
) -> str:
    """Return a number with its unit in significant figures, "at least" before it if it is only a floor.

    ``floor`` rounds down without a word: a gauge is not sent above where it is to stop.
    """
    shown = significant(convert(value, stored_in, to), digits=digits, floor=held or floor)
    return _as_floor(f"{shown} {unit_label(to)}".rstrip(), held=held, language=language)


def bare(value: float, *, stored_in: str, to: str, digits: int = 3) -> str:
    """Return a number alone in significant figures, for a column whose head names the unit."""
    return significant(convert(value, stored_in, to), digits=digits)


def significant(value: float, *, digits: int = 3, floor: bool = False) -> str:
    """Return a bare number in at most so many figures, half away from zero, or down if it is a floor."""
    return _without_idle_zeros(_plain(_rounded(float(value), digits, floor)))


# The same few hundred figures stand in a page several times, and in the next page again.
@lru_cache(maxsize=4096)
def _rounded(value: float, digits: int, floor: bool) -> Decimal:
    # A floor typed in another unit comes back a hair below itself; that hair must not cost a digit.
    number = _decimal(value * (1 + 1e-12) if floor else value)
    if not number:
        return Decimal(0)
    return number.quantize(Decimal(1).scaleb(number.adjusted() - digits + 1), ROUND_DOWN if floor else ROUND_HALF_UP)


def _without_idle_zeros(text: str) -> str:
    return text.rstrip("0").rstrip(".") if "." in text else text


def _decimal(value: float) -> Decimal:
    number = Decimal(repr(float(value)))
    if not number.is_finite():
        raise ValueError("A number that is shown is finite.")
    return number


def _plain(number: Decimal) -> str:
    return parted(f"{number if number else abs(number):f}")


def parted(digits: str) -> str:
    """Return the digits of a number with the shop's mark between their thousands; another text as it is."""
    found = DIGITS.fullmatch(digits) if _MARK.get() else None
    return f"{found[1]}{int(found[2]):,}{found[3]}" if found else digits


DIGITS = re.compile(r"(-?)([1-9][0-9]{3,})((?:\.[0-9]+)?)", re.ASCII)


def _as_floor(text: str, *, held: bool, language: str) -> str:
    return f"{AT_LEAST[language]} {text}" if held else text


def shown_in(stored_in: str, units: Units) -> str:
    """Return the unit in which a reader of a system is shown what is stored in another."""
    return SHOWN_IN[units].get(stored_in, stored_in)


def own(
    value: float, stored_in: str, *, units: Units, digits: int = 3, held: bool = False, language: str = "en"
) -> str:
    """Return a stored number in the reader's own unit; small metric masses are given in grams."""
    to = "g" if units == "metric" and stored_in == "kg" and 0 < abs(value) < 1 else shown_in(stored_in, units)
    return figure(value, stored_in=stored_in, to=to, digits=digits, held=held, language=language)


def stress(
    mpa: float, *, units: Units, held: bool = False, floor: bool = False, digits: int = 3, language: str = "en"
) -> str:
    """Return a stress in the reader's own unit and in the other system's behind it."""
    first, second = ("psi", "MPa") if units == "imperial" else ("MPa", "psi")
    texts = [figure(mpa, stored_in="MPa", to=to, digits=digits, floor=held or floor) for to in (first, second)]
    return _as_floor(f"{texts[0]} ({texts[1]})", held=held, language=language)


def told(mpa: float, *, step_mpa: float, units: Units, held: bool = False, language: str = "en") -> str:
    """Return a stress in both systems, each to the figure that a gauge with such steps can tell: 3.1 MPa (450 psi)."""
    first, second = ("psi", "MPa") if units == "imperial" else ("MPa", "psi")
    texts = [f"{_to_step(mpa, step_mpa, to, held=held)} {to}" for to in (first, second)]
    return _as_floor(f"{texts[0]} ({texts[1]})", held=held, language=language)


def to_step(mpa: float, *, step_mpa: float, to: str, held: bool = False, language: str = "en") -> str:
    """Return a stress without its unit, to the figure that a gauge with such steps tells; a floor says so."""
    return _as_floor(_to_step(mpa, step_mpa, to, held=held), held=held, language=language)


def _to_step(mpa: float, step_mpa: float, to: str, *, held: bool) -> str:
    # What binary fractions add to a step of a tenth must not make it one of hundredths, nor cost a floor its digit.
    step = _decimal(float(f"{convert(step_mpa, 'MPa', to):.9g}"))
    number = _decimal(convert(mpa, "MPa", to) * (1 + 1e-12 if held else 1))
    # A step of 0.13 tells tenths apart and no hundredths.
    place = Decimal(1).scaleb(step.adjusted()) if step else Decimal("0.01")
    return _plain(number.quantize(place, ROUND_DOWN if held else ROUND_HALF_UP))


def on_dial(mpa: float, *, step_mpa: float, to: str) -> str:
    """Return where a hand sets a gauge: its last mark at or below the pressure, for no hand stops between two marks."""
    step, value = convert(step_mpa, "MPa", to), convert(mpa, "MPa", to)
    marks = math.floor(value / step * (1 + 1e-9)) if step > 0 else 0
    if marks < 1:
        return figure(mpa, stored_in="MPa", to=to, floor=True)
    # What binary fractions add to a step of a tenth must not make digits of its own.
    exact = Decimal(f"{step:.9g}") * marks
    return f"{_without_idle_zeros(_plain(exact))} {unit_label(to)}"


# What a reader of each system is shown behind what somebody typed in the other.
BEHIND: dict[Units, dict[str, str]] = {
    "imperial": {
        "mm": "in", "cm": "in", "m": "ft", "g": "oz", "kg": "lb", "MPa": "psi", "kPa": "psi", "bar": "psi", "kN": "lbf",
        "N": "lbf", "L": "gal", "kg/m3": "lb/ft3", "°C": "°F",
    },
    "metric": {
        "in": "mm", "ft": "m", "oz": "g", "lb": "kg", "psi": "MPa", "lbf": "kN", "gal": "L", "lb/ft3": "kg/m3",
        "°F": "°C",
    },
}  # fmt: skip


def as_typed(typed: str, *, units: Units) -> str:
    """Return what was typed word for word, and in the reader's own system behind it where that is another."""
    text, _, unit = typed.partition(" ")
    number, own_unit = number_of(text), BEHIND[units].get(unit)
    said = f"{parted(text)} {unit_label(unit)}".rstrip()
    if number is None or own_unit is None:
        return said
    return f"{said} ({figure(float(number), stored_in=unit, to=own_unit)})"


def percent(share: float, *, digits: int = 2) -> str:
    """Return a share in percent, in significant figures: 6 % and 5.7 %, not 6.0 %."""
    return f"{significant(100 * share, digits=digits)} %"


def chance(share: float, *, language: str = "en") -> str:
    """Return a probability as both are read best: "17 in 20 (85 %)"; never certain, never impossible."""
    words = CHANCES[language]
    if share >= 0.995:
        return words["above"].format(part="99", whole="100", percent="99 %")
    if share < 0.005:
        return words["below"].format(part="1", whole="100", percent="1 %")
    hundredths = int(_decimal(share).quantize(Decimal("0.01"), ROUND_HALF_UP) * 100)
    part, whole = odds(hundredths)
    key = "exact" if part * 100 == hundredths * whole else "about"
    return words[key].format(part=part, whole=whole, percent=f"{hundredths} %")


def likely(share: float, *, language: str = "en") -> str:
    """Return a probability in percent alone, for a sentence that says what it is of: "76 %"; never certain."""
    over, under = LIKELY[language]
    if share >= 0.995:
        return f"{over} 99 %"
    return f"{under} 1 %" if share < 0.005 else percent(share)


LIKELY = {"en": ("over", "under"), "es": ("más del", "menos del")}
CHANCES = {
    "en": {
        "exact": "{part} in {whole} ({percent})",
        "about": "about {part} in {whole} ({percent})",
        "above": "more than {part} in {whole} (over {percent})",
        "below": "fewer than {part} in {whole} (under {percent})",
    },
    "es": {
        "exact": "{part} de cada {whole} ({percent})",
        "about": "unas {part} de cada {whole} ({percent})",
        "above": "más de {part} de cada {whole} (más del {percent})",
        "below": "menos de {part} de cada {whole} (menos del {percent})",
    },
}


def odds(hundredths: int) -> tuple[int, int]:
    """Return so many in twenty, or in a hundred where twentieths are too coarse to be fair."""
    if not 4 <= hundredths <= 96:
        return hundredths, 100
    return (2 * hundredths + 5) // 10, 20


def lasted(days: float) -> str:
    """Return how long something lasted as people say it: 12 min, 5.5 h, 28 days."""
    if days < 1 / 24:
        return f"{days * 24 * 60:.0f} min"
    return f"{significant(24 * days, digits=2)} h" if days < 2 else f"{days:.1f}".removesuffix(".0") + " days"


def day(moment: date, *, language: str = "en") -> str:
    """Return a calendar day, the month as a word so that no one swaps the two."""
    return _date(moment.date() if isinstance(moment, datetime) else moment, "d MMM y", language)


def named_day(moment: date, *, language: str = "en") -> str:
    """Return a calendar day with its name, as it is said of a day to come."""
    return _date(moment.date() if isinstance(moment, datetime) else moment, "EEEE d MMM", language)


def short_day(moment: date, *, zone: str, language: str = "en") -> str:
    """Return a day, or that of a moment on the shop's clock, without its year."""
    on = moment.astimezone(ZoneInfo(zone)).date() if isinstance(moment, datetime) else moment
    return _date(on, "d MMM", language)


def time(moment: datetime, *, zone: str, language: str = "en") -> str:
    """Return a moment on the shop's clock, day and hour."""
    return format_datetime(moment.astimezone(ZoneInfo(zone)), "d MMM y, HH:mm", locale=_locale(language))


def soon(moment: datetime, *, now: datetime, zone: str, clock: bool = True, language: str = "en") -> str:
    """Return a moment as people at the bench say it: the hour today, else the day, by its name within a week."""
    at, today = moment.astimezone(ZoneInfo(zone)), now.astimezone(ZoneInfo(zone)).date()
    days = (at.date() - today).days
    near = {-1: "yesterday", 0: "" if clock else "today", 1: "tomorrow"}
    pattern = "EEE" if 1 < days < 7 else "EEE d MMM" if at.year == today.year else "d MMM y"
    day = near[days] if days in near else _date(at.date(), pattern, language)
    return " ".join(part for part in (day, f"{at:%H:%M}" if clock else "") if part)


STAMP = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}[T ][0-9]{2}:[0-9]{2}.*")
UNIT_ENDINGS = (
    "_kg_m3",
    "_kn_m",
    "_kg",
    "_l",
    "_g",
    "_mm",
    "_m",
    "_mpa",
    "_kn",
    "_hours",
    "_min",
    "_days",
    "_c",
    "_at",
)


def as_said(value: object, *, zone: str, language: str = "en") -> str:
    """Return a value of a correction as people say it: a kept moment on the shop's clock, never a bare stamp."""
    if isinstance(value, str) and STAMP.fullmatch(value):
        moment = datetime.fromisoformat(value)
        return time(moment if moment.tzinfo else moment.replace(tzinfo=UTC), zone=zone, language=language)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return significant(value, digits=4) if isinstance(value, float) else str(value)


def column_name(column: str) -> str:
    """Return the name of a column as a screen says it: "mass", not "mass_kg"."""
    ending = next((one for one in UNIT_ENDINGS if column.endswith(one)), "")
    return column.removesuffix(ending).replace("_", " ") or column


def clock_field(moment: datetime, *, zone: str) -> str:
    """Return a moment as a browser's own day-and-time field wants it."""
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%dT%H:%M}"


# A list says the same few days in every line.
@lru_cache(maxsize=2000)
def _date(day: date, pattern: str, language: str) -> str:
    return format_date(day, pattern, locale=_locale(language))


@cache
def _locale(language: str) -> Locale:
    return Locale.parse(LOCALES[language])
