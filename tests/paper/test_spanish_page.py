"""The customer's paper in Spanish: it has the parts of the English one, and no fixed word of it stays English."""

import re
from pathlib import Path

import pytest
from jinja2.ext import babel_extract

from service.paper import issuing
from service.paper.explained import FORMULAS
from service.paper.pdf import pdf
from service.paper.templates import worded
from service.web.pages.blocks import FAILURES
from service.web.responses import SPOKEN
from service.words.sentences import page_words
from tests.pdfs import opened
from tests.trials import a_tried_job

PAGE = page_words("es")
TEMPLATES = Path(__file__).parents[2] / "templates"
TAGS = re.compile(r"</?[a-z][^>]*>")
WORDS = re.compile(r' (lang|aria-label|alt|data-head|title)="[^"]*"')


def extracted() -> list[str]:
    """Return every sentence of the paper and of the customer's own pages that is marked for translation."""
    found = []
    parts = ("base.html", "parts/nav.html", "parts/form.html", "parts/words.html", "parts/photos.html")
    around = [TEMPLATES / name for name in (*parts, *SPOKEN)]
    for name in sorted([*TEMPLATES.glob("paper/*.html"), TEMPLATES / "issued.html", *around]):
        options = {"trim_blocks": "true", "lstrip_blocks": "true"}
        with name.open("rb") as file:
            found += [text for _, _, text, _ in babel_extract(file, ("_",), (), options) if isinstance(text, str)]
    return sorted(set(found))


@pytest.mark.parametrize("english", extracted())
def test_every_sentence_of_the_paper_is_in_the_catalogue_with_the_same_values(english):
    assert english in PAGE
    assert sorted(re.findall(r"{\w*}", PAGE[english])) == sorted(re.findall(r"{\w*}", english))


def test_nothing_between_the_tags_of_the_paper_is_left_unmarked():
    for name in [*TEMPLATES.glob("paper/*.html"), TEMPLATES / "issued.html"]:
        text = re.sub(r"{#.*?#}|{%.*?%}|{{.*?}}", " ", name.read_text("utf-8"), flags=re.DOTALL)
        text = re.sub(r"<style>.*?</style>|<[^>]*>", " ", text, flags=re.DOTALL)
        assert set(re.findall(r"[A-Za-z]{3,}", text)) <= {"MPa", "psi"}, name


@pytest.fixture
def pages(cast) -> dict[str, str]:
    tried = a_tried_job(cast)
    drawn = {}
    for language in ("en", "es"):
        draft, beside = issuing.drafted(cast.olu, job_id=tried.job_id, remark="", seen_sha256=None, language=language)
        drawn[language] = issuing.issued_page(draft, beside, cast.olu.shop, address="")
    return drawn


def test_the_spanish_paper_has_the_same_parts_as_the_english_one(pages):
    english, spanish = (
        [WORDS.sub("", tag) for tag in TAGS.findall(re.sub(r"<svg.*?</svg>", "", pages[language], flags=re.DOTALL))]
        for language in ("en", "es")
    )
    assert spanish == english


def test_a_spanish_paper_is_spanish_to_its_annex(pages):
    page = re.sub(r"<style>.*?</style>", "", pages["es"], flags=re.DOTALL)
    assert '<html lang="es">' in page and "Para su muro" in page and "autoridad municipal" in page
    assert "esfuerzo en la cara" in page and "sumergido" in page and "Anexo: cómo se calculó cada número" in page
    for english in ("For your wall", "Every reading", "did not break", "soaked", "hourglass", "limit ", " strength"):
        assert english not in page, english


@pytest.mark.parametrize("one", FORMULAS, ids=lambda one: one.anchor)
def test_how_each_number_is_made_is_told_in_spanish(one):
    ours = [] if one.source.body else [one.source.title]
    assert {one.gives, one.formula, *ours} <= set(PAGE)


def test_what_others_titled_in_english_is_marked_so_on_a_spanish_page_and_in_its_pdf(pages):
    titled = sum(bool(one.source.body) for one in FORMULAS)
    assert pages["es"].count('<td lang="en">') == titled and 'td lang="' not in pages["en"]
    # ISO 14289-1, 7.2: each change of natural language is declared.
    assert opened(pdf(pages["es"])).count(b"/Lang (en)") == titled


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("soaked 4 h, 7 days", "sumergido 4 h, 7 días"),
        ("as cured, 1 day", "sin mojar, 1 día"),
        ("oven-dry", "secado en horno"),
        ("fell apart", "se deshizo"),
        ("A name of the shop's own", "A name of the shop's own"),
    ],
)
def test_conditions_are_said_in_spanish(name, expected):
    assert worded(name, PAGE) == expected
    assert worded(name, {}) == name


@pytest.mark.parametrize("failure", [key for key, _ in FAILURES])
def test_how_a_block_failed_is_said_in_spanish(failure):
    assert worded(failure, PAGE) != failure


# Words that a builder in Latin America misreads, or that have another name in the same paper (shared words, section 5).
@pytest.mark.parametrize(
    "odd", ["tensión", "coste", "amasada", "empapado", "achaparrado", "malogr", "colegiado", "huecos"]
)
def test_a_spanish_paper_uses_none_of_the_words_that_mislead(pages, odd):
    assert odd not in pages["es"]
