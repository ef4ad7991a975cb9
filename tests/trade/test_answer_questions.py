"""Each kind of question has its own answer: least stabiliser, which soil, meets code."""

import pytest

from service.trade.sentences.tried_recipes import Dose, Part, Recipe
from service.trade.sentences.verdict import answer
from service.words.sentences import say
from tests.trade.trials import group, pair, place, recipe, spoken, trial

NATIVE, SANDY = recipe("A", cost="0.30"), recipe("B", sand=0.25, cost="0.41")

SERIES = [recipe("c4", cement=0.04), recipe("c6", cement=0.06), recipe("c8", cement=0.08)]
STRONGER = pair("c6", "c4", ratio=1.5, low=1.2, high=1.9, more=0.97, less=0.0, same=0.03)


def series(*order, **more):
    return trial("least stabiliser", SERIES, order=order, groups=[group(one.label) for one in SERIES],
                 **{"pairs": [STRONGER], **more})  # fmt: skip


def test_the_leanest_recipe_that_will_do_is_named_with_the_one_below_that_fails():
    said = answer(series(place("c8"), place("c6"), place("c4", "will not do", assurance=0.0)))
    assert said.recommended == "c6"
    assert spoken(said)[0].startswith("c6 (red silt, 6 % cement of the dry soil) is the leanest that will do")
    assert spoken(said)[0].endswith("and c4 (red silt, 4 % cement of the dry soil) does not.")
    assert spoken(said)[1] == (
        "c6 is 1.5 times as strong as c4 after 4 h under water (from 1.2 to 1.9 times): that it is more than 10 % "
        "stronger has a chance of 97 in 100 (97 %)."
    )


def test_a_leaner_recipe_that_is_not_settled_is_not_used_to_cut_cement():
    said = answer(series(place("c8"), place("c6"), place("c4", "not settled", assurance=0.85)))
    assert said.recommended == "c6"
    assert (
        "that c4 (red silt, 4 % cement of the dry soil) does is not settled, with a chance of 17 in 20"
        in spoken(said)[0]
    )


def test_the_leanest_tested_is_enough_and_nothing_is_said_of_less():
    said = answer(series(place("c4"), place("c6"), place("c8")))
    assert said.recommended == "c4"
    assert "nothing leaner was tested" in spoken(said)[0]


def test_no_least_stabiliser_is_named_when_none_is_shown_to_do():
    said = answer(series(*(place(one.label, "not settled", assurance=0.7) for one in reversed(SERIES))))
    assert said.recommended is None
    assert "the nearest is c8" in spoken(said)[0]
    said = answer(series(*(place(one.label, "will not do", assurance=0.0) for one in SERIES)))
    assert spoken(said)[0].startswith("No share of stabiliser that was tested is enough to reach")


def test_no_least_stabiliser_is_named_without_a_strength_to_reach():
    said = answer(series(*(place(one.label, "not settled", assurance=None) for one in SERIES), asked=()))
    assert said.recommended is None
    assert spoken(said)[0] == "How little stabiliser will do cannot be told, for no strength to be reached was set."


def test_shares_of_both_bases_are_put_on_one_before_they_are_compared():
    # 6 % of the dry mix is 0.06 / 0.94 = 6.383 % of the dry soil (mass balance, by hand).
    of_mix = Recipe("m", (Part("red silt", 1.0, False),), (Dose("cement", 0.06, "dry mix"),))
    both = Recipe(
        "b", (Part("red silt", 1.0, False),), (Dose("cement", 0.04, "dry soil"), Dose("lime", 0.02, "dry mix"))
    )
    assert of_mix.stabiliser_share == pytest.approx(0.06 / 0.94)
    # D = 1: M = 1.04 / 0.98; all stabiliser = M - 1.
    assert both.stabiliser_share == pytest.approx(1.04 / 0.98 - 1)


SOILS = [recipe("R", cost="0.30"), recipe("Y", soil="yellow clay", cost="0.35")]


def test_the_soil_that_will_do_most_cheaply_is_taken():
    said = answer(trial("which soil", SOILS, groups=[group("R"), group("Y")],
                        order=[place("R", cheapest=0.95), place("Y", cheapest=0.04)],
                        pairs=[pair("R", "Y", ratio=1.0, low=0.98, high=1.02, more=0.0, less=0.0, same=1.0)],
                        ))  # fmt: skip
    assert said.recommended == "R"
    assert spoken(said)[0].startswith("Take red silt: R (red silt, 6 % cement of the dry soil) reaches")
    assert spoken(said)[0].endswith(", and nothing cheaper was tested.")
    assert spoken(said)[1].startswith("R and Y are practically equal after 4 h under water: within 10 %")


def test_a_soil_that_is_not_the_cheapest_is_taken_with_the_chance_that_nothing_cheaper_does():
    dearer = [recipe("R", cost="0.40"), SOILS[1]]
    said = answer(trial("which soil", dearer, groups=[group("R"), group("Y")],
                        order=[place("R", cheapest=0.95), place("Y", "will not do", cheapest=0.04)]))  # fmt: skip
    assert spoken(said)[0].endswith("; that nothing cheaper does has a chance of 19 in 20 (95 %).")


def test_one_soil_alone_answers_no_question_of_choice():
    said = answer(trial("which soil", SOILS[:1], groups=[group("R")], order=[place("R")]))
    assert said.recommended is None
    assert "blocks of two soils at least" in spoken(said)[0]


def test_without_a_limit_the_stronger_soil_is_named_but_not_recommended():
    said = answer(trial("which soil", SOILS, asked=(), groups=[group("R"), group("Y")],
                        order=[place(label, "not settled", assurance=None) for label in "RY"],
                        pairs=[pair("R", "Y", ratio=0.5, low=0.4, high=0.6, more=0, less=1, same=0)]))  # fmt: skip
    assert said.recommended is None
    assert spoken(said)[0].startswith("Y (yellow clay, 6 % cement of the dry soil) makes the strongest blocks")


def test_a_rule_is_never_said_to_be_met_by_more_than_bench_blocks():
    said = answer(trial("meets code", [NATIVE], groups=[group("A")], order=[place("A")]))
    assert spoken(said)[0].startswith("Yes, as small bench blocks:")
    assert any("full-size units" in say(point) for point in said.not_known)


def test_without_a_rule_no_rule_is_met():
    said = answer(trial("meets code", [NATIVE], asked=(), groups=[group("A")], order=[place("A", "not settled")]))
    assert spoken(said)[0] == "Whether a rule is met cannot be told, for no rule was chosen."


@pytest.mark.parametrize("question", ["addition", "least stabiliser", "which soil", "meets code"])
def test_before_the_first_block_is_crushed_there_is_still_an_answer(question):
    said = answer(trial(question, [NATIVE, SANDY, *SOILS[1:]]))
    assert said.recommended is None
    assert 1 <= len(said.sentences) <= 3
