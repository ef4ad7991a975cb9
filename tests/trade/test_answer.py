"""The words say what the numbers say: each case of a small trial, as the customer reads it.

The engine's answers are laid out by hand in tests/trade/situations.py, so that each test states the numbers its words
follow from; tests/trade/test_answer_engine.py puts real readings through the engine.
"""

from dataclasses import replace

import pytest

from service.trade.sentences.asking import for_the_shop
from service.trade.sentences.tried_recipes import Dose, Part, Recipe, Straying
from service.trade.sentences.verdict import answer
from service.words.sentences import say
from tests.trade.situations import LIMITS, NATIVE, SANDY, SERIES, SITUATIONS, SOILS, addition, said, series, soils
from tests.trade.trials import DRY, SOAKED, pair, place, spoken, trial


@pytest.mark.parametrize(
    ("title", "recommended"),
    [
        ("An addition is not needed and would cost more", "A"),
        ("An addition saves money and both pass", "B"),
        ("A cheaper addition whose strength is open saves nothing", "A"),
        ("Only the addition passes", "B"),
        ("The addition passes, the soil alone is open", "B"),
        ("With and without the addition all is open", None),
        ("The addition fails, the soil alone is open", None),
        ("With and without the addition all fails", None),
        ("No block without the addition", None),
        ("An addition without a limit makes the blocks stronger", None),
        ("A block fell apart in the water", "B"),
        ("The least stabiliser: less fails", "c6"),
        ("The least stabiliser: less is open", "c6"),
        ("The least stabiliser: the leanest tested is enough", "c4"),
        ("The least stabiliser: none is shown to pass", None),
        ("The least stabiliser without a limit", None),
        ("Which soil: the cheapest passes", "R"),
        ("Which soil: one soil alone was tested", None),
        ("Which soil without a limit: one is stronger", None),
        ("A code is passed", "A"),
        ("A code: no soaked block was crushed", None),
        ("A code: the press stopped below the limit", None),
        ("No code was chosen", None),
        ("No block was crushed", None),
    ],
)
def test_a_recipe_is_named_only_where_it_is_shown_to_pass(title, recommended):
    assert said(title).recommended == recommended


# The sentence, and where among the sentences it stands: the act first, then reasons, how sure, and what is missing.
@pytest.mark.parametrize(
    ("title", "place", "sentence"),
    [
        ("An addition is not needed and would cost more", 0, "Use recipe A: 6 % cement by weight of dry soil."),
        ("An addition is not needed and would cost more", 1, "Its small test blocks pass every limit for this job, "
         "without soaking and after 4 h under water."),
        ("An addition is not needed and would cost more", 2, "You do not need sand, which would cost more."),
        ("An addition is not needed and would cost more", 3, "It is 97 % likely that new test blocks of recipe "
         "A pass too."),
        ("An addition saves money and both pass", 2, "It costs less than recipe A, without sand, which "
         "passes too."),
        ("A cheaper addition whose strength is open saves nothing", 3, "Recipe B, with sand, costs less; we do not "
         "know yet whether it passes."),
        ("Only the addition passes", 0, "Use recipe B: 75 % red silt and 25 % sand by dry weight, plus "
         "6 % cement by weight of both."),
        ("Only the addition passes", 2, "Recipe A, without sand, fails."),
        ("Only the addition with a stabiliser passes", 2, "Recipe A, the soil without sand or cement, "
         "fails."),
        ("The addition passes, the soil alone is open", 2, "We do not know yet whether recipe A, without sand, "
         "passes. It is 85 % likely that A passes; we need 95 %."),
        ("With and without the addition all is open", 0, "Do not build yet: we cannot name a recipe."),
        ("With and without the addition all is open", 1, "We tested recipe A: 6 % cement by weight of dry soil."),
        ("With and without the addition all is open", 2, "It is 60 % likely to pass every limit; we need 95 %."),
        ("The addition fails, the soil alone is open", 0, "Do not add sand, and do not build yet."),
        ("With and without the addition all fails", 0, "Do not use any recipe we tested: none is good enough."),
        ("With and without the addition all fails", 3, "Ask us to test another recipe."),
        ("No block without the addition", 1, "We tested no recipe without sand, so we cannot compare."),
        ("No block with the addition", 1, "We tested no recipe with sand or another soil added, so "
         "we cannot compare."),
        ("An addition without a limit makes the blocks stronger", 1, "Recipe B, with sand, is stronger than recipe "
         "A."),
        ("An addition without a limit makes the blocks stronger", 2, "In our test B was about 60 % stronger than A "
         "after 4 h under water."),
        ("An addition without a limit makes the blocks stronger", 3, "It is 98 % likely that B is more than 10 % "
         "stronger than A."),
        ("An addition without a limit, and the two are not told apart", 2, "In our test B was about 10 % stronger "
         "than A after 4 h under water, which may be chance."),
        ("An addition without a limit, shown by a bound alone", 1, "Recipe B, with sand, is stronger than recipe A."),
        ("An addition without a limit, shown by a bound alone", 2, "It is 95 % likely that B is at least 20 % "
         "stronger than A after 4 h under water. Some blocks of B did not break, so B may be "
         "stronger still."),
        ("An addition without a limit makes the blocks weaker", 1, "Recipe A, without sand, is stronger than recipe "
         "B."),
        ("Without a limit the two recipes came out alike", 2, "In our test A and B came out about the same after "
         "4 h under water. More blocks might show a difference."),
        ("Without a limit the two recipes are shown to be equal", 1, "Recipe B, with sand, is about as strong "
         "as recipe A."),
        ("Without a limit the two recipes are shown to be equal", 2,
         "It is 99 % likely that A and B differ by less than 10 % after 4 h under water."),
        ("A block fell apart in the water", 4, "One block of A fell apart after 4 h under water, so recipe A fails."),
        ("Blocks of both recipes fell apart", 3, "Blocks fell apart after 4 h under water: 2 of A and 1 of B. "
         "These recipes fail."),
        ("One reading is far from the others", 4, "One block of A after 4 h under water broke at 2.3 MPa (334 psi), "
         "far below the others. We counted it, and recipe A passes even so."),
        ("The least stabiliser: less fails", 2, "Recipe c4, with less cement (4 % cement by weight of dry soil), "
         "fails."),
        ("The least stabiliser: less is open", 2, "We do not know yet whether recipe c4, with less cement (4 % "
         "cement by weight of dry soil), passes. It is 85 % likely that c4 passes; we need 95 %."),
        ("The least stabiliser: the leanest tested is enough", 2, "We tested no recipe with less cement."),
        ("The least stabiliser: all fail", 1, "Recipes c4, c6, and c8 each fail at least one limit."),
        ("Which soil: the cheapest passes", 0, "Use recipe R: red silt with 6 % cement by weight of dry soil."),
        ("Which soil: the cheapest passes", 2, "No other recipe we tested costs less."),
        ("Which soil: a dearer one passes", 2, "It is 95 % likely that every cheaper recipe we tested fails."),
        ("Which soil: one soil alone was tested", 1, "We tested blocks of one soil only, so we cannot compare soils."),
        ("Which soil without a limit: one is stronger", 1, "Recipe Y (yellow clay) makes the strongest blocks."),
        ("Which soil without a limit: one is stronger", 2, "In our test Y was about twice as strong as R after 4 "
         "h under water."),
        ("A code is passed with more certainty than can be shown", 2, "It is over 99 % likely that new test "
         "blocks of recipe A pass too."),
        ("A code is passed with too few blocks", 0, "Do not build with recipe A yet: the rule asks for more test "
         "blocks."),
        ("A code is passed with too few blocks", 1, "So far it passes: 6 % cement by weight of dry soil."),
        ("A code is passed with too few blocks", 2, "Its small test blocks pass every limit for this job, without "
         "soaking and after 4 h under water."),
        ("A code is passed with too few blocks", 5, "Ask us to test the missing blocks of recipe A."),
        ("With and without the addition all is open", 5, "Ask us to test more blocks of recipes A and B."),
        ("The addition fails, the soil alone is open", 3, "Ask us to test more blocks of recipe A."),
        ("The addition passes, the soil alone is open", 4, "To know whether recipe A passes too, ask us to test it "
         "further."),
        ("Which soil: one soil alone was tested", 2, "Ask us to test your other soil too; send it if we do not have "
         "it yet."),
        ("A code: the press stopped below the limit", 4, "Ask us whether a stronger crushing press can test A."),
        ("A code is passed with too few blocks", 4, "The rule asks for 5 blocks of A after 4 h under water; we "
         "crushed 3."),
        ("A code asks for two ages", 1, "Its small test blocks pass every limit for this job, after 4 h under water "
         "at 28 days of age."),
        ("A code: no soaked block was crushed", 1, "We tested recipe A: 6 % cement by weight of dry soil."),
        ("A code: no soaked block was crushed", 2, "So far its small test blocks pass the limits without soaking."),
        ("A code: no soaked block was crushed", 3, "We crushed no block of A after 4 h under water, so we do not know "
         "whether it passes."),
        ("A code: the press stopped below the limit", 3, "In our crushing press no block of A broke after "
         "4 h under water. We did not load them up to the 2 MPa (290 psi) they must bear: we do not know whether "
         "A passes."),
        ("A code: the weakest block is below the limit", 1, "Recipe A (6 % cement by weight of dry soil) fails at "
         "least one limit."),
        ("A code: the weakest block is below the limit", 2, "Recipe A after 4 h under water: the weakest block "
         "reached 1.6 MPa (232 psi), the minimum is 2 MPa (290 psi)."),
        ("A code: the mean is below the limit", 2, "Recipe A after 4 h under water: the average is 1.9 MPa (276 "
         "psi), the minimum is 2 MPa (290 psi)."),
        ("No code was chosen", 0, "Do not build yet: we need to know which building rule you must meet. Ask "
         "your building official."),
        ("No block was crushed", 0, "We have not crushed any block yet, so we cannot name a recipe."),
        ("The soil alone, without stabiliser, passes", 0, "Use recipe A: the soil alone."),
    ],
)  # fmt: skip
def test_a_situation_is_answered_in_these_words(title, place, sentence):
    assert spoken(said(title))[place] == sentence


def test_no_saving_rests_on_strength_that_was_not_measured():
    points = [say(point) for point in said("No dry block of either recipe broke").not_known]
    assert (
        "The blocks of A and B (without soaking) did not break. We loaded them to 10.6 MPa (1530 psi) at most; they "
        "may be stronger. Unbroken blocks are no reason to use less cement." in points
    )


@pytest.mark.parametrize(
    ("title", "sentence"),
    [
        ("No dry block of either recipe broke", "In our tests without soaking no block of A or B broke. "
         "We loaded no block beyond 10.6 MPa (1530 psi), so we do not know which recipe is stronger."),
        ("No dry block of one recipe broke", "It is 95 % likely that B is at least 25 % stronger than A without "
         "soaking. No block of B broke."),
        ("No dry block of one recipe broke, and that tells nothing apart", "These blocks do not show whether A is "
         "stronger than B without soaking. No block of A broke: we loaded them to 10.4 MPa (1500 psi) at most. Blocks "
         "of B broke at 9.8 MPa (1420 psi) or more."),
    ],
)  # fmt: skip
def test_which_recipe_is_stronger_is_listed_as_open_and_not_in_an_answer_that_limits_decide(title, sentence):
    assert sentence in [say(point) for point in said(title).not_known] and sentence not in spoken(said(title))


@pytest.mark.parametrize(
    ("assurance", "ending"), [(0.99, "We counted it, and recipe A passes even so."), (0.5, "We counted it too.")]
)
def test_a_low_reading_says_that_the_recipe_passes_only_where_it_does(assurance, ending):
    verdict = "will do" if assurance > 0.95 else "not settled"
    one = addition(place("A", verdict, assurance=assurance), place("B"), straying=(Straying("A", SOAKED.name, 1.2),))
    assert any(say(point).endswith(ending) for point in answer(one).not_known)


def test_two_soils_of_about_the_same_strength_are_said_to_be():
    alike = pair("R", "Y", ratio=1.0, low=0.97, high=1.03, more=0.0, less=0.0, same=0.99)
    one = soils(*(place(label, "not settled", assurance=None) for label in "RY"), asked=(), pairs=[alike])
    assert spoken(answer(one))[1] == "Recipe R (red silt) is about as strong as recipe Y."


def test_of_the_other_soil_its_chance_is_told_too_or_that_it_fails():
    places = place("R", "not settled", assurance=0.7), place("Y", "will not do", assurance=0.0)
    assert spoken(said("Which soil: none is shown to pass"))[3] == (
        "We tested recipe Y: yellow clay with 6 % cement by weight of dry soil."
    )
    assert spoken(answer(soils(*places)))[3] == (
        "Recipe Y (yellow clay with 6 % cement by weight of dry soil) fails at least one limit."
    )


def test_a_stabiliser_is_named_unless_the_leaner_recipe_has_another():
    lime = replace(SERIES[0], doses=(Dose("lime", 0.04, "dry soil"),))
    told = spoken(answer(series(place("c6"), place("c4", "will not do", assurance=0.0), recipes=(lime, SERIES[1]))))
    assert told[2] == "Recipe c4, with less stabiliser (4 % lime by weight of dry soil), fails."


def test_a_soaked_comparison_is_told_before_a_dry_one():
    dry = pair("A", "B", DRY, ratio=0.5, low=0.4, high=0.6, more=0.0, less=1.0, same=0.0)
    soaked = pair("A", "B", ratio=0.6, low=0.5, high=0.7, more=0.0, less=0.99, same=0.01)
    both = addition(place("A"), place("B"), pairs=[dry, soaked], asked=())
    assert spoken(answer(both))[2].endswith("after 4 h under water.")


def test_where_limits_decide_nothing_is_said_of_which_recipe_is_stronger():
    for title in ("An addition is not needed and would cost more", "The least stabiliser: less is open"):
        assert not any("stronger" in sentence for sentence in spoken(said(title)))


def test_a_block_that_fell_apart_gives_no_ratio():
    assert not any("stronger" in sentence for sentence in spoken(said("A block fell apart in the water")))


def test_blocks_held_below_the_limit_were_crushed():
    told = spoken(said("A code: the press stopped below the limit"))
    assert not any("crushed no block" in sentence for sentence in told)


def test_a_rule_is_never_said_to_be_passed_by_more_than_bench_blocks():
    one = said("A code is passed")
    assert spoken(one)[1].startswith("Its small test blocks pass ")
    assert any("tested no full-size blocks" in say(point) for point in one.not_known)


def test_what_is_not_known_counts_what_was_left_out():
    texts = [say(point) for point in said("One batch, no price, no calibration, a test that went wrong").not_known]
    for expected in (
        "1 test of A after 4 h under water went wrong and is not counted.",
        "2 blocks of A broke or went missing before we could test them after 4 h under water. They may have been the "
        "weakest; then the result looks too good.",
        "We made A in one batch only. Other batches of a recipe may differ; our figures allow for the usual "
        "difference.",
        "Our press was not calibrated: all strengths may be too high, or all too low. Then our answer may be wrong.",
        "No price is known for A, so we cannot say which is cheapest.",
    ):
        assert expected in texts


def test_shares_of_both_bases_are_put_on_one_before_they_are_compared():
    # 6 % of the dry mix is 0.06 / 0.94 = 6.383 % of the dry soil (mass balance, by hand).
    of_mix = Recipe("m", (Part("red silt", 1.0, False),), (Dose("cement", 0.06, "dry mix"),))
    both = Recipe(
        "b", (Part("red silt", 1.0, False),), (Dose("cement", 0.04, "dry soil"), Dose("lime", 0.02, "dry mix"))
    )
    assert of_mix.stabiliser_share == pytest.approx(0.06 / 0.94)
    # D = 1: M = 1.04 / 0.98; all stabiliser = M - 1.
    assert both.stabiliser_share == pytest.approx(1.04 / 0.98 - 1)


ALL_CASES = [
    addition(place(first, one, assurance=p), place(second, other, assurance=q), asked=asked)
    for first, second in (("A", "B"), ("B", "A"))
    for one, p in (("will do", 0.97), ("not settled", None), ("not settled", 0.5), ("will not do", 0.0))
    for other, q in (("will do", 1.0), ("not settled", None), ("will not do", 0.01))
    for asked in (LIMITS, ())
]


@pytest.mark.parametrize("question", ["addition", "least stabiliser", "which soil", "meets code"])
@pytest.mark.parametrize("case", ALL_CASES)
def test_whatever_the_question_only_a_recipe_that_passes_is_named(case, question):
    one = answer(replace(case, question=question))
    assert one.recommended is None or case.verdict(one.recommended) == "will do"
    assert (one.recommended is None) != spoken(one)[0].startswith("Use recipe ")


@pytest.mark.parametrize("question", ["addition", "least stabiliser", "which soil", "meets code"])
def test_before_the_first_block_is_crushed_there_is_still_an_answer(question):
    one = answer(trial(question, [NATIVE, SANDY, *SOILS[1:]]))
    assert one.recommended is None
    assert spoken(one)[0] == "We have not crushed any block yet, so we cannot name a recipe."


def test_every_kind_of_question_has_a_situation():
    assert {case.question for case in SITUATIONS.values()} == {
        "addition", "least stabiliser", "which soil", "meets code",
    }  # fmt: skip


def test_the_shop_is_told_what_to_test_where_a_customer_is_told_what_to_ask_for():
    asked = 0
    for case in SITUATIONS.values():
        for one in answer(case).sentences:
            (told,) = for_the_shop([one])
            if "sk us" in one.english or "sk your" in one.english:
                asked += 1
                assert told.english != one.english and " us " not in told.english and told.values == one.values
                assert "your" not in told.english
            else:
                assert told == one
    assert asked > 5
