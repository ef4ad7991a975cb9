"""What somebody typed: a quantity together with what it comes to, and which signs are no text."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

# A whole number with a fraction ("2 1/4", "2-1/4"), a fraction, or a decimal number.
NUMBER = re.compile(
    r"(?P<sign>[+-]?)"
    r"(?:(?:(?P<whole>[0-9]{1,6})[ -])?(?P<above>[0-9]{1,4})/(?P<below>[1-9][0-9]{0,3})"
    r"|(?P<decimal>(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?))",
    re.ASCII,
)

# XML 1.0, 2.2: signs that no page, chart or paper can hold; of the first ones, a line end and a tab are text.
UNKEPT = re.compile("[\x00-\x08\x0b-\x1f\ud800-\udfff\ufffe\uffff]")


def holds_unkept(text: str) -> bool:
    """Return whether a text holds a sign that is no text."""
    return UNKEPT.search(text) is not None


@dataclass(frozen=True)
class Typed:
    """A typed quantity: ``value`` in the fixed unit of its column, ``text`` and ``unit`` as typed.

    Of "22 lb 6 oz" the text is "22 lb 6" and the unit "oz", so that the two are printed behind each other.
    """

    value: float
    text: str
    unit: str

    def as_read(self) -> dict[str, str]:
        """Return what the raw tables keep of it, word for word."""
        return {"text": self.text, "unit": self.unit}


def as_shown(read: Mapping[str, str]) -> str:
    """Return what a dial showed, as it was typed: one of force is named by the force, without the ram behind it."""
    return f"{read['text']} {read['unit'].partition(' on ')[0]}".strip()


def put_back(read: Mapping[str, str]) -> dict[str, str]:
    """Return what a field is filled with again: "22 lb 6 oz" keeps both its units, and names none beside the field."""
    if read and number_of(read["text"]) is None:
        return {"text": f"{read['text']} {read['unit']}".strip(), "unit": ""}
    return dict(read)


def unit_of(reads: Sequence[Mapping[str, str]]) -> str:
    """Return the unit in which the last two were both typed, newest first: one odd entry changes no field."""
    units = [put_back(read).get("unit", "") for read in reads[:2]]
    return units[0] if len(units) == 2 and units[0] == units[1] else ""


@dataclass(frozen=True)
class TypedPrice:
    """A price as typed: so much for a kilogram, a bag, a cubic yard; and what it is for a kilogram, to the millionth.

    A price by volume carries the loose bulk density that it was turned by.
    """

    per_kg: Decimal
    amount: str
    per: str
    bulk_kg_m3: Typed | None = None

    def as_read(self) -> dict[str, dict[str, str]]:
        """Return what the price's row keeps of it, word for word."""
        bulk = {"bulk_kg_m3": self.bulk_kg_m3.as_read()} if self.bulk_kg_m3 else {}
        return {"per_kg": {"text": self.amount, "unit": f"per {self.per}"}, **bulk}


FREE = TypedPrice(Decimal(0), "0", "kg")


def number_of(text: str) -> Fraction | None:
    """Return the number that a text is, "2 1/4" and "1e-3" too, or None when it is none."""
    found = NUMBER.fullmatch(text)
    if found is None:
        return None
    if found["decimal"]:
        size = Fraction(found["decimal"])
    else:
        size = Fraction(int(found["above"]), int(found["below"])) + int(found["whole"] or 0)
    return -size if found["sign"] == "-" else size
