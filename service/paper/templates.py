"""The one template environment, for pages and papers alike; once for each language."""

import re
from collections.abc import Mapping, Sequence
from functools import cache, partial
from inspect import signature
from math import isclose
from operator import attrgetter

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from service.paper.compiled import compiled
from service.places import folder
from service.words.filters import FILTERS
from service.words.glossary import glossary
from service.words.sentences import page_words, say
from service.words.units import unit_label

# Inches are "in" too, but "17 in 20" is none of them.
_UNITS = "%|MPa|kPa|psi|bar|kg|g|t|lb|oz|mm|cm|m|in(?! [0-9])|ft|kN|lbf|h|min|s|d|days|días|L|gal|°C|°F"
BEFORE_A_UNIT = re.compile(rf"(?<=\d) (?=(?:{_UNITS})(?!\w))")
_CELL = re.compile(r"<(tr|th|td)\b([^>]*)>")
_SPAN = re.compile(r'colspan="(\d+)"')


@cache
def environment(language: str = "en") -> Environment:
    """Return the environment whose filters and labels speak ``language``."""
    made = Environment(
        loader=FileSystemLoader(folder("templates")),
        autoescape=True,
        undefined=StrictUndefined,
        # Asking the disk of each template whether it changed takes longer than filling a small one in.
        auto_reload=False,
        bytecode_cache=compiled(language),
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    words = page_words(language)
    # So that `_` in a template is a sentence in its language; values go in by `.format`, as in every phrase.
    made.install_gettext_callables(  # type: ignore[attr-defined]
        lambda text: words.get(text, text), lambda one, more, count: one if count == 1 else more, newstyle=False
    )
    for name, written in {**FILTERS, "say": say}.items():
        speaks = "language" in signature(written).parameters
        made.filters[name] = partial(written, language=language) if speaks else written
    made.globals["named"] = glossary()
    made.globals["figure_cell"] = figure_cell
    made.filters["headed"] = headed
    made.filters["unbroken"] = unbroken
    made.filters["same"] = same
    made.filters["worded"] = partial(worded, words=words)
    return made


def worded(text: str, words: Mapping[str, str]) -> str:
    """Return a verdict, a rule's outcome or the name of a condition in the language of the reader."""
    if text in words:
        return words[text]
    state, comma, age = text.partition(", ")
    first, space, soak = state.partition(" ")
    said = words.get(state) or f"{words.get(first, first)}{space}{soak}"
    count, gap, unit = age.partition(" ")
    return f"{said}{comma}{count}{gap}{words.get(unit, unit)}"


def figure_cell(text: object, note: str = "", large: bool = False) -> Markup:
    """Return a cell of a column of figures: a page has hundreds, and a macro takes longer."""
    small = Markup("<small>{}</small>").format(note) if note else ""
    shown = "" if text is None else escape(text)
    return Markup(f'<td class="num{" large" if large else ""}">{shown}{small}</td>')


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
    words, place = [escape(_head_in_a_line(head)) for head in heads], 0

    def in_its_column(found: re.Match[str]) -> str:
        nonlocal place
        kind, said = found.groups()
        span = _SPAN.search(said) if "colspan" in said else None
        here, place = place, 0 if kind == "tr" else place + (int(span[1]) if span else 1)
        if kind != "td" or span or not words[here]:
            return found[0]
        return f'<td data-head="{words[here]}"{said}>'

    return Markup(_CELL.sub(in_its_column, rows))


def _head_in_a_line(head: str | Sequence[str]) -> str:
    if isinstance(head, str):
        return head
    return f"{head[0]} ({unit_label(head[1])})" if head[1] else head[0]
