"""Masses as a scale shows them and as somebody typed them: decimals, fractions, pounds and ounces."""

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction

from service.typed import number_of
from service.words.numbers_to_text import own, parted
from service.words.units import Units, convert, unit_label


def weighed(kg: float, *, unit: str, step: str) -> str:
    """Return a mass as its scale shows it; one that weighs in ounces shows pounds and ounces: 26 lb 3 1/2 oz.

    ``step`` is that of the scale as it was typed: 1/2 shows halves, 0.5 one decimal.
    """
    smallest = number_of(step) or Fraction(1, 100)
    steps = int((Decimal(repr(convert(kg, "kg", unit))) / _as_decimal(smallest)).quantize(Decimal(1), ROUND_HALF_UP))
    shown = steps * smallest
    pounds, rest = divmod(shown, 16) if unit == "oz" else (0, shown)
    said = f"{_of_scale(rest, smallest, fraction='/' in step)} {unit_label(unit)}"
    if not pounds:
        return said
    return f"{pounds} lb" if not rest else f"{pounds} lb {said}"


def _of_scale(shown: Fraction, smallest: Fraction, *, fraction: bool) -> str:
    whole, part = divmod(shown, 1)
    if fraction:
        return " ".join(text for text in (str(whole) if whole or not part else "", str(part) if part else "") if text)
    exponent = _as_decimal(smallest).normalize().as_tuple().exponent
    assert isinstance(exponent, int)
    return parted(f"{_as_decimal(shown).quantize(Decimal(1).scaleb(min(0, exponent)), ROUND_HALF_UP):f}")


def _as_decimal(number: Fraction) -> Decimal:
    return Decimal(number.numerator) / Decimal(number.denominator)


def mass_as_read(kg: float, read: Mapping[str, str], *, units: Units, digits: int = 4) -> str:
    """Return a mass in pounds and ounces where it was typed so, else in the reader's own unit."""
    if read.get("text") and number_of(read["text"]) is None:
        return f"{read['text']} {read['unit']}"
    return own(kg, "kg", units=units, digits=digits)
