"""Typed text becomes a number here and nowhere else: checked by pattern, then by an offered unit, then converted.

The text never reaches pint, which reads "1,5 kN" as 15 kN and hangs on "9**9**9".
"""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from decimal import Decimal
from zoneinfo import ZoneInfo

from service.errors import Invalid
from service.typed import NUMBER, Typed, holds_unkept, number_of
from service.words import sieves
from service.words.units import KINDS, Units, convert, offered, unit_label, unit_meant


@dataclass(frozen=True)
class Writing:
    """How a shop writes its numbers: its own units, and whether a comma parts the thousands ("12,000")."""

    units: Units = "metric"
    thousands: bool = False


PLAIN = Writing()

GROUPED = re.compile(r"(?<![0-9.,])[0-9]{1,3}(?P<mark>[, ])[0-9]{3}(?:(?P=mark)[0-9]{3})*(?![0-9,])", re.ASCII)
ABBREVIATED = re.compile(r"(?<=[a-z])\.(?= |$)", re.ASCII | re.IGNORECASE)
# Such as 22 lb 6 oz or 5' 3 1/2"; the last unit may be that of the select.
TWO_PARTS = re.compile(r"(?P<first>[0-9]+)\s*(?P<larger>[a-z'’′]{1,8})\s*(?P<second>[0-9].*)", re.ASCII | re.IGNORECASE)
SMALLER = {"lb": "oz", "ft": "in", "kg": "g", "h": "min", "min": "s", "d": "h", "m": "cm"}
SIGNS = str.maketrans(
    {"\N{MINUS SIGN}": "-", "\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{THIN SPACE}": " "}
    | {"\N{FRACTION SLASH}": "/"}
    | {"½": " 1/2", "¼": " 1/4", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
)
CURRENCY_SIGNS = "$€£¥ "
MONEY = re.compile(r"[0-9]{1,9}(?:\.[0-9]{1,6})?", re.ASCII)
LONGEST_NUMBER = 24
LONGEST_QUANTITY = 48
SMALLEST = 1e-9


def read_quantity(text: str, *, field: str, kind: str, unit: str | None = None, writing: Writing = PLAIN) -> Typed:
    """Return what was typed, as typed and in the unit its kind is stored in.

    A unit typed after the number is the person's own word and outranks the one of the select.
    """
    text = _ungrouped(text, field=field, writing=writing)
    if kind == "opening" and (named := sieves.numbered(text)) is not None:
        return _named_sieve(*named, field=field)
    both = _in_two_parts(text, field=field, kind=kind, unit=unit, writing=writing)
    if both is not None:
        return both
    number, typed_unit = _parted(text, field=field)
    meant = _offered_unit(typed_unit or unit, field=field, kind=kind, beside=unit, writing=writing)
    value = convert(_number(number, field=field), meant, KINDS[kind].stored_in)
    if kind == "opening" and meant == "in":
        # A sieve is named by rounded inches; what lies in none of them was measured.
        value = sieves.of_inches(number_of(number)) or value
    _check_believable(value, field=field, kind=kind, unit=meant)
    return Typed(value=value, text=number, unit=meant)


def _named_sieve(name: str, opening_mm: float | None, *, field: str) -> Typed:
    if opening_mm is None:
        raise _refused(field, "This sieve number is not known here. Write its opening in mm.")
    return Typed(value=opening_mm, text=name, unit="")


def _ungrouped(text: str, *, field: str, writing: Writing) -> str:
    """Return a text without the marks between its thousands, where this shop writes them."""
    text = " ".join(text.translate(SIGNS).split())
    if not text:
        raise _refused(field, "Fill this in.")
    if len(text) > LONGEST_QUANTITY:
        raise _refused(field, f"Write a shorter number; at most {LONGEST_NUMBER} characters are read.")
    text = GROUPED.sub(lambda found: found.group() if not _parts(found["mark"], writing) else _joined(found), text)
    # The point of an abbreviation, such as 5 lb. 2 oz., is none of a number.
    text = ABBREVIATED.sub("", text)
    if "," in text and writing.thousands:
        raise _refused(field, "A comma parts thousands here: write 1,500, or 1.5 with a point.")
    if "," in text:
        raise _refused(field, "Use a point before the decimals and no comma anywhere: 1.5 or 1500.")
    return text


def _parts(mark: str, writing: Writing) -> bool:
    return mark == " " or writing.thousands


def _joined(found: re.Match[str]) -> str:
    return found.group().replace(found["mark"], "")


def _in_two_parts(text: str, *, field: str, kind: str, unit: str | None, writing: Writing) -> Typed | None:
    """Return a quantity such as 22 lb 6 oz; None when it is written in one unit."""
    found = TWO_PARTS.fullmatch(text)
    larger = unit_meant(found["larger"], kind, units=writing.units) if found else None
    if found is None or larger not in SMALLER:
        return None
    number, typed_unit = _parted(found["second"], field=field)
    smaller = _offered_unit(typed_unit or unit, field=field, kind=kind, beside=unit, writing=writing)
    if smaller != SMALLER[larger]:
        raise _refused(field, f"After {larger} comes {SMALLER[larger]}: write 5 {larger} 3 {SMALLER[larger]}.")
    rest = _number(number, field=field)
    if not 0 <= rest < round(convert(1.0, larger, smaller)):
        raise _refused(field, f"Write less than one {larger} behind it.")
    stored_in = KINDS[kind].stored_in
    value = convert(_number(found["first"], field=field) * convert(1.0, larger, smaller) + rest, smaller, stored_in)
    _check_believable(value, field=field, kind=kind, unit=smaller)
    return Typed(value=value, text=f"{found['first']} {larger} {number}", unit=smaller)


def _parted(text: str, *, field: str) -> tuple[str, str | None]:
    found = NUMBER.match(text)
    if found is None:
        raise _refused(field, "Write a number, such as 7.25.")
    return found.group(), text[found.end() :].strip() or None


def _offered_unit(spelled: str | None, *, field: str, kind: str, beside: str | None, writing: Writing) -> str:
    choices = KINDS[kind].metric
    if spelled is None and len(choices) == 1:
        return choices[0]
    meant = unit_meant(spelled, kind, units=writing.units, beside=beside) if spelled else None
    if meant is None and spelled and spelled.casefold() in ("ton", "tons") and "t" in choices:
        raise _refused(field, "Which ton? Write t (1000 kg), short ton (2000 lb) or long ton (2240 lb).")
    if meant is None:
        named = ", ".join(unit_label(one) for one in offered(kind, writing.units))
        raise _refused(field, f"Write one number and one of these units: {named}.")
    return meant


def _number(text: str, *, field: str) -> float:
    if len(text) > LONGEST_NUMBER:
        raise _refused(field, f"Write a shorter number; at most {LONGEST_NUMBER} characters are read.")
    exact = number_of(text)
    if exact is None:
        raise _refused(field, "Write a number, such as 7.25.")
    try:
        value = float(exact)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise _refused(field, "This number is too large to have been meant.")
    if value == 0 and exact:
        raise _refused(field, "This number is too small to have been meant.")
    return value


def _check_believable(value: float, *, field: str, kind: str, unit: str) -> None:
    limits = KINDS[kind]
    if value < 0 <= limits.least:
        raise _refused(field, "This cannot be below zero.")
    if value < limits.least or value > limits.most:
        least = _in_full(convert(limits.least, limits.stored_in, unit))
        most = _in_full(convert(limits.most, limits.stored_in, unit))
        raise _refused(field, f"Only {least} to {most} {unit_label(unit)} can be meant here.")
    if 0 < abs(value) < SMALLEST:
        raise _refused(field, "This number is too small to have been meant.")


def _in_full(value: float) -> str:
    """Return a bound in six figures and never with an exponent."""
    text = f"{Decimal(f'{value:.6g}'):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def read_count(text: str, *, field: str, least: int = 0, most: int = 10_000, writing: Writing = PLAIN) -> int:
    """Return a whole number between two bounds."""
    digits = _ungrouped(text, field=field, writing=writing)
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


def read_hour(text: str, *, field: str) -> time:
    """Return an hour of the day written as 07:30."""
    if not re.fullmatch(r"([01]?[0-9]|2[0-3]):[0-5][0-9]", text.strip(), re.ASCII):
        raise _refused(field, "Write the hour as 07:30.")
    hour, minute = text.strip().split(":")
    return time(int(hour), int(minute))


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


def read_money(text: str, *, field: str, writing: Writing = PLAIN) -> Decimal:
    """Return an exact amount, at most six decimals, never below zero."""
    text = _ungrouped(text.strip().strip(CURRENCY_SIGNS), field=field, writing=writing)
    if not MONEY.fullmatch(text):
        raise _refused(field, "Write the amount alone, such as 0.18, with at most six decimals.")
    return Decimal(text)


def read_choice(text: str, *, field: str, offered: Sequence[str]) -> str:
    """Return the choice made, if it is one of those offered."""
    if text not in offered:
        raise _refused(field, "Choose one from the list.")
    return text


def read_words(text: str, *, field: str, most: int, required: bool = True) -> str:
    """Return a line or paragraph that fits its column; what is no text is refused."""
    text = text.strip().replace("\r\n", "\n")
    if required and not text:
        raise _refused(field, "Fill this in.")
    if len(text) > most:
        raise _refused(field, f"At most {most} characters fit here; this has {len(text)}.")
    if holds_unkept(text):
        raise _refused(field, "This holds a sign that cannot be stored.")
    return text


def _refused(field: str, sentence: str) -> Invalid:
    return Invalid(sentence, {field: sentence})
