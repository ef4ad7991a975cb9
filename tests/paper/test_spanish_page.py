"""The customer's result in Spanish: the page has the same parts as the English one, and no fixed word stays English."""

import re
from dataclasses import replace

import pytest

from service.desk.results import live
from service.paper import issuing
from service.paper.templates import SPOKEN, environment, worded
from service.words.sentences import page_words
from tests.desk.test_results_endured import bent, freed, record, soaked
from tests.trials import a_tried_job

PAGE = page_words("es")
TAGS = re.compile(r"</?[a-z][^>]*>")
WORDS = re.compile(r' (lang|aria-label|alt|data-head|title)="[^"]*"')
# Units and the names of things, alike in both languages, and what is a part of a style sheet or of an address.
ALIKE = {"MPa", "kg CO₂e", "b-", "c-", "r-", "@page { size:", "kN/m"}


def pieces(name: str) -> set[str]:
    """Return the fixed words of a template: the texts between its tags, and the strings that are no names."""
    made = environment()
    source, _, _ = made.loader.get_source(made, name)
    found = set()
    for _, kind, value in made.lexer.tokeniter(source, name):
        if kind == "data":
            found |= {" ".join(piece.split()) for piece in re.split(r"\A[^<>]*>|<[^>]*(?:>|\Z)|&\w+;", value)}
        elif kind == "string" and not re.fullmatch(r"[a-z_0-9-]+|parts/.*", value[1:-1]):
            found.add(value[1:-1])
    return {piece for piece in found if re.search(r"[A-Za-z]{2}", piece)} - ALIKE


@pytest.mark.parametrize("name", sorted(SPOKEN - {"parts/words.html"}))
def test_every_fixed_word_of_the_result_is_in_the_catalogue(name):
    # The parts of a file's name and of an attribute are joined by points.
    missing = {piece for piece in pieces(name) if piece not in PAGE and not re.fullmatch(r"[\w.]+\.\w+", piece)}
    assert missing == set()


@pytest.fixture
def pages(cast) -> dict[str, str]:
    tried = a_tried_job(cast)
    freed(cast, tried, "1-A1", "1-A3")
    record(cast, tried, "1-A1", bent("2.5"))
    record(cast, tried, "1-A3", soaked("2.24"))
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    draft = live.draft(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    return {
        language: issuing.issued_page(draft, replace(cast.olu.shop, language=language)) for language in ("en", "es")
    }


def test_the_spanish_result_has_the_same_parts_as_the_english_one(pages):
    english, spanish = (
        [WORDS.sub("", tag) for tag in TAGS.findall(re.sub(r"<svg.*?</svg>", "", pages[language], flags=re.DOTALL))]
        for language in ("en", "es")
    )
    # Only the word about what follows, and what holds it, come on top.
    assert [tag for tag in spanish if tag not in ("<p>", "</p>", "<div>", "</div>")] == [
        tag for tag in english if tag not in ("<p>", "</p>", "<div>", "</div>")
    ]
    assert len(spanish) == len(english) + 4


def test_what_is_still_english_in_a_spanish_result_is_marked_as_english(pages):
    before, _, after = pages["es"].partition('<div lang="en">')
    assert '<html lang="es">' in before and "Qué mezcla" in before and "no es un factor de seguridad" in before
    assert "Resistencia a flexión" in before and "Absorción" in before and "otro ensayo" in before
    assert "Which recipe" not in before and "not a safety factor" not in before
    assert "Recipes as mixed" in after
    drawings = re.findall(r"<svg [^>]*role=\"img\"[^>]*>", before)
    assert drawings and all('lang="en"' in drawing for drawing in drawings)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("soaked 4 h, 7 days", "empapado 4 h, 7 días"),
        ("as cured, 1 day", "al salir del curado, 1 día"),
        ("oven-dry", "secado en horno"),
        ("will do", "sirve"),
        ("A name of the shop's own", "A name of the shop's own"),
    ],
)
def test_conditions_and_verdicts_are_said_in_spanish(name, expected):
    assert worded(name, PAGE) == expected
    assert worded(name, {}) == name
