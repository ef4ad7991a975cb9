"""The one template environment, for pages and papers alike; once for each language."""

import re
from collections.abc import Iterator, Mapping, Sequence
from functools import cache, partial
from inspect import signature
from math import isclose
from operator import attrgetter

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from jinja2.ext import Extension
from jinja2.lexer import Token, TokenStream
from markupsafe import Markup, escape

from service.places import folder
from service.words.numbers_to_text import FILTERS
from service.words.sentences import page_words, say
from service.words.units import unit_label

# Inches are "in" too, but "17 in 20" is none of them.
_UNITS = "%|MPa|kPa|psi|bar|kg|g|t|lb|oz|mm|cm|m|in(?! [0-9])|ft|kN|lbf|h|min|s|d|days|días|L|gal|°C|°F"
BEFORE_A_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))")
# A tag, whole or cut in two by an expression, and an entity; what lies between them is for people.
_TAG = re.compile(r"(\A[^<>]*>|<[^>]*(?:>|\Z)|&\w+;)")
# A string that may be the name of an attribute.
_NAME = re.compile(r"[a-z_]+")
_WHOLE = re.compile(r"\S(?:.*\S)?", re.DOTALL)
# The templates that a customer's result is made of, and the words in them that are compared and not shown.
SPOKEN = frozenset(("issued.html", "parts/result.html", "parts/result_endured.html", "parts/shaped.html",
                    "parts/words.html", "parts/worth.html"))  # fmt: skip
_COMPARED = frozenset(("will do", "not settled", "will not do", "not met", "too few", "cannot tell", "no readings",
                       "left out", "fell apart", "other test", "damp surface", "wetting and drying", "went through",
                       "under water", "second-hand", "own block", "bench block", "soaked"))  # fmt: skip
_CELL = re.compile(r"<(tr|th|td)\b([^>]*)>")


@cache
def environment(language: str = "en") -> Environment:
    """Return the environment whose filters and labels speak ``language``."""
    made = Environment(
        loader=FileSystemLoader(folder("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    for name, written in {**FILTERS, "say": say}.items():
        speaks = "language" in signature(written).parameters
        made.filters[name] = partial(written, language=language) if speaks else written
    made.filters["headed"] = headed
    made.filters["unbroken"] = unbroken
    made.filters["same"] = same
    if language != "en":
        made.add_extension(speaking(page_words(language)))
    made.filters["worded"] = partial(worded, words=page_words(language))
    return made


def speaking(words: Mapping[str, str]) -> type[Extension]:
    """Return what puts the fixed words of a template, between its tags and in its texts, into a language.

    The templates stay in English and whole; what the catalogue does not know stays as it is.
    """

    def said(found: re.Match[str]) -> str:
        return words.get(" ".join(found[0].split()), found[0])

    def spoken(token: Token) -> Token:
        if token.type == "data":
            # What the pattern of a tag splits off stands at every second place.
            pieces = [piece if n % 2 else _WHOLE.sub(said, piece) for n, piece in enumerate(_TAG.split(token.value))]
            return Token(token.lineno, token.type, "".join(pieces))
        if token.type == "string" and token.value not in _COMPARED and not _NAME.fullmatch(token.value):
            return Token(token.lineno, token.type, words.get(token.value, token.value))
        return token

    class Speaking(Extension):
        def filter_stream(self, stream: TokenStream) -> Iterator[Token]:
            yield from (spoken(token) if stream.name in SPOKEN else token for token in stream)

    return Speaking


def worded(text: str, words: Mapping[str, str]) -> str:
    """Return a verdict, a rule's outcome or the name of a condition in the language of the reader."""
    if text in words:
        return words[text]
    state, comma, age = text.partition(", ")
    first, space, soak = state.partition(" ")
    said = words.get(state) or f"{words.get(first, first)}{space}{soak}"
    count, gap, unit = age.partition(" ")
    return f"{said}{comma}{count}{gap}{words.get(unit, unit)}"


def unbroken(sentence: str) -> str:
    """Return a sentence in which no line ends between a number and its unit."""
    return BEFORE_A_UNIT.sub("\N{NO-BREAK SPACE}", sentence)


def same(rows: Sequence[object], *names: str) -> bool:
    """Return whether all rows, of which there is one at least, agree in each of ``names``, as far as figures can."""
    if not rows:
        return False
    values = [[attrgetter(name)(row) for name in names] for row in rows]
    return all(_agree(one, first) for row in values for one, first in zip(row, values[0], strict=True))


def _agree(one: object, other: object) -> bool:
    # Differences of floats carry their rounding.
    if isinstance(one, float) and isinstance(other, float):
        return isclose(one, other, rel_tol=1e-9)
    return one == other


def headed(rows: Markup, heads: Sequence[str | Sequence[str]]) -> Markup:
    """Return the rows of a table with the word of its head in each cell, for where there is no room for columns."""
    words, place = [_head_in_a_line(head) for head in heads], 0

    def in_its_column(found: re.Match[str]) -> str:
        nonlocal place
        kind, said = found.groups()
        span = re.search(r'colspan="(\d+)"', said)
        here, place = place, 0 if kind == "tr" else place + (int(span[1]) if span else 1)
        if kind != "td" or span or not words[here]:
            return found[0]
        return f'<td data-head="{escape(words[here])}"{said}>'

    return Markup(_CELL.sub(in_its_column, rows))


def _head_in_a_line(head: str | Sequence[str]) -> str:
    if isinstance(head, str):
        return head
    return f"{head[0]} ({unit_label(head[1])})" if head[1] else head[0]
