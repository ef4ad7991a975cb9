"""Tomorrow's belief, simulated with the whole engine: on average it is today's, and it settles as often as was said.

Futures are drawn from what is believed today, blocks of a new mix and blocks of the same mix apart; each is given to
the engine as readings beside those of today. 80 futures, evenly spread over the belief: the mean of their assurances,
which scatter by 0.18 at most, is known to 0.02 and a share of them to 0.055; allowed are 0.03 and 0.12.
"""

import math

import numpy as np
import pytest

from service.trade.strength.censored_readings import broke
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Limit, Settings
from service.trade.strength.fit.job import job_of
from service.trade.strength.looking_ahead import beliefs_of
from service.trade.strength.more_blocks import believed, more_blocks

FUTURES, BLOCKS, MEAN, SHARE = 80, 5, 0.03, 0.12
TODAY = (2.0, 2.3, 2.1, 1.95, 2.25)
LIMIT = Limit("mean", "soaked", "mean", 1.95, 5)
SETTINGS = Settings(scale_uncertainty=0.02, assurance=0.9)


def group(stresses, mixes):
    return [Group("A", "soaked", tuple(broke(stress_mpa=s) for s in stresses), mixes=mixes)]


def tomorrows(mix, *, stronger=0.0):
    """Return the assurance of the whole engine in every future."""
    recipe = believed(job_of(group(TODAY, ("1",) * 5), [LIMIT], {}, SETTINGS), "A", "soaked")
    beliefs = beliefs_of(recipe if mix == "1" else recipe.of_a_new_mix())
    chance = np.random.default_rng(20261130)
    order = np.argsort(beliefs.level, kind="stable")
    at = np.searchsorted(np.cumsum(beliefs.weight[order]), (np.arange(FUTURES) + chance.random(FUTURES)) / FUTURES)
    found = []
    for cell in order[np.minimum(at, len(order) - 1)]:
        blocks = beliefs.level[cell] + stronger + beliefs.sigma[cell] * chance.standard_normal(BLOCKS)
        told = strength(
            group((*TODAY, *np.exp(blocks)), ("1",) * 5 + (mix,) * BLOCKS), limits=[LIMIT], settings=SETTINGS
        )
        found.append(told.limits[0].assurance)
    return np.array(found)


@pytest.fixture(scope="module")
def today():
    groups = group(TODAY, ("1",) * 5)
    said = strength(groups, limits=[LIMIT], settings=SETTINGS)
    (more,) = more_blocks(groups, said, limits=[LIMIT], settings=SETTINGS)
    return said.limits[0].assurance, more


@pytest.mark.parametrize("mix", ["1", "2"])
def test_the_expected_belief_of_tomorrow_is_that_of_today_and_it_settles_as_often_as_was_said(mix, today):
    assurance, more = today
    tomorrow = tomorrows(mix)
    (said,) = [one for one in (more.same_mix if mix == "1" else more.options) if one.blocks == BLOCKS]
    assert np.mean(tomorrow) == pytest.approx(assurance, abs=MEAN)
    settled = np.mean((tomorrow >= SETTINGS.assurance) | (tomorrow <= 1 - SETTINGS.assurance))
    assert settled == pytest.approx(said.settled, abs=SHARE)
    # Had the futures been 8 % stronger than is believed, it would show.
    if mix == "2":
        assert np.mean(tomorrows(mix, stronger=math.log(1.08))) > assurance + MEAN
