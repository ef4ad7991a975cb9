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
# What is named in one system on either side of the border: grains by ASTM D2487, sieves that carry no other name.
NAMED_SO = (r"\b(?:size|finer|D10|D30|D60|No\. \d+)\b", r"\bCO₂e\b")
# Units in words, which no figure stands before.
IN_WORDS = {
    "metric": r"(?:kilo|milli|centi)?(?:gram|metre|meter|litre|liter)s?|tonnes?",
    "imperial": r"pounds?|ounces?|gallons?|(?:square|cubic) (?:f(?:oo|ee)t|yards?)",
}
# Figures of the trade's own units from a thousand on, without the mark of a shop that writes one.
UNPARTED = re.compile(r"(?<![\d.,])[1-9]\d{3,}(?:\.\d+)?\s?(?:psi|lbf|lb|lbf/ft|lb/ft³|kN|kg|kg/m³)(?![\w/²³])")
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


def headed(page: str, units: str) -> list[str]:
    """Return the heads, labels and words in which a unit of the other system is named alone."""
    soup = BeautifulSoup(page, "html.parser")
    unit = SYSTEMS[OTHER[units]].replace("in(?! [0-9])", "in")
    alone = re.compile(rf"(?:,\s|\(|^)(?:{unit})\)?$")
    found = [
        " ".join(one.get_text(" ").split())
        for one in soup.select("main th, main label, main legend, main dt, main .unit:not(select)")
    ]
    spelled = re.compile(rf"\b(?:{IN_WORDS[OTHER[units]]})\b", re.IGNORECASE)
    own = re.compile(rf"\b(?:{IN_WORDS[units]})\b", re.IGNORECASE)
    in_words = [text for text in blocks(page) if spelled.search(text) and not own.search(text)]
    return [text for text in found if alone.search(text)] + in_words


def preselected(page: str, units: str) -> list[str]:
    """Return the empty fields beside which a unit of the other system is chosen."""
    soup = BeautifulSoup(page, "html.parser")
    other = re.compile(SYSTEMS[OTHER[units]])
    found = []
    for select in soup.select("main select.unit"):
        field = select.find_previous("input")
        chosen = select.find("option", selected=True) or select.find("option")
        if chosen and field and not field.get("value") and other.fullmatch(chosen.get_text().strip()):
            found.append(f"{select.get('name')}: {chosen.get_text().strip()}")
    return found


def noisy(page: str) -> list[str]:
    """Return the texts with an exponent, or with digits that no gauge and no scale can tell."""
    return [text for text in blocks(page) if NOISE.search(text)]
