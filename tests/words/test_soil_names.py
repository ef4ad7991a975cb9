"""A soil's group name in Spanish: each name that ASTM D2487 can give, with adjectives behind their nouns."""

import json
import re
from itertools import product
from pathlib import Path

import pytest

from service.words.soil_names import ADJECTIVES, NOUNS, soil_name

REFERENCE = json.loads((Path(__file__).parents[1] / "reference" / "classify.json").read_text("utf-8"))
ENGLISH = re.compile("|".join(rf"\b{word}\b" for word in {*" ".join([*NOUNS, *ADJECTIVES]).split(), "with", "and"}))
FINE = ("lean clay", "fat clay", "silt", "elastic silt", "silty clay", "organic clay", "organic silt")
COARSE = ("gravel", "sand")
# ASTM D2487, Figures 1 to 3, from memory: how its names are put together.
HEADS = [
    *FINE,
    *(" ".join(pair) for pair in product(("sandy", "gravelly"), FINE)),
    *(" ".join(pair) for pair in product(("well-graded", "poorly graded", "silty", "clayey", "silty, clayey"), COARSE)),
]
ADDED = ("", " with sand", " with gravel", " with silt and sand", " with silty clay and gravel", " with organic fines",
         " with gravel and cobbles and boulders")  # fmt: skip


@pytest.mark.parametrize(
    ("english", "spanish"),
    [
        ("Lean clay with sand", "Arcilla de baja plasticidad con arena"),
        ("Sandy lean clay", "Arcilla arenosa de baja plasticidad"),
        ("Gravelly elastic silt with sand", "Limo gravoso de alta plasticidad con arena"),
        ("Silty, clayey sand with gravel", "Arena limo-arcillosa con grava"),
        ("Well-graded gravel with silt and sand", "Grava bien graduada con limo y arena"),
        ("A name of the shop's own", "A name of the shop's own"),
    ],
)
def test_a_soil_is_named_in_spanish(english, spanish):
    assert soil_name(english, language="es") == spanish
    assert soil_name(english) == english


def test_no_name_of_the_standard_keeps_an_english_word():
    names = [(head + added).capitalize() for head, added in product(HEADS, ADDED)]
    assert [name for name in names if ENGLISH.search(soil_name(name, language="es").lower())] == []


def test_every_name_of_the_reference_has_a_spanish_one():
    names = set(re.findall(r'"name": "([A-Z][^"]+)"', json.dumps(REFERENCE)))
    assert len(names) > 10
    assert {name for name in names if soil_name(name, language="es") == name} == set()
