"""Looking ahead at two recipes against the closed form of two normal means."""

import math
from statistics import NormalDist

import numpy as np
import pytest

from service.trade.strength.censored_readings import broke, fell_apart, held
from service.trade.strength.detectable_difference import Drawn, drawn, look_ahead_at_both, more_of_both
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Settings
from service.trade.strength.fit.job import job_of

NORMAL = NormalDist()
SIGMA, MIX, WANTED, MARGIN = 0.15, 0.05, 0.95, 0.10


def believed(apart: float, sd: float) -> Drawn:
    """Two normal beliefs about the log strengths, each with this deviation, sigma known; mixes differ by the error."""
    chance = np.random.default_rng(5)
    a, b, mix_a, mix_b = (one * chance.standard_normal(4000) for one in (sd, sd, MIX, MIX))
    a, b = a - a.mean() + apart, b - b.mean()
    return Drawn(a - b, (a + mix_a, b + mix_b), (np.full(4000, SIGMA),) * 2)


@pytest.mark.parametrize("blocks", [3, 10])
@pytest.mark.parametrize("apart", [0.0, 0.15, -0.25])
def test_the_chance_to_settle_is_that_of_two_conjugate_normals(blocks, apart):
    sd = 0.10
    (found,) = look_ahead_at_both(believed(apart, sd), wanted=WANTED, margin=MARGIN, press_mpa=math.inf, tried=[blocks])
    # After n blocks of a new mix of each the difference has the variance 2 v, 1/v = 1/sd^2 + 1/(mix^2 + sigma^2/n), and
    # its mean is spread by 2 (sd^2 - v); it is shown above the margin where the mean is z95 deviations over it.
    left = 1 / (1 / sd**2 + 1 / (MIX**2 + SIGMA**2 / blocks))
    moves = math.sqrt(2 * (sd**2 - left))
    bar = math.log1p(MARGIN) + NORMAL.inv_cdf(WANTED) * math.sqrt(2 * left)
    # 200 futures, one from each equal share: 3 standard errors of a share are at most 0.1.
    assert found.a_stronger == pytest.approx(NORMAL.cdf((apart - bar) / moves), abs=0.08)
    assert found.b_stronger == pytest.approx(NORMAL.cdf((-apart - bar) / moves), abs=0.08)


def test_the_same_futures_are_looked_at_every_time():
    given = {"wanted": WANTED, "margin": MARGIN, "press_mpa": 3.0, "tried": [3, 5]}
    assert look_ahead_at_both(believed(0.1, 0.1), **given) == look_ahead_at_both(believed(0.1, 0.1), **given)


def test_a_press_that_stops_below_both_tells_less():
    free, stopped = (
        look_ahead_at_both(believed(0.25, 0.1), wanted=WANTED, margin=MARGIN, press_mpa=press, tried=[10])[0]
        for press in (math.inf, 0.6)
    )
    assert stopped.settled < free.settled


def recipe(label, *stresses, condition="soaked", others=()):
    return Group(label, condition, (*(broke(stress_mpa=one) for one in stresses), *others))


NEAR = [recipe("A", 2.0, 2.3, 2.1, 1.9, 2.2), recipe("B", 2.4, 2.6, 2.2, 2.5, 2.3)]


def test_what_is_drawn_of_two_recipes_has_the_ratio_of_the_engine():
    settings = Settings(batch_sd=0.0)
    both = drawn(job_of(NEAR, (), {}, settings), "soaked", "A", "B")
    pair = strength(NEAR, settings=settings).pairs[0]
    low, middle, high = np.exp(np.quantile(both.apart, (0.05, 0.5, 0.95)))
    assert middle == pytest.approx(pair.ratio, rel=0.01)
    assert (low, high) == (pytest.approx(pair.low, rel=0.02), pytest.approx(pair.high, rel=0.02))


def test_two_recipes_not_told_apart_are_looked_ahead_at_with_the_same_number_of_blocks_each():
    (one,) = more_of_both(NEAR, strength(NEAR), settings=Settings())
    assert ({one.pair.a, one.pair.b}, [option.blocks for option in one.options]) == ({"A", "B"}, [3, 5, 10, 20])
    assert all(0 <= option.settled <= 1 for option in one.options)
    assert "each of A and B, soaked" in one.phrase().english.format_map(one.phrase().values)


@pytest.mark.parametrize(
    "other",
    [
        recipe("B", 8.0, 8.3, 8.1, 7.9, 8.2),
        recipe("B", others=(held(stress_mpa=2.0),) * 5),
        recipe("B", 2.4, 2.6, others=(fell_apart(),)),
        recipe("B", 2.4, 2.6, condition="dry"),
    ],
    ids=["told apart already", "outlived the press", "one fell apart", "crushed otherwise"],
)
def test_nothing_is_looked_ahead_at_where_more_blocks_would_tell_nothing_new(other):
    groups = [NEAR[0], other]
    assert more_of_both(groups, strength(groups), settings=Settings()) == ()
