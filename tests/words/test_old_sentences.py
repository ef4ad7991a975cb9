"""Nothing is left of the sixty sentences that readers stumbled over: no text of the product holds a piece of one."""

import tomllib
from pathlib import Path

import pytest

from tests.words.every_text import everything

PIECES = tomllib.loads(Path(__file__).with_name("old_sentences.toml").read_text("utf-8"))


def test_each_of_the_sixty_has_a_piece_that_is_looked_for():
    assert list(PIECES) == [str(number) for number in range(1, 61)] and all(PIECES.values())


@pytest.mark.parametrize("number", PIECES)
def test_no_text_holds_a_piece_of_an_old_sentence(number):
    assert [(file, text[:80]) for piece in PIECES[number] for file, text in everything() if piece in text] == []
