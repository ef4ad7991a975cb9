"""A reading that strays is pointed out by its siblings."""

import numpy as np
import pytest
from scipy import stats

from service.trade.strength.odd_readings import straying


def brute_tail(one, siblings, scatter=0.15, log_sd=0.5):
    """The same tail by a dense grid over the mean and the scatter, from scipy's own distributions."""
    centre = np.mean(siblings)
    mean, sigma = np.meshgrid(np.linspace(centre - 4, centre + 4, 8001), np.geomspace(0.005, 5, 400))
    # The grid is even in the log of the scatter, so its density there is that of a normal.
    weight = stats.norm.logpdf(np.log(sigma), np.log(scatter), log_sd)
    weight += sum(stats.norm.logpdf(sibling, mean, sigma) for sibling in siblings)
    weight = np.exp(weight - weight.max())
    away = abs(one - centre)
    outside = stats.norm.sf(centre + away, mean, sigma) + stats.norm.cdf(centre - away, mean, sigma)
    return float((weight * outside).sum() / weight.sum())


@pytest.mark.parametrize("strengths", [[4.0, 4.2, 3.8, 2.2], [2.0, 2.1, 3.6], [5.0, 4.0, 6.0, 4.5, 1.9]])
def test_the_tail_agrees_with_a_dense_grid_over_mean_and_scatter(strengths):
    logs = np.log(strengths)
    tails = {stray.place: stray.tail for stray in straying(strengths)}
    for place in range(len(strengths)):
        expected = brute_tail(logs[place], np.delete(logs, place))
        if expected < 0.0095:
            assert tails[place] == pytest.approx(expected, rel=0.02)
        elif expected > 0.0105:
            assert place not in tails


def test_a_block_of_half_strength_strays_and_an_even_group_does_not():
    assert [stray.place for stray in straying([4.1, 4.0, 3.9, 4.05, 2.0])] == [4]
    assert straying([4.1, 4.0, 3.9, 4.05, 4.5]) == ()


def test_a_held_block_never_strays_but_a_weak_one_among_held_does():
    held = [True, True, True, True, False]
    assert [stray.place for stray in straying([10.6, 10.6, 10.6, 10.6, 4.0], held=held)] == [4]
    assert straying([4.0, 4.1, 4.0, 3.9, 10.6], held=[False, False, False, False, True]) == ()


def test_two_readings_have_no_sibling_to_judge_by():
    assert straying([4.0, 0.4]) == ()
    assert straying([]) == ()
