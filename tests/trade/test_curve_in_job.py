"""The curve of a job's recipes against linear regression in closed form, where every spread is as good as known."""

import math

import numpy as np
import pytest
from scipy.stats import norm

from service.trade.strength.censored_readings import broke
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Composition, Group, Settings
from service.trade.strength.prior import Prior

SIGMA = 0.15
KNOWN = Prior(scatter_log_sd=1e-3, spread_log_sd=1e-3, off_curve_log_sd=1e-3, uneven=1e-3, uneven_log_sd=1e-3)
SETTINGS = Settings(prior=KNOWN, batch_sd=0.0)
STRESSES = {"A": (1.8, 2.1, 2.2), "B": (3.1, 2.8), "C": (4.0, 4.4, 3.9, 4.6), "N": (1.1, 1.3)}


def groups(compositions):
    return [
        Group(name, "dry", tuple(broke(stress_mpa=s) for s in own), composition=compositions.get(name))
        for name, own in STRESSES.items()
    ]


def regression(columns, tau):
    """Return mean and sd of every recipe's ln strength: prior covariance, readings and noise as docs/model.md has it.

    ``columns``: value of each slope by recipe, with the middle and sd of its prior.
    """
    many = len(STRESSES)
    mean = np.full(many, math.log(KNOWN.median_mpa))
    cov = KNOWN.log_sd**2 * np.ones((many, many)) + np.diag(np.array(tau) ** 2)
    for x, middle, sd in columns:
        mean, cov = mean + middle * np.array(x), cov + sd**2 * np.outer(x, x)
    read = np.array([np.mean(np.log(own)) for own in STRESSES.values()])
    noise = np.diag([SIGMA**2 / len(own) for own in STRESSES.values()])
    gain = np.linalg.solve(cov + noise, cov).T
    return mean + gain @ (read - mean), np.sqrt(np.diag(cov - gain @ cov))


def agrees(found, mean, sd):
    for number, one in enumerate(found.groups):
        assert one.median_mpa == pytest.approx(math.exp(mean[number]), rel=5e-3)
        assert one.low_mpa == pytest.approx(math.exp(mean[number] - 1.6449 * sd[number]), rel=1e-2)
        assert one.high_mpa == pytest.approx(math.exp(mean[number] + 1.6449 * sd[number]), rel=1e-2)


def test_a_recipe_outside_the_curve_differs_from_it_as_recipes_do():
    shares = {"A": 0.04, "B": 0.06, "C": 0.09}
    found = strength(groups({name: Composition(share) for name, share in shares.items()}), settings=SETTINGS)
    x = np.log(np.array([*shares.values()]) + 0.005)
    x = np.append(x - x.mean(), 0.0)
    agrees(found, *regression([(x, 1.1, 0.4), (x**2, -0.25, 0.25)], tau=[0.10, 0.10, 0.10, 0.30]))


def test_added_sand_bends_where_three_shares_of_it_stand():
    sands = {"A": 0.0, "B": 0.2, "C": 0.35, "N": 0.35}
    found = strength(groups({name: Composition(0.06, sand=sand) for name, sand in sands.items()}), settings=SETTINGS)
    x = np.array([*sands.values()]) - np.mean([*sands.values()])
    agrees(found, *regression([(x, 0.0, 1.0), (x**2, 0.0, 6.0)], tau=[0.10] * 4))


def test_where_all_on_the_curve_are_alike_there_is_none():
    given = {name: Composition(0.06) for name in "AB"}
    assert strength(groups(given), settings=SETTINGS) == strength(groups({}), settings=SETTINGS)


def test_a_curve_narrows_what_few_blocks_leave_open():
    shares = {"A": Composition(0.04), "B": Composition(0.06), "C": Composition(0.09)}
    along, apart = (strength(groups(given)).groups[1] for given in (shares, {}))
    assert along.high_mpa / along.low_mpa < 0.97 * apart.high_mpa / apart.low_mpa


def test_where_the_richer_recipe_is_the_weaker_the_slope_stays_above_nothing_and_the_job_is_answered():
    own = {"A": (8.4, 8.4, 5.6), "B": (6.9, 5.6, 6.4)}
    x = np.log(np.array([0.04, 0.12]) + 0.005)
    x = x - x.mean()
    given = [
        Group(name, "dry", tuple(broke(stress_mpa=s) for s in stresses), composition=Composition(share))
        for (name, stresses), share in zip(own.items(), (0.04, 0.12), strict=True)
    ]
    # Given the slope all is normal; a fine grid over slopes above 0 adds it up.
    slopes = np.linspace(1e-4, 3.0, 4000)
    cov = KNOWN.log_sd**2 * np.ones((2, 2)) + 0.10**2 * np.eye(2)
    noise = SIGMA**2 / 3 * np.eye(2)
    read = np.array([np.mean(np.log(one)) for one in own.values()])
    before = math.log(KNOWN.median_mpa) + slopes[:, None] * x
    gain = np.linalg.solve(cov + noise, cov).T
    off = read - before
    weight = np.exp(
        -((slopes - 1.1) ** 2) / (2 * 0.4**2) - np.einsum("si,ij,sj->s", off, np.linalg.inv(cov + noise), off) / 2
    )
    mean, sd = before + off @ gain.T, np.sqrt(np.diag(cov - gain @ cov))
    for number, one in enumerate(strength(given, settings=SETTINGS).groups):
        for mpa, share in ((one.low_mpa, 0.05), (one.median_mpa, 0.5), (one.high_mpa, 0.95)):
            below = np.sum(weight * norm.cdf((math.log(mpa) - mean[:, number]) / sd[number])) / weight.sum()
            assert below == pytest.approx(share, abs=0.01)
