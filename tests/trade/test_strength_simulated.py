"""Simulation-based calibration: jobs drawn from the model itself, true values at uniform ranks of the answer.

The short form draws 400 jobs, LOAMBOOK_LONG=1 draws 4,000. Seeds are the first ones tried.
"""

import math
import os
from dataclasses import dataclass

import numpy as np
import pytest
from scipy import stats

from service.trade.strength.censored_readings import broke, held
from service.trade.strength.engine.frame import first_frame, next_frame
from service.trade.strength.engine.grid import integrate
from service.trade.strength.engine.job import job_of
from service.trade.strength.engine.pairs import ratios
from service.trade.strength.engine.quantiles import sigma_quantiles, spread_of, strengths
from service.trade.strength.engine.survey import survey
from service.trade.strength.estimate import PASSES
from service.trade.strength.estimate_result import Group, Settings

LONG_JOBS, SHORT_JOBS = 4_000, 400
JOBS = LONG_JOBS if os.environ.get("LOAMBOOK_LONG") == "1" else SHORT_JOBS
SCALE, BATCH, PRESS_MPA, GRADUATION_MPA = 0.03, 0.05, 6.0, 0.1


@dataclass(frozen=True)
class Truth:
    """What is true of the first recipe, and its log ratio to the second."""

    sigma: float
    mu: float
    following: float
    ratio: float


def simulated(seed):
    """Return groups drawn from the prior, and the truth."""
    chance = np.random.default_rng([20260701, seed])
    tau, theta = math.exp(chance.normal(math.log(0.30), 0.5)), chance.normal(math.log(3), 1)
    sigma = math.exp(chance.normal(math.log(0.15), 0.5))
    recipes, kappa = int(chance.integers(2, 4)), SCALE * chance.normal()
    groups, mu = [], []
    for recipe in range(recipes):
        m = theta + tau * chance.normal()
        mu.append(m - kappa - BATCH * chance.normal())
        strengths_mpa = np.exp(m + sigma * chance.normal(size=int(chance.integers(1, 6))))
        groups.append(Group(str(recipe), "soaked", tuple(read(strength) for strength in strengths_mpa)))
    return groups, Truth(sigma, mu[0], mu[0] + sigma * chance.normal(), mu[0] - mu[1])


def read(strength_mpa):
    if strength_mpa > PRESS_MPA:
        return held(stress_mpa=PRESS_MPA)
    return broke(stress_mpa=round(strength_mpa / GRADUATION_MPA) * GRADUATION_MPA, graduation_mpa=GRADUATION_MPA)


def ranked(seed):
    """Return the rank of each true value in its posterior, and whether the 90 % intervals hold it."""
    groups, truth = simulated(seed)
    job = job_of(groups, (), {}, Settings(scale_uncertainty=SCALE, batch_sd=BATCH))
    seen = survey(job.evidence, job.prior)
    frame = first_frame(seen, job.evidence)
    frame = next_frame(integrate(job.evidence, job.prior, seen, frame, PASSES[0]), frame)
    plane = integrate(job.evidence, job.prior, seen, frame, PASSES[1]).planes[0]
    grid, sigma = plane.groups[0], np.exp(plane.log_sigma)
    error = np.full_like(sigma, math.hypot(SCALE, BATCH))

    def rank(value, shift, sd):
        return float(spread_of(grid, shift=shift, sd=sd).below(np.array([value - grid.anchor]))[0][0])

    still = np.zeros_like(sigma)
    weak = truth.mu - 1.6449 * truth.sigma
    step = plane.log_sigma[1] - plane.log_sigma[0]
    place = (math.log(truth.sigma) - plane.log_sigma[0]) / step + 0.5
    mass = np.concatenate([[0.0], np.cumsum(plane.sigma_weight)])
    ranks = {
        "sigma": float(np.interp(place, np.arange(len(mass)), mass)),
        "strength": rank(truth.mu, still, error),
        "characteristic": rank(weak, -1.6449 * sigma, error),
        "next block": rank(truth.following, still, np.hypot(error, sigma)),
    }
    _, low, high = sigma_quantiles(plane)
    told = strengths(grid, sigma=sigma, error_sd=float(error[0]))
    pair = ratios(plane, batch_sd=dict.fromkeys(plane.groups, BATCH), margin=0.1)[0, 1]
    inside = {
        "sigma": low <= truth.sigma <= high,
        "strength": told.low <= math.exp(truth.mu) <= told.high,
        "next block": told.next_low <= math.exp(truth.following) <= told.next_high,
        "ratio": pair.low <= math.exp(truth.ratio) <= pair.high,
        "characteristic": told.characteristic_low <= math.exp(weak),
    }
    return ranks, inside


@pytest.fixture(scope="module")
def trials():
    return [ranked(seed) for seed in range(JOBS)]


@pytest.mark.parametrize("quantity", ["sigma", "strength", "characteristic", "next block"])
def test_true_values_lie_at_uniform_ranks(trials, quantity):
    ranks = np.array([ranks[quantity] for ranks, _ in trials])
    counts, _ = np.histogram(ranks, bins=np.linspace(0, 1, 21))
    # The level of 5 % is divided by the four quantities looked at.
    assert stats.chisquare(counts).pvalue > 0.05 / 4


@pytest.mark.parametrize("quantity", ["sigma", "strength", "next block", "ratio"])
def test_the_90_percent_intervals_hold_nine_true_values_in_ten(trials, quantity):
    share = np.mean([inside[quantity] for _, inside in trials])
    assert abs(share - 0.90) <= 3.3 * math.sqrt(0.90 * 0.10 / JOBS)


def test_the_low_characteristic_value_is_reached_by_19_in_20(trials):
    share = np.mean([inside["characteristic"] for _, inside in trials])
    assert abs(share - 0.95) <= 3.3 * math.sqrt(0.95 * 0.05 / JOBS)
