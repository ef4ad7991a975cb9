"""Every sentence of errors, refusals, messages, commands, data and the API is short, in both languages.

Pages are measured in test_sentences.py, answers in every situation in tests/trade/test_answers_in_docs.py.
"""

import re
from collections.abc import Iterator

import pytest

from tests.words.every_text import ROOT, api_texts, spanish, texts
from tests.words.test_sentences import ENDS, IN_AN_EXPLANATION, ON_A_SCREEN, words

# Formulas of sources, drawings and lists of words are no sentences.
NO_SENTENCE = re.compile(r"<svg|viewBox|SELECT |CREATE |\bsqrt\(|[=×√]|^\s*[a-z]+(\s+[a-z]+){40,}\s*$")
EXPLAINS = {"summary", "description"}


def long(every: tuple[tuple[str, str], ...]) -> list[str]:
    found = []
    for file, text in every:
        if NO_SENTENCE.search(text) or file.endswith((".html", ".md")):
            continue
        most = IN_AN_EXPLANATION if file in EXPLAINS else ON_A_SCREEN
        # What goes into a sentence counts as one word.
        filled = re.sub(r"\{[^{}]*\}", "figure", " ".join(text.split()))
        found += [f"{words(one)} {file}: {one}" for one in ENDS.split(filled) if words(one) > most]
    return sorted(set(found))


def test_no_sentence_of_code_data_scripts_and_commands_is_long():
    assert long(texts()) == []


# What begins a new line on a page, and the strings that code between the marks of Jinja hands to macros.
LINE = re.compile(
    r"</?(?:p|li|h\d|td|th|dd|dt|label|button|summary|legend|figcaption|caption|option|div|section|ul|ol|tr|table"
    r"|form|fieldset|small|br|details|nav|figure|main|header|footer)\b[^>]*>"
)
GIVEN = re.compile(r"""(["'])((?:(?!\1).)*)\1""", re.DOTALL)


def of_a_template(whole: str) -> Iterator[str]:
    """Yield what a template says, line by line, whether or not a page of the demo shows it."""
    whole = re.sub(r"<(svg|script|style)\b.*?</\1>|{#.*?#}", " ", whole, flags=re.DOTALL)
    for code in re.findall(r"{[{%](.*?)[}%]}", whole, flags=re.DOTALL):
        yield from (text for _, text in GIVEN.findall(code))
    apart = re.sub(r"{%-? *(?:else|elif)\b.*?%}", "\n", re.sub(r"{{.*?}}", "figure", whole, flags=re.DOTALL))
    yield from re.sub(r"<[^>]*>", "", LINE.sub("\n", re.sub(r"{%.*?%}", " ", apart))).splitlines()


def test_no_sentence_of_a_template_is_long():
    every = ((path.name, " ".join(path.read_text("utf-8").split())) for path in (ROOT / "templates").rglob("*.html"))
    told = [
        f"{words(one)} {name}: {one}"
        for name, whole in every
        for part in of_a_template(whole)
        for one in ENDS.split(part)
        if words(one) > ON_A_SCREEN
    ]
    assert told == []


def test_no_sentence_of_the_description_of_the_api_is_long():
    assert long(tuple(api_texts())) == []


@pytest.mark.parametrize("language", ["en", "es"])
def test_no_sentence_of_the_catalogue_is_long(language):
    assert long(tuple((language, pair[language == "es"]) for pair in spanish())) == []


def test_no_sentence_of_the_readme_and_of_the_page_for_owners_is_long():
    every = [(file, text) for file, text in texts() if file.endswith(".md")]
    told = [
        f"{words(one)} {file}: {one}"
        for file, text in every
        for part in re.split(r"```[^`]*```|\||[*#]{1,2} |- ", text)
        for one in ENDS.split(part)
        if words(one) > IN_AN_EXPLANATION
    ]
    assert told == []
