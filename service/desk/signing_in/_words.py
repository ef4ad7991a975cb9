"""Words that somebody who guesses would try first: of this trade, of this shop, and of the person."""

import re
from collections.abc import Iterable

LIST = """
admin adobe aggregate arcilla arena barro batch bench binder block blocks bloque book brick bricks builder cement
cemento clay cob compressed compression crush crushed crushing cure cured curing customer density dry earth earthen
fines gauge grading gravel house hydrometer lime loam loambook mason masonry mix mixing moisture mold mortar mould
mud owner plaster press pressed pressing quarry rammed recipe sack sample sand shop sieve silt site soak
soaked soil soils stabilised stabilized straw strength suelo tablet technician test testing tierra trial wall walls
water wet workshop
"""
OF_THE_TRADE = frozenset(LIST.split())
# What people put for a letter.
PUT_FOR = str.maketrans("013457@$!", "oleastasi")
SHORTEST = 3


def is_mostly(password: str, about: Iterable[str]) -> bool:
    """Return whether more than half of a password's letters are such words, also with digits put for letters."""
    own = {word for text in about for word in re.split(r"[\W_]+", text.casefold()) if len(word) >= SHORTEST}
    words = {variant for word in OF_THE_TRADE | own for variant in (word, word.translate(PUT_FOR))}
    plain = password.casefold()
    return any(_is_covered(_letters(variant), words) for variant in (plain, plain.translate(PUT_FOR)))


def _letters(text: str) -> str:
    return "".join(letter for letter in text if letter.isalpha())


def _is_covered(letters: str, words: set[str]) -> bool:
    left = letters
    # The longest first, so that a word inside a longer one does not break it up.
    for word in sorted(words, key=len, reverse=True):
        left = left.replace(word, " ")
    return 2 * len(left.replace(" ", "")) < len(letters)
