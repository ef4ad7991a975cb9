"""Every refusal that a customer or a stranger can meet is in the Spanish catalogue, and is said in it."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import Request

from service.desk import doorway, messages
from service.desk.results import checking
from service.desk.signing_in import _factors, _passwords_and_pins, own_access, rate_limit, sign_in
from service.web import authentication, error_pages, form_input, responses, turns
from service.words.sentences import refused

# What staff and programs alone are told stays English.
NOT_A_CUSTOMERS = {
    "A valid password for a program is needed.", "This key is given twice.", "This person belongs to no customer.",
    "What is done at the bench is done by a person.", "Two use cases are called {}.", "At most {} rows.",
    "There is no such customer.", "That is for customers.",
    "At most {} rows; this has {}.", "The password for a program, made by the owner on the page Who can sign in.",
    "A fresh key for every act, at most 64 characters: the same request sent twice is done once. "
    "Without it an act is refused with 422; reading and the worked calculations need none.",
}  # fmt: skip
MODULES = (doorway, messages, checking, _factors, _passwords_and_pins, own_access, rate_limit, sign_in, authentication,
           error_pages, form_input, turns)  # fmt: skip


def sentences_of(module) -> Iterator[str]:
    """Yield what a module says to people: strings that begin like a sentence and end like one; {} for a figure."""
    tree = ast.parse(Path(module.__file__).read_text("utf-8"))
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    inner = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            text = "".join(str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values)
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs | inner:
            text = node.value
        else:
            continue
        if " " in text and text[0].isupper() and text.endswith("."):
            yield text


@pytest.mark.parametrize("english", sorted({text for module in MODULES for text in sentences_of(module)}))
def test_a_customers_refusal_has_a_translation(english):
    met = english.replace("{}", "12")
    assert english in NOT_A_CUSTOMERS or refused(met, language="es") != met


def test_a_refusal_with_a_figure_keeps_it():
    assert refused("Between 12 and 200 characters.", language="es") == "Entre 12 y 200 caracteres."
    assert refused("Between 12 and 200 characters.", language="en") == "Between 12 and 200 characters."
    assert refused("Nobody translated this.", language="es") == "Nobody translated this."


@pytest.mark.parametrize(
    ("header", "language"),
    [("es-MX,es;q=0.9,en;q=0.5", "es"), ("ES", "es"), ("en-US,es;q=0.5", "en"), ("", "en"), ("est", "en")],
)
def test_a_stranger_is_spoken_to_as_the_browser_asks(header, language):
    asking = Request({"type": "http", "headers": [(b"accept-language", header.encode())]})
    assert responses.speaks(asking, None) == language
