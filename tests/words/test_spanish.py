"""The customer's result in Spanish: every sentence of the answer has a translation that keeps its numbers."""

import ast
import re
from pathlib import Path

import pytest

from service.desk.results import _changes, _words
from service.phrase import Phrase
from service.trade.block import test_conditions
from service.trade.criteria import codes_and_rules
from service.trade.sentences import confounding, durability, open_points, ratios, tried_recipes, verdict
from service.trade.strength import shape_corrected_limits
from service.words.sentences import catalogue, say

SPANISH = catalogue("es")
# Words that the code compares and nobody is shown, and the parts of names.
NOT_SHOWN = {
    "least stabiliser", "which soil", "meets code", "will do", "will not do", "not settled", "no readings", "too few",
    "cannot tell", "not met", "fell apart", "as cured", "dry soil", "dry mix", "left out", ", ", ". ",
    r"([\d.]+) days?",
}  # fmt: skip


def written(module) -> set[str]:
    """Every string of a module that is no docstring and holds a space: its sentences and their parts."""
    tree = ast.parse(Path(module.__file__).read_text("utf-8"))
    owners = (ast.Module, ast.ClassDef, ast.FunctionDef)
    docs = {id(node.body[0].value) for node in ast.walk(tree)
            if isinstance(node, owners) and isinstance(node.body[0], ast.Expr)}  # fmt: skip
    inner = {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in ast.walk(node)}
    return {
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs | inner
    }


SENTENCES = sorted(
    text
    for module in (
        _changes,
        _words,
        confounding,
        verdict,
        ratios,
        test_conditions,
        durability,
        shape_corrected_limits,
        tried_recipes,
        open_points,
    )
    for text in written(module)
    if " " in text and text not in NOT_SHOWN
)
RULES = sorted(
    text
    for criterion in codes_and_rules.published().values()
    for text in (criterion.written_for, criterion.specimen, *criterion.remarks,
                 *(note.english for note in codes_and_rules.notes(criterion, confirmed=False)))
)  # fmt: skip


@pytest.mark.parametrize("english", [*SENTENCES, *RULES])
def test_every_sentence_of_the_answer_is_translated(english):
    assert english in SPANISH


@pytest.mark.parametrize("english", SPANISH)
def test_a_translation_holds_the_same_values(english):
    assert sorted(set(re.findall(r"{\w+}", SPANISH[english]))) == sorted(set(re.findall(r"{\w+}", english)))


def test_a_spanish_sentence_keeps_the_readers_units_and_the_decimal_point():
    phrase = Phrase("Recipe {recipe} {condition}: the average is {strength_mpa}, the minimum is {limit_mpa}.", {
        "recipe": "A",
        "condition": Phrase("after {soak_hours} under water", {"soak_hours": 4.0}),
        "strength_mpa": 1.9,
        "limit_mpa": 2.068427,
    })  # fmt: skip
    assert say(phrase, language="es", units="imperial") == (
        "Receta A después de 4 h bajo agua: el promedio es 276 psi (1.9 MPa), el mínimo exigido es 300 psi (2.07 MPa)."
    )


@pytest.mark.parametrize(("share", "said"), [(0.76, "76 %"), (0.999, "más del 99 %"), (0.001, "menos del 1 %")])
def test_a_spanish_chance_is_never_certain(share, said):
    phrase = Phrase("It is {more_likely} likely that {a} is more than {margin_share} stronger than {b}.",
                    {"more_likely": share, "margin_share": 0.1, "a": "A", "b": "B"})  # fmt: skip
    assert say(phrase, language="es").endswith(f"en más de un 10 %: {said}.")


# The conjunction before the sound i: Ortografía de la lengua española (2010), "e" for "y", but "y hielo"; from memory.
@pytest.mark.parametrize(
    ("listed", "said"),
    [
        (("A", "B"), "A y B"),
        (("R", "Y"), "R e Y"),
        (("arena", "illita"), "arena e illita"),
        (("cal", "hielo"), "cal y hielo"),
        (("cal", "yeso"), "cal y yeso"),
    ],
)
def test_a_spanish_list_says_y_or_e(listed, said):
    phrase = Phrase("We crushed no block of {recipes} yet.", {"recipes": listed})
    assert say(phrase, language="es") == f"Todavía no probamos bloques de {said}."
