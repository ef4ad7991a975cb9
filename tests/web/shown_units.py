"""What a page prints of quantities: units of the other system alone, exponents, and more digits than anything tells."""

import re
from collections.abc import Iterator
from functools import cache

from bs4 import BeautifulSoup, Tag

SYSTEMS = {
    "metric": r"MPa/s|MPa|kN/s|N/s|kPa|N/mm²|kN/m|kN|kg/m³|kg|mm|cm|m|°C|L",
    "imperial": r"psi/s|psi|lbf/ft|lbf|lb/ft³|lb|oz|in(?! [0-9])|ft|°F|gal|short tonf?|yd³",
}
OTHER = {"metric": "imperial", "imperial": "metric"}
# What is named in one system on either side of the border, or is not ours to change.
NAMED_SO = (
    r"\b(?:size|sieve|opening|finer|coarser|gravel|sand|fines|silt|clay|D10|D30|D60|below|above)\b",
    r"\bCO₂e\b",
    r"\bbox\b",
)
NOISE = re.compile(r"[1-9]\d*\.\d{6,}|\b0\.0*[1-9]\d{5,}|\d[eE][+-]\d|\bnan\b|\binf\b|-0\.0\b")
AS_TYPED = ".read, select, option, input, textarea, script, style, svg, .digest, code, blockquote, .lead"


@cache
def blocks(page: str) -> tuple[str, ...]:
    """Return the visible text of each smallest block of a page, without what somebody typed."""
    return tuple(_blocks(page))


def _blocks(page: str) -> Iterator[str]:
    soup = BeautifulSoup(page, "html.parser")
    main = soup.find("main") or soup
    for one in main.select(AS_TYPED):
        one.decompose()
    for one in main.find_all(["p", "li", "tr", "dt", "dd", "h1", "h2", "h3", "caption", "summary", "label", "legend"]):
        if isinstance(one, Tag) and not one.find(["p", "li", "tr", "dd"]):
            yield " ".join(one.get_text(" ").split())


def foreign(page: str, units: str) -> list[str]:
    """Return the texts in which a quantity stands in the other system alone."""
    other = re.compile(rf"\d\s?(?:{SYSTEMS[OTHER[units]]})(?![\w/²³])")
    own = re.compile(rf"\d\s?(?:{SYSTEMS[units]})(?![\w/²³])")
    named = [re.compile(one, re.IGNORECASE) for one in NAMED_SO]
    return [
        text
        for text in blocks(page)
        if other.search(text) and not own.search(text) and not any(one.search(text) for one in named)
    ]


def noisy(page: str) -> list[str]:
    """Return the texts with an exponent, or with digits that no gauge and no scale can tell."""
    return [text for text in blocks(page) if NOISE.search(text)]
