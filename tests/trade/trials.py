"""Trials laid out by hand for the tests of the words: recipes, groups, limits, pairs and places."""

from decimal import Decimal

from service.trade.block.test_conditions import Condition
from service.trade.sentences.tried_recipes import Dose, Part, Recipe, Trial
from service.trade.sentences.verdict import Answer
from service.trade.strength.estimate_result import (
    GroupStrength,
    Limit,
    LimitAnswer,
    OrderAnswer,
    PairAnswer,
    StrengthAnswer,
)
from service.words.sentences import say

DRY = Condition("as cured", None, 14)
SOAKED = Condition("soaked", 4, 14)
LIMITS = (
    Limit("rule dry", DRY.name, "each", 2.0, 5),
    Limit("rule soaked", SOAKED.name, "each", 2.0, 5),
)


def recipe(label, *, sand=0.0, cement=0.06, cost=None, soil="red silt", batches=2):
    parts = (Part(soil, 1 - sand, False), *([Part("sand", sand, True)] if sand else []))
    return Recipe(label, parts, (Dose("cement", cement, "dry soil"),), Decimal(cost) if cost else None, batches)


def group(label, condition=SOAKED, *, readings=5, held=0, fell_apart=0, median=3.0):
    stood = readings - fell_apart
    known = median if held < stood else None
    return GroupStrength(
        recipe=label, condition=condition.name, readings=readings, held=held, fell_apart=fell_apart,
        median_mpa=known, low_mpa=median * 0.8, high_mpa=known and known * 1.2,
        characteristic_mpa=known and known * 0.75, characteristic_low_mpa=median * 0.6,
        next_low_mpa=median * 0.7, next_high_mpa=known and known * 1.4,
    )  # fmt: skip


def limit(label, name="rule soaked", *, rule="met", assurance=0.99, counted=5):
    return LimitAnswer(recipe=label, name=name, counted=counted, required=5, rule=rule, assurance=assurance)


def pair(a, b, condition=SOAKED, *, ratio=None, low=None, high=None, more=None, less=None, same=None):
    return PairAnswer(
        condition=condition.name, a=a, b=b, ratio=ratio, low=low, high=high, p_more=more, p_less=less, p_same=same
    )


def place(label, verdict="will do", *, assurance=0.99, cheapest=None, cost=None):
    return OrderAnswer(recipe=label, verdict=verdict, assurance=assurance, p_cheapest=cheapest, cost=cost)


def trial(question, recipes, *, groups=(), limits=(), pairs=(), order=(), asked=LIMITS, **more):
    strength = StrengthAnswer(
        scatter=(), groups=tuple(groups), limits=tuple(limits), pairs=tuple(pairs), order=tuple(order)
    )
    return Trial(question, tuple(recipes), (DRY, SOAKED), tuple(asked), strength, **more)


def spoken(one: Answer) -> list[str]:
    return [say(sentence, currency="USD") for sentence in one.sentences]
