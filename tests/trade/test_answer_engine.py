"""Readings go through the engine and come out as words: the cases a small trial really meets."""

from decimal import Decimal

import pytest

from service.trade.block.test_conditions import Condition
from service.trade.criteria.codes_and_rules import limits_for, published
from service.trade.sentences.tried_recipes import Dose, Part, Recipe, Straying, Tally, Trial
from service.trade.sentences.verdict import Answer, answer
from service.trade.strength.censored_readings import broke, fell_apart, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Settings
from service.trade.strength.odd_readings import straying
from service.words.sentences import say

DRY, SOAKED = Condition("as cured", None, 28), Condition("soaked", 6, 28)
PSI_MPA = 6894.757293e-6  # handbook.json U-01


def reading(value):
    """A number broke there, "+number" was held, "x" fell apart."""
    if value == "x":
        return fell_apart()
    if isinstance(value, str):
        return held(stress_mpa=float(value))
    return broke(stress_mpa=value, graduation_mpa=0.2)


def told(question, recipes, blocks, *, criterion="nmac-ceb", batches=2) -> Answer:
    groups = tuple(
        Group(label, condition.name, tuple(reading(value) for value in values), batches)
        for (label, condition), values in blocks.items()
    )
    limits = limits_for(published()[criterion], tested=(DRY, SOAKED)) if criterion else ()
    costs = {recipe.label: recipe.cost for recipe in recipes}
    engine = strength(groups, limits=limits, costs=costs, settings=Settings(scale_uncertainty=0.02))
    tallies = tuple(
        Tally(group.recipe, group.condition, max(held_at, default=None), lowest_mpa=min(broke_at, default=None))
        for group in groups
        for held_at in [[one.low_mpa for one in group.readings if one.outcome == "held"]]
        for broke_at in [[one.stress_mpa for one in group.readings if one.outcome == "broke"]]
    )
    odd = tuple(
        Straying(group.recipe, group.condition, stray.strength_mpa)
        for group in groups
        for stray in straying([one.stress_mpa for one in group.readings if one.outcome == "broke"])
    )
    return answer(Trial(question, tuple(recipes), (DRY, SOAKED), limits, engine, tallies, odd))


def spoken(said: Answer) -> list[str]:
    return [say(sentence, units="imperial", currency="USD") for sentence in said.sentences]


def recipe(label, *, sand=0.0, cement=0.05, cost="0.30"):
    parts = (Part("red silt", 1 - sand, False), *([Part("river sand", sand, True)] if sand else []))
    return Recipe(label, parts, (Dose("cement", cement, "dry soil"),), Decimal(cost), 2)


NATIVE, SANDY = recipe("N"), recipe("S", sand=0.3, cost="0.38")


def test_an_addition_is_not_bought_when_the_native_soil_reaches_the_rule_and_the_press_ran_out():
    said = told("addition", [NATIVE, SANDY], {
        ("N", DRY): ["8.2", "8.2", "8.2", 7.9, "8.2"], ("S", DRY): ["8.2"] * 5,
        ("N", SOAKED): [4.4, 4.0, 4.2, 4.6, 4.1], ("S", SOAKED): [5.0, 5.4, 5.2, 4.9, 5.3],
    })  # fmt: skip
    assert said.recommended == "N"
    spoke = spoken(said)
    assert spoke[0] == "Use recipe N: 5 % cement by weight of dry soil."
    assert spoke[2] == "You do not need river sand, which would cost more."
    # Which of the two is stronger decides nothing: it is in the list of what is not known.
    assert not any("stronger" in text for text in spoke)
    points = [say(point, units="imperial") for point in said.not_known]
    assert any("without soaking. No block of S broke" in text for text in points)


def test_nothing_above_the_press_is_claimed_when_every_dry_block_was_held():
    said = told("addition", [NATIVE, SANDY], {("N", DRY): ["8.2"] * 5, ("S", DRY): ["8.0"] * 5}, criterion=None)
    assert said.recommended is None
    assert spoken(said)[2] == (
        "In our tests without soaking no block of N or S broke. "
        "We loaded no block beyond 1180 psi (8.2 MPa), so we do not know which recipe is stronger."
    )


def test_dry_blocks_alone_leave_the_soaked_rule_open():
    said = told("meets code", [NATIVE], {("N", DRY): [4.4, 4.0, 4.2, 4.6, 4.1]})
    assert said.recommended is None
    assert spoken(said)[2] == "So far its small test blocks pass the limits without soaking."
    assert spoken(said)[3].startswith("We crushed no block of N after 6 h under water")


def test_three_strong_blocks_are_too_few_for_a_rule_of_five():
    said = told("meets code", [NATIVE], {("N", DRY): [6.4, 6.0, 6.2], ("N", SOAKED): [5.4, 5.0, 5.2]})
    assert said.recommended == "N"
    assert any(
        "5 blocks of N in each state: without soaking and after 6 h under water. We crushed 3 of each." in text
        for text in spoken(said)
    )


def test_a_recipe_that_fell_apart_makes_the_addition_worth_it():
    said = told("addition", [NATIVE, SANDY], {
        ("N", DRY): [4.4, 4.0, 4.2, 4.6, 4.1], ("S", DRY): [5.4, 5.0, 5.2, 5.6, 5.1],
        ("N", SOAKED): ["x", 2.5, "x", 2.4, 2.6], ("S", SOAKED): [4.4, 4.0, 4.2, 4.6, 4.1],
    })  # fmt: skip
    assert said.recommended == "S"
    assert "Recipe N, without river sand, fails." in spoken(said)
    assert any(text.startswith("2 blocks of N fell apart") for text in spoken(said))


def test_one_weak_block_of_five_is_pointed_out():
    said = told("meets code", [NATIVE], {
        ("N", DRY): [6.4, 6.0, 6.2, 6.6, 6.1], ("N", SOAKED): [5.4, 5.2, 5.3, 5.5, 2.9],
    })  # fmt: skip
    assert any("broke at 421 psi (2.9 MPa), far below the others" in text for text in spoken(said))


def test_a_cement_series_names_the_leanest_that_will_do():
    series = [recipe("c3", cement=0.03, cost="0.20"), recipe("c5"), recipe("c7", cement=0.07, cost="0.40")]
    said = told("least stabiliser", series, {
        ("c3", DRY): [2.6, 2.2, 2.4, 2.5, 2.3], ("c5", DRY): [5.4, 5.0, 5.2, 5.6, 5.1],
        ("c7", DRY): ["8.2"] * 5, ("c3", SOAKED): [1.2, 1.0, 1.1, 1.2, 1.0],
        ("c5", SOAKED): [4.4, 4.0, 4.2, 4.6, 4.1], ("c7", SOAKED): [6.4, 6.0, 6.2, 6.6, 6.1],
    })  # fmt: skip
    assert said.recommended == "c5"
    assert "Recipe c3, with less cement (3 % cement by weight of dry soil), fails." in spoken(said)


def test_a_leaner_recipe_held_below_the_limit_supports_no_cut():
    series = [recipe("c3", cement=0.03, cost="0.20"), recipe("c5")]
    said = told("least stabiliser", series, {
        ("c3", DRY): [4.6, 4.2, 4.4, 4.5, 4.3], ("c5", DRY): [5.4, 5.0, 5.2, 5.6, 5.1],
        ("c3", SOAKED): ["1.9"] * 5, ("c5", SOAKED): [4.4, 4.0, 4.2, 4.6, 4.1],
    })  # fmt: skip
    assert said.recommended == "c5"
    assert any(text.startswith("We do not know yet whether recipe c3, with less") for text in spoken(said))
    assert any("We did not load them up to the 300 psi (2.07 MPa) they must bear" in text for text in spoken(said))


# handbook.json AC-01 to AC-05: the adobe rule of 780 CMR 2109.3.1.1 on constructed readings, as air-dry blocks.
@pytest.mark.parametrize(
    ("psi", "passes"),
    [
        pytest.param([310, 305, 320, 290, 285], True, id="handbook.json AC-01 780 CMR 2109.3.1.1"),
        pytest.param([340, 330, 320, 310, 245], False, id="handbook.json AC-02 780 CMR 2109.3.1.1"),
        pytest.param([299, 299, 299, 301, 301], False, id="handbook.json AC-04 780 CMR 2109.3.1.1"),
        pytest.param([410, 260, 255, 300, 290], True, id="handbook.json AC-05 780 CMR 2109.3.1.1"),
    ],
)
def test_the_adobe_rule_passes_and_fails_as_published(psi, passes):
    air_dry = Condition("air-dry", None, 28)
    limits = limits_for(published()["ibc-adobe"], tested=[air_dry])
    blocks = tuple(broke(stress_mpa=value * PSI_MPA) for value in psi)
    rows = strength([Group("A", air_dry.name, blocks)], limits=limits).limits
    assert all(row.rule == "met" for row in rows) is passes
