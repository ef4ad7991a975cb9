"""Why a block does not count, in Spanish: the shop's sentences come as English text and leave what was typed alone."""

import ast
from pathlib import Path

import pytest

from service.measured import crushed
from service.trade.block import soak_and_crush_steps
from service.trade.block.durability_tests import USED_UP
from service.words.sentences import reasoned


def phrases(module) -> set[str]:
    """Return the English of every phrase that a module makes."""
    calls = [
        node for node in ast.walk(ast.parse(Path(module.__file__).read_text("utf-8"))) if isinstance(node, ast.Call)
    ]
    made = [call for call in calls if isinstance(call.func, ast.Name) and call.func.id == "Phrase"]
    return {call.args[0].value for call in made if isinstance(call.args[0], ast.Constant)}


REASONS = sorted({*phrases(soak_and_crush_steps), *phrases(crushed), *USED_UP.values()})


@pytest.mark.parametrize("english", REASONS)
def test_every_reason_has_a_translation(english):
    assert len(REASONS) >= 10
    assert reasoned(english, language="es") != english
    assert reasoned(english) == english


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        ("crushed at 9 days, outside 7 days ± 6 h", "probado a los 9 días, fuera de 7 días ± 6 h"),
        (
            "crushed at 9 days, outside 7 days ± 6 h; crushed oven-dry, meant to be soaked",
            "probado a los 9 días, fuera de 7 días ± 6 h; probado secado en horno; estaba previsto sumergido",
        ),
        ("dropped; by the customer", "dropped; by the customer"),
    ],
)
def test_a_reason_keeps_its_figures_and_what_was_typed_stays(english, spanish):
    assert reasoned(english, language="es") == spanish
