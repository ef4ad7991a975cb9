"""Every situation with the whole text it gives, in docs/answers.md, so that the words can be read as an editor reads.

``LOAMBOOK_WRITE_DOCS=1 pytest tests/trade/test_answers_in_docs.py`` writes the page anew; without it the page must be
what comes out.
"""

import os
import re
from pathlib import Path

import pytest

from service.words.sentences import say
from tests.trade.situations import SITUATIONS, said

PAGE = Path(__file__).parents[2] / "docs" / "answers.md"
HEAD = """# Answers

What a result says in each situation, whole: first the act, then the reason, then how sure, then what is missing.
The English and the Spanish text; below each, what the result lists as not known.

Written by `LOAMBOOK_WRITE_DOCS=1 pytest tests/trade/test_answers_in_docs.py` from tests/trade/situations.py.
"""
# A figure with its unit is one word to whoever reads it, and the same in the other system goes with it.
# A new sentence begins after a full stop or a colon, as on a page.
ENDS = re.compile(r"(?<=[^\W\d_]\.) |(?<=:) ")
FIGURE = re.compile(r"[\d.]+ (?:MPa|psi|%|h)(?: \([\d.]+ (?:psi|MPa)\))?")


# A shop that writes Spanish types its own names of soils and materials.
TYPED = {"red silt": "limo rojo", "yellow clay": "arcilla amarilla", "cement": "cemento", "sand": "arena"}


def told(title: str, language: str) -> list[str]:
    told = [say(sentence, language=language, currency="USD") for sentence in said(title).sentences]
    return [re.sub("|".join(TYPED), lambda met: TYPED[met[0]], one) for one in told] if language == "es" else told


def written() -> str:
    parts = [HEAD]
    for title in SITUATIONS:
        one = said(title)
        parts.append(
            f"## {title}\n\nRecipe to use: {one.recommended or 'none'}.\n\n> {' '.join(told(title, 'en'))}\n\n"
            f"> {' '.join(told(title, 'es'))}\n\nNot known:\n\n"
            + "\n".join(f"- {say(point)}" for point in one.not_known)
        )
    return "\n\n".join(parts) + "\n"


def test_the_page_of_answers_is_what_comes_out():
    if os.environ.get("LOAMBOOK_WRITE_DOCS") == "1":
        PAGE.write_text(written(), "utf-8")
    assert PAGE.read_text("utf-8") == written()
    assert len(SITUATIONS) >= 40


@pytest.mark.parametrize("language", ["en", "es"])
@pytest.mark.parametrize("title", SITUATIONS)
def test_no_sentence_of_an_answer_is_long(title, language):
    points = [say(point, language=language) for point in said(title).not_known]
    for sentence in [*told(title, language), *points]:
        for one in ENDS.split(sentence):
            assert len(FIGURE.sub("1", one).split()) <= 20, one


@pytest.mark.parametrize("title", SITUATIONS)
def test_every_answer_is_whole_sentences_and_names_only_what_is_shown_to_pass(title):
    one = said(title)
    assert 1 <= len(one.sentences) <= 9
    for text in [*told(title, "en"), *(say(point) for point in one.not_known)]:
        assert re.fullmatch(r"[A-Za-z0-9“].*[^ .,;]\.", text), text
        assert (
            "{" not in text
            and "None" not in text.removeprefix("None of these")
            and "p-value" not in text
            and "significant" not in text
        )
    if one.recommended:
        assert SITUATIONS[title].verdict(one.recommended) == "will do"
        too_few = any(row.rule == "too few" for row in SITUATIONS[title].strength.limits)
        act = "Do not build with recipe {} yet: " if too_few else "Use recipe {}: "
        assert told(title, "en")[0].startswith(act.format(one.recommended))
    else:
        assert not told(title, "en")[0].startswith("Use")
