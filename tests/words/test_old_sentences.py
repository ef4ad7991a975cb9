"""Nothing is left of the sixty sentences that readers stumbled over: no text of the product holds a piece of one."""

import tomllib
from pathlib import Path

import pytest

from tests.words.every_text import api_texts, spanish, texts

PIECES = tomllib.loads(Path(__file__).with_name("old_sentences.toml").read_text("utf-8"))["pieces"]


@pytest.mark.parametrize("piece", PIECES)
def test_no_text_holds_a_piece_of_an_old_sentence(piece):
    every = (*texts(), *api_texts(), *(("es.po", english) for english, _ in spanish()))
    assert [(file, text[:80]) for file, text in every if piece in text] == []
