"""The counting rules, the verdict and the order of a job's recipes."""

import itertools
from decimal import Decimal

import pytest

from service.trade.strength.censored_readings import broke, fell_apart, held
from service.trade.strength.estimate_result import Limit, LimitAnswer, OrderAnswer
from service.trade.strength.limit_rules import rule_of, sorted_order, verdict_of

FELL = fell_apart()


def b(*stresses):
    return [broke(stress_mpa=stress) for stress in stresses]


def h(*stresses):
    return [held(stress_mpa=stress) for stress in stresses]


# Worked by hand against a limit of 2.0 MPa on three blocks.
@pytest.mark.parametrize(
    ("readings", "of_mean", "of_each"),
    [
        ([], "no readings", "no readings"),
        (h(1.0, 1.9, 1.5), "cannot tell", "cannot tell"),
        # The rule is put to the first three: what was crushed later changes nothing, unless it fell apart.
        (b(2.0, 2.0, 2.0, 1.0), "met", "met"),
        (b(1.0, 2.0, 2.0, 9.0, 9.0), "not met", "not met"),
        ([*b(2.5, 2.5), *h(1.5), *b(9.0)], "met", "cannot tell"),
        (b(2.0, 2.0, 2.0), "met", "met"),
        (b(2.0, 2.0), "too few", "too few"),
        (b(2.5, 2.5, 1.0), "met", "not met"),
        (b(2.5, 2.0, 1.4), "not met", "not met"),
        (b(1.4), "cannot tell", "not met"),
        ([*b(2.5, 2.5), *h(2.5)], "met", "met"),
        ([*b(2.5, 2.5), *h(1.5)], "met", "cannot tell"),
        ([*b(1.5), *h(1.0, 1.0)], "cannot tell", "not met"),
        ([*b(2.5), *h(1.0, 1.0)], "cannot tell", "cannot tell"),
        ([*b(1.0, 1.0), *h(2.0)], "cannot tell", "not met"),
        ([*b(9.0, 9.0, 9.0), FELL], "not met", "not met"),
        ([FELL], "not met", "not met"),
        ([*h(1.0), FELL], "not met", "not met"),
        (h(2.0, 2.0, 2.0), "met", "met"),
        (h(3.0), "too few", "too few"),
    ],
)  # fmt: skip
def test_the_rule_is_what_the_readings_say_as_they_stand(readings, of_mean, of_each):
    assert rule_of(readings, Limit("a", "soaked", "mean", 2.0, 3)) == of_mean
    assert rule_of(readings, Limit("a", "soaked", "each", 2.0, 3)) == of_each


@pytest.mark.parametrize(("readings", "rule"), [([], "no readings"), (h(1.9), None), (b(0.5), None), ([FELL], None)])
def test_no_count_settles_a_characteristic_value(readings, rule):
    assert rule_of(readings, Limit("a", "soaked", "characteristic", 2.0, 3)) == rule


# "no readings" is left out: it says that no block was crushed, not how well the rule is kept.
GOODNESS = {"not met": 0, "cannot tell": 1, "too few": 2, "met": 3}


@pytest.mark.parametrize("statistic", ["mean", "each"])
def test_a_rule_never_worsens_when_a_reading_rises(statistic):
    limit = Limit("a", "soaked", statistic, 2.0, 3)
    ladder = [FELL, *b(1.0, 1.9), *b(2.0, 2.1, 4.0)]
    for low, high in itertools.combinations(ladder, 2):
        for others in itertools.product([*b(1.5, 2.5), *h(1.2, 2.6)], repeat=2):
            before, after = rule_of([low, *others], limit), rule_of([high, *others], limit)
            assert GOODNESS[after] >= GOODNESS[before], (low, high, others)


@pytest.mark.parametrize("statistic", ["mean", "each"])
def test_a_rule_never_worsens_when_a_broken_block_had_held(statistic):
    limit = Limit("a", "soaked", statistic, 2.0, 3)
    for stress, *others in itertools.product([0.5, 1.9, 2.0, 3.0], [*b(1.5, 2.5), *h(2.6)], [*b(1.5, 2.5), *h(1.2)]):
        before = rule_of([*b(stress), *others], limit)
        after = rule_of([*h(stress), *others], limit)
        assert GOODNESS[after] >= GOODNESS[before], (stress, others)


def answers(*rules):
    return [LimitAnswer("A", str(n), 5, 5, rule, 0.5) for n, rule in enumerate(rules)]


@pytest.mark.parametrize(
    ("rules", "assurance", "verdict"),
    [
        (("met", "too few", None), 0.95, "will do"),
        (("met",), 0.9499, "not settled"),
        (("cannot tell",), 0.99, "not settled"),
        (("not met",), 0.99, "will not do"),
        (("met",), 0.05, "will not do"),
        (("met",), 0.0501, "not settled"),
        (("no readings",), None, "not settled"),
        (("no readings", "not met"), None, "will not do"),
        ((), None, "not settled"),
    ],
)
def test_the_verdict_follows_from_rules_and_assurance(rules, assurance, verdict):
    assert verdict_of(answers(*rules), assurance=assurance, wanted=0.95) == verdict


def test_recipes_are_told_by_verdict_then_cost_or_assurance_then_name():
    def row(recipe, verdict, assurance, cost):
        return OrderAnswer(recipe, verdict, assurance, None, None if cost is None else Decimal(cost))

    told = [
        row("dear", "will do", 0.99, "0.41"),
        row("alike a", "will do", 0.96, "0.410"),
        row("costless", "will do", 0.99, None),
        row("doubtful", "not settled", 0.6, "0.10"),
        row("unknown", "not settled", None, "0.10"),
        row("worse", "not settled", 0.4, "0.10"),
        row("hopeless", "will not do", 0.01, "0.10"),
        row("fallen", "will not do", 0.0, None),
        row("cheap", "will do", 0.95, "0.36"),
    ]
    assert [row.recipe for row in sorted_order(told)] == [
        "cheap", "alike a", "dear", "costless", "doubtful", "worse", "unknown", "hopeless", "fallen",
    ]  # fmt: skip
    assert sorted_order(told) == sorted_order(told[::-1])
