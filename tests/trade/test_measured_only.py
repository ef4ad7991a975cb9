"""Nothing that was not measured stands first: ratios stop where measuring stopped, and a wrong expectation is named."""

import pytest

from service.trade.sentences.ratios import comparison
from service.trade.sentences.tried_recipes import Tally, Trial
from service.trade.strength.censored_readings import broke, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, PairAnswer, StrengthAnswer
from service.trade.strength.measured_pairs import as_measured
from service.trade.strength.prior import Prior
from service.trade.strength.prior_check import disagreements
from service.web.pages.calculator.pictures import charts
from service.words.sentences import say

# One block of A broke and two were held; of B all broke. These are the readings of the first finding of outside checks.
GROUPS = [
    Group("A", "dry", (broke(stress_mpa=8.76), held(stress_mpa=9.13), held(stress_mpa=9.13))),
    Group("B", "dry", tuple(broke(stress_mpa=value) for value in (4.0, 4.2, 3.9))),
]


def told(pairs: tuple[PairAnswer, ...], answer: StrengthAnswer) -> list[str]:
    tallies = (Tally("A", "dry", 9.13, lowest_mpa=8.76), Tally("B", "dry", None, lowest_mpa=3.9))
    trial = Trial("addition", (), (), (), StrengthAnswer((), answer.groups, (), pairs, ()), tallies)
    return [say(one, units="si", currency="USD") for one in comparison(trial, "A", "B")]


def test_a_ratio_to_a_middle_that_nobody_measured_is_a_bound():
    answer = strength(GROUPS)
    assert answer.groups[0].median_mpa > 9.13
    (pair,) = as_measured(answer.pairs, {("A", "dry")})
    assert (pair.ratio, pair.high, pair.p_more) == (None, None, None)
    assert pair.low == answer.pairs[0].low > 1.5
    first, second = told((pair,), answer)
    assert first.startswith("It is 95 % likely that A is at least") and "9.13" in second
    assert first.endswith(" than B dry. Some blocks of A did not break, so A may be stronger still.")


def test_a_pair_of_which_both_middles_were_measured_stays():
    answer = strength(GROUPS)
    assert as_measured(answer.pairs, set()) == answer.pairs


def test_a_bar_of_the_calculator_begins_and_ends_where_measuring_did():
    readings = [{"held_mpa": 6.0}] * 3
    given = {
        "groups": [
            {"recipe": "A", "condition": "dry", "readings": readings},
            {"recipe": "B", "condition": "dry", "readings": [*readings[1:], {"broke_mpa": 5.5}]},
        ]
    }
    answer = {
        "groups": [
            {"low_mpa": 6.61, "median_mpa": None, "high_mpa": None},
            {"low_mpa": 5.31, "median_mpa": 6.82, "high_mpa": 9.43},
        ]
    }
    (svg,) = charts(("readings",), given, answer)
    assert "5.31 MPa" in svg
    assert not [figure for figure in ("6.61", "6.82", "9.43") if f"{figure} MPa" in svg]


@pytest.mark.parametrize(("prior", "said"), [(Prior(), 0), (Prior(scatter=0.08, scatter_log_sd=0.2), 1)])
def test_blocks_that_scatter_otherwise_than_expected_are_named(prior, said):
    # sd of the logs 0.34; a history of 0.08 +- 20 % is seven of its units away, the published 0.15 +- 50 % within two.
    blocks = tuple(broke(stress_mpa=value) for value in (2.0, 2.6, 3.3, 1.7, 3.9))
    assert len(disagreements([Group("A", "soaked", blocks)], prior)) == said
