"""Sieves by the names that stand on them in the United States: 3/8 in, No. 40; each is an opening in millimetres.

ASTM E11, alternative designations beside the standard ones. No. 8 is from memory.
"""

import re
from fractions import Fraction

from service.typed import number_of
from service.words.units import Units

# Coarse to fine.
OPENINGS_MM = {
    "3 in": 75.0, "2-1/2 in": 63.0, "2 in": 50.0, "1-1/2 in": 37.5, "1-1/4 in": 31.5, "1 in": 25.0, "3/4 in": 19.0,
    "5/8 in": 16.0, "1/2 in": 12.5, "3/8 in": 9.5, "1/4 in": 6.3, "No. 4": 4.75, "No. 8": 2.36, "No. 10": 2.0,
    "No. 16": 1.18, "No. 20": 0.85, "No. 30": 0.6, "No. 40": 0.425, "No. 50": 0.3, "No. 60": 0.25, "No. 80": 0.18,
    "No. 100": 0.15, "No. 140": 0.106, "No. 200": 0.075,
}  # fmt: skip
NAMES = {opening: name for name, opening in OPENINGS_MM.items()}
NUMBERED = re.compile(r"(?:no\.?|n[°º]|#|number)\s*([1-9][0-9]{0,2})", re.IGNORECASE | re.ASCII)
_INCHES = {
    number_of(name.removesuffix(" in")): opening for name, opening in OPENINGS_MM.items() if name.endswith(" in")
}
# The usual set of a shop, coarse to fine.
USUAL: dict[Units, tuple[str, ...]] = {
    "metric": ("19", "9.5", "4.75", "2", "0.85", "0.425", "0.25", "0.15", "0.075"),
    "imperial": ("3/4 in", "3/8 in", "No. 4", "No. 10", "No. 20", "No. 40", "No. 60", "No. 100", "No. 200"),
}


def numbered(text: str) -> tuple[str, float | None] | None:
    """Return the name of a sieve by its number, with its opening where that is known; None where it is no number."""
    found = NUMBERED.fullmatch(text.strip())
    name = f"No. {found[1]}" if found else ""
    return (name, OPENINGS_MM.get(name)) if found else None


def of_inches(inches: Fraction | None) -> float | None:
    """Return the opening of a sieve that is named in inches: 3/8 in is 9.5 mm, and not 9.525."""
    return _INCHES.get(inches)


def sieve(size_mm: float, *, units: Units) -> str:
    """Return a size of grains in mm, behind the name of its sieve where the reader's country gives it one."""
    name = NAMES.get(size_mm) if units == "imperial" else None
    return f"{name} ({size_mm:.4g} mm)" if name else f"{size_mm:.4g} mm"
