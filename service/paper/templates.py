"""The one template environment, for pages and papers alike; once for each language."""

from functools import cache, partial
from inspect import signature

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from service.places import folder
from service.words.figures import FILTERS
from service.words.phrases import say, translator


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
    made.globals["_"] = translator(language)
    return made
