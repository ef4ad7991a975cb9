"""A phrase becomes a sentence here: in the reader's language, with every number in the reader's units."""

import re
from decimal import Decimal
from functools import cache
from pathlib import Path

from babel.lists import format_list
from babel.messages.pofile import read_po

from service.phrase import Phrase, Value
from service.words import numbers_to_text, prices
from service.words.glossary import glossary
from service.words.units import Units

CATALOGUES = Path(__file__).parent / "locales"

# The end of a value's name says what the number is stored in.
STORED_IN = {
    "_mpa": "MPa", "_kg": "kg", "_g": "g", "_mm": "mm", "_m": "m", "_kn": "kN", "_kg_m3": "kg/m3", "_kn_m": "kN/m",
    "_l": "L", "_c": "°C", "_hours": "h", "_days": "d", "_minutes": "min",
}  # fmt: skip

# Spanish says "e" for "y" before the same sound, but not before a diphthong ("hielo"). The letter Y is "i griega".
_Y = re.compile(r" y (?=h?i(?![aeou])|y\b)", re.IGNORECASE)

# Behind the name of a stress that was read: what one step of its gauge is on that face.
STEP = "_step"


def say(phrase: Phrase, *, language: str = "en", units: Units = "metric", currency: str | None = None) -> str:
    """Return the sentence; what has no translation yet is said in English."""
    sentence = catalogue(language).get(phrase.english, phrase.english)
    written = {
        name: _read(value, phrase.values[f"{name}{STEP}"], units=units)
        if f"{name}{STEP}" in phrase.values
        else _written(name, value, language=language, units=units, currency=currency)
        for name, value in phrase.values.items()
    }
    return sentence.format_map(written)


def _read(mpa: Value, step_mpa: Value, *, units: Units) -> str:
    """Return a stress that a gauge showed, to the figure that its steps can tell."""
    assert isinstance(mpa, int | float) and isinstance(step_mpa, int | float)
    return numbers_to_text.told(mpa, step_mpa=step_mpa, units=units)


def _written(name: str, value: Value, *, language: str, units: Units, currency: str | None) -> str:
    def again(part: str | Phrase) -> str:
        return part if isinstance(part, str) else say(part, language=language, units=units, currency=currency)

    if isinstance(value, tuple):
        listed = format_list([again(part) for part in value], locale=numbers_to_text.LOCALES[language])
        return _Y.sub(" e ", listed) if language == "es" else listed
    if name == "because" and isinstance(value, str):
        return reasoned(value, language=language)
    if isinstance(value, str | Phrase):
        return again(value)
    if isinstance(value, Decimal):
        return _money(value, language=language, currency=currency)
    return _number(name, value, language=language, units=units)


def _money(amount: Decimal, *, language: str, currency: str | None) -> str:
    return prices.money(amount, currency=currency, language=language) if currency else f"{amount:f}"


def _number(name: str, value: float, *, language: str, units: Units) -> str:
    if name.endswith("_mpa"):
        # What a block was held to is a floor without the word too.
        return numbers_to_text.stress(value, units=units, floor=name == "held_mpa")
    if name.endswith("_floor"):
        return numbers_to_text.stress(value, units=units, held=True, language=language)
    if name.endswith("_share"):
        return numbers_to_text.percent(value)
    if name.endswith("_chance"):
        return numbers_to_text.chance(value, language=language)
    if name.endswith("_likely"):
        return numbers_to_text.likely(value, language=language)
    if name.endswith("_least"):
        return numbers_to_text.significant(value, digits=2, floor=True)
    if isinstance(value, int):
        return str(value)
    # The longest ending counts: density_kg_m3 is no mass.
    endings = [ending for ending in STORED_IN if name.endswith(ending)]
    if not endings:
        return numbers_to_text.significant(value, digits=2)
    unit = STORED_IN[max(endings, key=len)]
    return f"{value:.4g} {unit}" if unit in ("h", "d", "min") else numbers_to_text.own(value, unit, units=units)


@cache
def catalogue(language: str) -> dict[str, str]:
    """Return the translations of a language, read once from its .po file."""
    return _messages(language, context=None)


@cache
def page_words(language: str) -> dict[str, str]:
    """Return the fixed words of a template in a language, which stand in the catalogue as "page".

    In English these are the few that code calls otherwise.
    """
    return {"as cured": glossary()["not-soaked"].name} if language == "en" else _messages(language, context="page")


@cache
def table_words(language: str) -> dict[str, str]:
    """Return the translations of the heads and the words of a table that leaves as a file."""
    return {**page_words(language), **_messages(language, context="table")}


def refused(sentence: str, *, language: str) -> str:
    """Return a refusal in the reader's language; what has no translation yet is said in English."""
    return _again(sentence, language=language, context="refusal")


def reasoned(because: str, *, language: str = "en") -> str:
    """Return why a block does not count in the reader's language; what somebody typed stays as it is."""
    return "; ".join(_again(reason, language=language, context="reason") for reason in because.split("; "))


def _again(sentence: str, *, language: str, context: str) -> str:
    """Return a sentence that came as English text; one that holds a figure is found by the words around it."""
    said, with_figures = _whole_and_with_figures(language, context)
    if sentence in said:
        return said[sentence]
    for words, translated in with_figures:
        if found := words.fullmatch(sentence):
            held = page_words(language)
            return translated.format_map({name: held.get(one, one) for name, one in found.groupdict().items()})
    return sentence


@cache
def _whole_and_with_figures(language: str, context: str) -> tuple[dict[str, str], list[tuple[re.Pattern[str], str]]]:
    said = _messages(language, context=context)
    figures = {
        re.compile(re.sub(r"\\{(\w+)\\}", r"(?P<\1>.+)", re.escape(english))): spanish
        for english, spanish in said.items()
        if "{" in english
    }
    return said, list(figures.items())


def _messages(language: str, *, context: str | None) -> dict[str, str]:
    path = CATALOGUES / f"{language}.po"
    if not path.is_file():
        return {}
    with path.open("rb") as file:
        messages = [message for message in read_po(file, locale=language) if message.context == context]
    return {str(message.id): str(message.string) for message in messages if message.id and message.string}
