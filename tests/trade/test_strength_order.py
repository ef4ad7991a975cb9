"""What may not depend on the order of input, and what may only rise when a reading rises."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.trade.strength.censored_readings import broke, held
from tests.trade.likelihood import log_likelihood
from tests.trade.strength_jobs import answer_to, drawn_job


def shuffled(job, seed):
    chance = np.random.default_rng(seed)

    def mixed(rows):
        return [rows[i] for i in chance.permutation(len(rows))]

    groups = [group | {"readings": mixed(group["readings"])} for group in mixed(job["groups"])]
    return job | {"groups": groups, "limits": mixed(job["limits"]), "costs": dict(mixed(list(job["costs"].items())))}


@pytest.mark.parametrize("seed", range(3))
def test_the_order_of_input_never_matters(seed):
    job = drawn_job(20 + seed, recipes=3, conditions=2, blocks=4)
    told, mixed = answer_to(job).as_dict(), answer_to(shuffled(job, seed)).as_dict()
    for part, names in (
        ("scatter", ["condition"]),
        ("groups", ["recipe", "condition"]),
        ("limits", ["recipe", "name"]),
    ):
        by_name = {tuple(row[name] for name in names): row for row in told[part]}
        assert {tuple(row[name] for name in names): row for row in mixed[part]} == by_name
    assert mixed["order"] == told["order"]


@pytest.mark.parametrize("seed", range(3))
def test_a_pair_turned_round_is_the_same_pair(seed):
    job = drawn_job(30 + seed, recipes=3, conditions=1, blocks=4)
    told = {(pair.a, pair.b): pair for pair in answer_to(job).pairs}
    for pair in answer_to(job | {"groups": job["groups"][::-1]}).pairs:
        other = told[pair.b, pair.a]
        assert pair.p_same == other.p_same and (pair.p_more, pair.p_less) == (other.p_less, other.p_more)
        if pair.ratio is not None:
            assert pair.ratio == pytest.approx(1 / other.ratio, rel=1e-14)


def test_rows_come_in_the_order_in_which_names_first_stand():
    job = drawn_job(40, recipes=3, conditions=2, blocks=2)
    told = answer_to(job | {"groups": job["groups"][::-1]})
    assert [row.condition for row in told.scatter] == ["c1", "c0"]
    assert [(row.condition, row.recipe) for row in told.groups][:2] == [("c1", "r2"), ("c1", "r1")]
    assert [(row.a, row.b) for row in told.pairs][:3] == [("r2", "r1"), ("r2", "r0"), ("r1", "r0")]
    assert [row.recipe for row in told.limits] == ["r2", "r2", "r1", "r1", "r0", "r0"]


def posterior_of_mu(readings, sigma, tau, theta, at):
    """Return the distribution function of mu over ``at`` with sigma, tau and theta fixed."""
    log_weight = log_likelihood(readings, mu=at, sigma=sigma) - ((at - theta) / tau) ** 2 / 2
    weight = np.exp(log_weight - log_weight.max())
    return np.cumsum(weight) / weight.sum()


STRESS = st.floats(0.5, 20.0)


@settings(max_examples=60, deadline=None)
@given(
    others=st.lists(st.tuples(STRESS, st.sampled_from(["broke", "held", "coarse"])), max_size=4),
    lower=STRESS,
    rise=st.floats(1.0, 3.0),
    kind=st.sampled_from(["broke", "held", "coarse", "broke then held"]),
    sigma=st.floats(0.03, 0.6),
    tau=st.floats(0.05, 1.0),
    theta=st.floats(math.log(0.5), math.log(20.0)),
)
def test_with_the_rest_fixed_a_reading_that_rises_never_lowers_mu(others, lower, rise, kind, sigma, tau, theta):
    make = {
        "broke": lambda stress: broke(stress_mpa=stress),
        "coarse": lambda stress: broke(stress_mpa=stress, graduation_mpa=0.4),
        "held": lambda stress: held(stress_mpa=stress),
    }
    rest = [make[how](stress) for stress, how in others]
    first, second = ("broke", "held") if kind == "broke then held" else (kind, kind)
    at = np.linspace(math.log(0.1), math.log(100.0), 4001)
    before = posterior_of_mu([*rest, make[first](lower)], sigma, tau, theta, at)
    after = posterior_of_mu([*rest, make[second](lower * (1 if first != second else rise))], sigma, tau, theta, at)
    assert np.all(after <= before + 1e-9)
