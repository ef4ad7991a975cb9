"""A word that a template compares stays as it is when the template speaks Spanish, or it would compare another."""

import re
from pathlib import Path

import pytest

from service.paper import templates
from service.words.sentences import page_words

ROOT = Path(__file__).resolve().parents[2] / "templates"
COMPARED = re.compile(r"""(?:[!=]=|\bin)\s*(?:\(|\[)?\s*"([^"]+)\"""")


@pytest.mark.parametrize("name", sorted(templates.SPOKEN))
def test_no_compared_word_is_translated(name: str) -> None:
    compared = set(COMPARED.findall((ROOT / name).read_text()))
    translated = {word for word in compared if word in page_words("es")}
    assert translated <= templates._COMPARED
