"""The words say what the numbers say: each case of a small trial, as the customer reads it.

The engine's answers are laid out by hand here, so that each test states the numbers its words follow from;
tests/trade/test_answer_engine.py puts real readings through the engine.
"""

import re
from dataclasses import replace
from decimal import Decimal

import pytest

from service.trade.block.test_conditions import Condition
from service.trade.sentences.tried_recipes import Straying, Tally
from service.trade.sentences.verdict import answer
from service.words.sentences import say
from tests.trade.trials import DRY, LIMITS, SOAKED, group, limit, pair, place, recipe, spoken, trial

NATIVE, SANDY = recipe("A", cost="0.30"), recipe("B", sand=0.25, cost="0.41")
NOT_TOLD_APART = pair("A", "B", ratio=0.9, low=0.7, high=1.15, more=0.1, less=0.45, same=0.45)


def addition(native, other, **more):
    return trial("addition", [NATIVE, SANDY], order=[native, other],
                 groups=[group("A"), group("B")], **{"pairs": [NOT_TOLD_APART], **more})  # fmt: skip


def test_an_addition_that_is_not_needed_is_not_bought():
    said = answer(addition(place("A", assurance=0.97), place("B")))
    assert said.recommended == "A"
    assert spoken(said)[0] == (
        "There is no need to add sand: A (red silt, 6 % cement of the dry soil) reaches 2.00 MPa (290 psi) in each "
        "block as cured and after 4 h under water, at 14 days, with a chance of 97 in 100 (97 %), and costs $0.30 a "
        "block against $0.41."
    )


def test_two_recipes_not_told_apart_are_said_so_with_the_chance():
    assert spoken(answer(addition(place("A"), place("B"))))[1] == (
        "B came out 1.1 times as strong as A after 4 h under water (from 0.87 to 1.4 times): that it is more than 10 % "
        "stronger has a chance of 9 in 20 (45 %), short of the 19 in 20 (95 %) asked for."
    )


def test_an_addition_that_alone_meets_the_limits_is_worth_it():
    said = answer(addition(place("B"), place("A", "will not do", assurance=0.01)))
    assert said.recommended == "B"
    assert spoken(said)[0].startswith(
        "Adding sand is worth it: B (red silt with 25 % sand, 6 % cement of the dry soil)"
    )
    assert spoken(said)[0].endswith("and A, without it, does not.")


def test_an_addition_that_saves_money_pays_when_both_will_do():
    saving = replace(SANDY, cost=Decimal("0.25"))
    said = answer(replace(addition(place("B"), place("A")), recipes=(NATIVE, saving)))
    assert said.recommended == "B"
    assert "Adding sand pays" in spoken(said)[0]
    assert "and costs $0.25 a block against the $0.30 of A, which would do too" in spoken(said)[0]


def test_a_cheaper_recipe_whose_strength_is_not_settled_saves_nothing():
    saving = replace(SANDY, cost=Decimal("0.25"))
    said = answer(replace(addition(place("A"), place("B", "not settled", assurance=None)), recipes=(NATIVE, saving)))
    assert said.recommended == "A"
    assert not any("0.25" in sentence for sentence in spoken(said))


def test_an_addition_is_taken_for_now_while_the_native_soil_is_not_settled():
    said = answer(addition(place("B"), place("A", "not settled", assurance=0.85)))
    assert said.recommended == "B"
    assert "for now" in spoken(said)[0]
    assert "17 in 20 (85 %)" in spoken(said)[0]


def test_whether_an_addition_is_worth_it_cannot_be_told_while_neither_is_settled():
    said = answer(addition(place("A", "not settled", assurance=0.6), place("B", "not settled", assurance=0.8)))
    assert said.recommended is None
    assert spoken(said)[0].startswith("Whether adding sand is worth it cannot be told yet")


def test_an_addition_that_fails_is_of_no_use_whatever_the_native_soil_does():
    said = answer(addition(place("A", "not settled", assurance=0.6), place("B", "will not do", assurance=0.0)))
    assert said.recommended is None
    assert "does not answer" in spoken(said)[0]


def test_neither_recipe_is_recommended_when_both_fail():
    said = answer(addition(place("A", "will not do", assurance=0), place("B", "will not do", assurance=0)))
    assert said.recommended is None
    assert "neither A, without it, nor B, with it, reaches 2.00 MPa" in spoken(said)[0]


def test_an_addition_cannot_be_judged_without_blocks_of_the_native_soil():
    said = answer(trial("addition", [SANDY], groups=[group("B")], order=[place("B")]))
    assert said.recommended is None
    assert spoken(said)[0] == "What an addition brings cannot be told: blocks with and without it are needed."


@pytest.mark.parametrize(
    ("comparison", "expected"),
    [
        (pair("B", "A", ratio=1.6, low=1.3, high=2.0, more=0.98, less=0.0, same=0.02), "brings strength: B"),
        (pair("B", "A", ratio=0.6, low=0.5, high=0.7, more=0.0, less=0.99, same=0.01), "brings no strength"),
        (pair("B", "A", ratio=1.1, low=0.9, high=1.3, more=0.5, less=0.05, same=0.45), "cannot be told"),
        (pair("B", "A", low=1.2), "brings strength: B"),
        (pair("B", "A", low=1.05), "cannot be told"),
        (pair("A", "B", high=0.8), "brings strength: B"),
        (pair("A", "B"), "cannot be told"),
    ],
)
def test_without_a_limit_an_addition_is_judged_by_measured_strength_alone(comparison, expected):
    said = answer(addition(place("A", "not settled", assurance=None), place("B", "not settled", assurance=None),
                           asked=(), pairs=[comparison]))  # fmt: skip
    assert said.recommended is None
    assert expected in spoken(said)[0]


def outlasted(*, native_held, sandy_held, comparison):
    groups = [group("A"), group("B"), group("A", DRY, held=native_held), group("B", DRY, held=sandy_held)]
    return trial("addition", [NATIVE, SANDY], order=[place("A"), place("B")], groups=groups,
                 pairs=[pair("A", "B", DRY, **comparison), NOT_TOLD_APART],
                 tallies=(Tally("A", DRY.name, 10.4), Tally("B", DRY.name, 10.6)))  # fmt: skip


def test_when_both_outlasted_the_press_nothing_above_is_claimed():
    said = answer(outlasted(native_held=5, sandy_held=5, comparison={}))
    assert spoken(said)[2] == (
        "A and B both outlasted the press as cured: strength above 10.6 MPa (1540 psi) was not measured, so which is "
        "stronger there is not known."
    )
    assert any("no saving of cement or cost may rest on it" in say(point) for point in said.not_known)


def test_when_one_outlasted_the_press_only_the_measured_bound_is_said():
    said = answer(outlasted(native_held=0, sandy_held=5, comparison={"high": 0.8}))
    assert spoken(said)[2] == (
        "Every block of B outlasted the press as cured and not every one of A: B is at least 1.2 times as strong, and "
        "above 10.6 MPa (1540 psi) its strength was not measured."
    )


def test_a_bound_that_tells_nothing_apart_is_not_sold_as_a_ratio():
    said = answer(outlasted(native_held=5, sandy_held=0, comparison={"low": 0.9}))
    assert "are not told apart there" in spoken(said)[2]
    assert "times" not in spoken(said)[2]


def test_a_ratio_with_blocks_that_never_broke_says_where_measuring_ended():
    dry = pair("A", "B", DRY, ratio=0.8, low=0.6, high=1.0, more=0.02, less=0.7, same=0.28)
    case = outlasted(native_held=2, sandy_held=3, comparison={})
    said = answer(replace(case, strength=replace(case.strength, pairs=(dry,))))
    assert spoken(said)[1].endswith("some of these blocks outlasted the press, and above 10.6 MPa (1540 psi) nothing "
                                    "was measured.")  # fmt: skip


def test_a_soaked_comparison_is_told_before_a_dry_one():
    dry = pair("A", "B", DRY, ratio=0.5, low=0.4, high=0.6, more=0.0, less=1.0, same=0.0)
    case = outlasted(native_held=0, sandy_held=0, comparison={})
    said = answer(replace(case, strength=replace(case.strength, pairs=(dry, NOT_TOLD_APART))))
    assert "after 4 h under water" in spoken(said)[1]


def test_limits_met_without_soaked_readings_leave_the_question_open():
    rows = [limit("A", "rule dry"), limit("A", rule="no readings", assurance=None, counted=0)]
    said = answer(trial("meets code", [NATIVE], groups=[group("A", DRY)], limits=rows,
                        order=[place("A", "not settled", assurance=None)]))  # fmt: skip
    assert said.recommended is None
    assert spoken(said) == [
        "So far A (red silt, 6 % cement of the dry soil) reaches 2.00 MPa (290 psi) in each block as cured, at 14 "
        "days, which is not yet all that was asked.",
        "Of A no block was crushed after 4 h under water, so whether 2.00 MPa (290 psi) is reached there is open.",
    ]


@pytest.mark.parametrize(("rule", "assurance"), [("no readings", None), ("cannot tell", None), ("cannot tell", 0.7)])
def test_blocks_held_below_the_limit_were_crushed_but_tell_nothing(rule, assurance):
    rows = [limit("A", "rule dry"), limit("A", rule=rule, assurance=assurance)]
    said = answer(trial("meets code", [NATIVE], groups=[group("A", held=5)], limits=rows,
                        order=[place("A", "not settled", assurance=assurance)]))  # fmt: skip
    assert said.recommended is None
    assert (
        "The press was stopped below 2.00 MPa (290 psi) on blocks of A after 4 h under water, so whether they reach it "
        "was not measured."
    ) in spoken(said)
    assert not any("no block was crushed" in sentence for sentence in spoken(said))


def test_too_few_blocks_for_the_rule_are_said_even_when_the_recipe_will_do():
    rows = [limit("A", "rule dry"), limit("A", rule="too few", counted=3)]
    said = answer(trial("meets code", [NATIVE], groups=[group("A", readings=3)], limits=rows, order=[place("A")]))
    assert spoken(said)[0].startswith("Yes, as small bench blocks: A (red silt")
    assert spoken(said)[1] == (
        "The rule asks for 5 blocks of A after 4 h under water; with 3 crushed there are too few."
    )


def test_a_block_that_strays_is_pointed_out_and_counted():
    said = answer(replace(addition(place("A"), place("B")), straying=(Straying("A", SOAKED.name, 1.2),)))
    assert spoken(said)[2] == (
        "One block of A after 4 h under water read 1.20 MPa (174 psi), far from its siblings; it is counted all the "
        "same."
    )


@pytest.mark.parametrize(
    ("statistic", "expected"),
    [
        ("each", "The weakest block of A after 4 h under water broke at 1.60 MPa (232 psi), where 2.00 MPa (290 psi) "
                 "is asked of each."),
        ("mean", "The blocks of A after 4 h under water broke at 1.90 MPa (276 psi) on average, where 2.00 MPa "
                 "(290 psi) is asked."),
    ],
)  # fmt: skip
def test_a_recipe_that_fails_is_told_with_the_readings_that_fail_it(statistic, expected):
    asked = (replace(LIMITS[1], statistic=statistic),)
    tallies = (Tally("A", SOAKED.name, lowest_mpa=1.6, mean_mpa=1.9),)
    rows = [limit("A", rule="not met", assurance=0.01)]
    said = answer(trial("meets code", [NATIVE], groups=[group("A")], limits=rows, asked=asked, tallies=tallies,
                        order=[place("A", "will not do", assurance=0.01)]))  # fmt: skip
    assert spoken(said)[0].startswith("No: not even as small bench blocks")
    assert spoken(said)[1] == expected


def test_blocks_of_two_recipes_that_fell_apart_are_told_together():
    case = addition(place("A", "will not do", assurance=0.0), place("B", "will not do", assurance=0.0))
    groups = (group("A", fell_apart=2), group("B", fell_apart=1))
    said = answer(replace(case, strength=replace(case.strength, groups=groups)))
    assert "Blocks of A and B fell apart after 4 h under water, so none of these meets a limit there." in spoken(said)


def test_recipes_that_came_out_alike_are_not_told_as_a_ratio_of_one():
    alike = pair("A", "B", ratio=1.02, low=0.9, high=1.14, more=0.1, less=0.05, same=0.85)
    assert spoken(answer(addition(place("A"), place("B"), pairs=[alike])))[1] == (
        "A and B came out alike after 4 h under water (from 0.90 to 1.1 times): that they differ by less than 10 % has "
        "a chance of 17 in 20 (85 %), short of the 19 in 20 (95 %) asked for."
    )


@pytest.mark.parametrize(("fallen", "start"), [(1, "One block of A fell apart"), (2, "2 blocks of A fell apart")])
def test_a_block_that_fell_apart_decides_and_is_said(fallen, start):
    case = addition(place("B"), place("A", "will not do", assurance=0.0),
                    limits=[limit("A", rule="not met", assurance=0.0)])  # fmt: skip
    groups = (group("A", fell_apart=fallen), group("B"))
    said = answer(replace(case, strength=replace(case.strength, groups=groups)))
    assert said.recommended == "B"
    assert spoken(said)[1].startswith(start)
    assert not any("times as strong" in sentence for sentence in spoken(said))


def test_what_is_not_known_counts_what_was_left_out():
    tallies = (Tally("A", SOAKED.name, None, spoiled=1, lost=2),)
    single = replace(NATIVE, batches=1, cost=None)
    said = answer(
        trial("meets code", [single], groups=[group("A")], order=[place("A")], tallies=tallies, calibrated=False)
    )
    texts = " ".join(say(point) for point in said.not_known)
    assert "Of A after 4 h under water, 1 reading was spoiled and is not counted." in texts
    assert "lost before" in texts
    assert "Only one mix of A was made" in texts
    assert "The press was not calibrated" in texts
    assert "No price is known for A" in texts


def test_several_ages_are_told_apart_in_the_words():
    later = Condition("soaked", 4, 28)
    case = trial("meets code", [NATIVE], groups=[group("A"), group("A", later)], order=[place("A")],
                 asked=(replace(LIMITS[1], condition=later.name),))  # fmt: skip
    said = answer(replace(case, conditions=(SOAKED, later)))
    assert "after 4 h under water at 28 days" in spoken(said)[0]


ALL_CASES = [
    addition(place(first, one, assurance=p), place(second, other, assurance=q), asked=asked)
    for first, second in (("A", "B"), ("B", "A"))
    for one, p in (("will do", 0.97), ("not settled", None), ("not settled", 0.5), ("will not do", 0.0))
    for other, q in (("will do", 1.0), ("not settled", None), ("will not do", 0.01))
    for asked in (LIMITS, ())
]


@pytest.mark.parametrize("question", ["addition", "least stabiliser", "which soil", "meets code"])
@pytest.mark.parametrize("case", ALL_CASES)
def test_every_answer_is_one_to_three_whole_sentences_in_plain_words(case, question):
    said = answer(replace(case, question=question))
    assert 1 <= len(said.sentences) <= 3
    for text in [*spoken(said), *(say(point) for point in said.not_known)]:
        assert re.fullmatch(r"[A-Za-z0-9].*[^ .,;]\.", text), text
        assert "{" not in text and "None" not in text and "p-value" not in text and "significant" not in text
    if said.recommended:
        assert case.verdict(said.recommended) == "will do"
