"""Whether the engine is as sure as it says: jobs drawn from the model itself, and from worlds it does not know.

The short form draws 32 jobs of the model's own world; `python -m tests.calibrate` draws thousands of every world and
writes the table of docs/calibration. Seeds are the first ones tried.
"""

import math
from dataclasses import dataclass

import numpy as np
import pytest

from service.trade.strength.censored_readings import broke, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Settings

SHORT_JOBS = 32
SCALE, PRESS_MPA, GRADUATION_MPA = 0.03, 6.0, 0.1
WORLDS = ("its own", "mixes differ by 0.10", "scatter by recipe twice as uneven", "one block in fifteen weak")
QUANTITIES = ("scatter", "strength", "next block of a new mix", "ratio")


@dataclass(frozen=True)
class Truth:
    """What is true of the first recipe in the first condition, and its log ratio to the second."""

    scatter: float
    strength: float
    following: float
    ratio: float


def simulated(seed, world):
    """Return groups drawn from the priors, each recipe mixed once or twice, and the truth."""
    chance = np.random.default_rng([20260701, WORLDS.index(world), seed])

    def log_normal(middle, sd):
        return math.exp(chance.normal(math.log(middle), sd))

    recipes, conditions, mixes = int(chance.integers(2, 4)), int(chance.integers(1, 3)), int(chance.integers(1, 3))
    tau, eta = log_normal(0.30, 0.5), log_normal(0.12, 0.5) if conditions > 1 else 0.0
    omega, beta = log_normal(0.25, 0.5), log_normal(0.06, 0.6)
    beta = 0.10 if world == "mixes differ by 0.10" else beta
    omega = 0.5 if world == "scatter by recipe twice as uneven" else omega
    theta, sigma = chance.normal(math.log(3), 1, conditions), [log_normal(0.15, 0.5) for _ in range(conditions)]
    kappa = SCALE * chance.normal()
    level = theta[:, None] + tau * chance.normal(size=recipes) + eta * chance.normal(size=(conditions, recipes))
    own = np.exp(omega * chance.normal(size=recipes))
    off = beta * chance.normal(size=(recipes, mixes))
    groups = []
    for c in range(conditions):
        for r in range(recipes):
            readings, named = [], []
            for b in range(mixes):
                for _ in range(int(chance.integers(1, 4))):
                    log_mpa = level[c, r] + off[r, b] + sigma[c] * own[r] * chance.normal()
                    weak = world == "one block in fifteen weak" and chance.random() < 1 / 15
                    readings.append(read(math.exp(log_mpa) * (0.5 if weak else 1.0)))
                    named.append(f"m{b}")
            groups.append(Group(f"r{r}", f"c{c}", tuple(readings), mixes=tuple(named)))
    mu = level[0] - kappa
    following = mu[0] + beta * chance.normal() + sigma[0] * own[0] * chance.normal()
    return groups, Truth(sigma[0], mu[0], following, mu[0] - mu[1])


def read(strength_mpa):
    if strength_mpa > PRESS_MPA:
        return held(stress_mpa=PRESS_MPA)
    return broke(stress_mpa=round(strength_mpa / GRADUATION_MPA) * GRADUATION_MPA, graduation_mpa=GRADUATION_MPA)


def inside(seed, world):
    """Return by quantity whether its 90 % interval holds the truth; where nothing is said, nothing is counted."""
    groups, truth = simulated(seed, world)
    told = strength(groups, settings=Settings(scale_uncertainty=SCALE))
    group, scatter, pair = told.groups[0], told.scatter[0], told.pairs[0]
    found = {"scatter": scatter.low <= truth.scatter <= scatter.high}
    if group.median_mpa is not None:
        found["strength"] = group.low_mpa <= math.exp(truth.strength) <= group.high_mpa
        found["next block of a new mix"] = group.next_low_mpa <= math.exp(truth.following) <= group.next_high_mpa
    if pair.ratio is not None:
        found["ratio"] = pair.low <= math.exp(truth.ratio) <= pair.high
    return found


def test_in_its_own_world_the_90_percent_intervals_hold_nine_true_values_in_ten():
    trials = [inside(seed, WORLDS[0]) for seed in range(SHORT_JOBS)]
    for quantity in QUANTITIES:
        seen = [trial[quantity] for trial in trials if quantity in trial]
        assert abs(np.mean(seen) - 0.90) <= 3.3 * math.sqrt(0.90 * 0.10 / len(seen)), quantity


@pytest.mark.parametrize("world", WORLDS)
def test_every_world_can_be_drawn_and_is_answered(world):
    assert inside(0, world)
