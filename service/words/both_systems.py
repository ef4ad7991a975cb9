"""A sentence of fixed words and metric figures, for a reader of the other system: each figure in both."""

import re

from service.words.numbers_to_text import SHOWN_IN, significant
from service.words.sieves import sieve
from service.words.units import Units, convert, unit_label

# A figure of a sentence that was written in the units of the records, such as 600 x 40 x 40 mm.
METRIC = re.compile(
    r"(?P<most>(?:[Aa]t most|The most is) )?(?P<numbers>\d+(?:\.\d+)?(?: (?:x|×|to) \d+(?:\.\d+)?)*) "
    r"(?P<unit>MPa|kg/m3|kg|mm|kN|°C)(?![\w/²³])"
)


def in_both(sentence: str, *, units: Units) -> str:
    """Return a sentence of fixed words with each of its metric figures in the reader's own unit before it."""
    if units == "metric" or FOREIGN.search(sentence):
        return sentence
    return METRIC.sub(_in_both, sentence)


# A sentence that names this system already.
FOREIGN = re.compile(r"\d\s?(?:psi|lb|oz|in|ft|lbf|°F|gal)\b")


# Where classes of grains part, by ASTM D2487: named by their sieves.
PARTED_AT_MM = ("4.75", "0.425", "0.075")


def _in_both(found: re.Match[str]) -> str:
    unit, most = found["unit"], found["most"] or ""
    if unit == "mm" and found["numbers"] in PARTED_AT_MM:
        return most + sieve(float(found["numbers"]), units="imperial")
    to = SHOWN_IN["imperial"][unit]
    # Where a hand stops is rounded down.
    one = re.sub(
        r"[\d.]+",
        lambda number: significant(convert(float(number[0]), unit, to), floor=bool(most)),
        found["numbers"],
    )
    return f"{most}{one} {unit_label(to)} ({found['numbers']} {unit_label(unit)})"
