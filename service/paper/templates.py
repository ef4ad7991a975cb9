"""The one template environment, for pages and papers alike; once for each language."""

import re
from collections.abc import Sequence
from functools import cache, partial
from inspect import signature

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from service.places import folder
from service.words.figures import FILTERS, unit_label
from service.words.phrases import say, translator

_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|MPa|psi|kPa|kN|kg|lb|mm|h|días|days|d)(?!\w))")
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
    made.globals["_"] = translator(language)
    return made


def unbroken(sentence: str) -> str:
    """Return a sentence in which no line ends between a number and its unit."""
    return _BEFORE_UNIT.sub("\N{NO-BREAK SPACE}", sentence)


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
