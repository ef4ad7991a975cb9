"""The strength engine against a sampler that knows only the model: emcee with its default move."""

import math
import os
from dataclasses import dataclass

import emcee
import numpy as np
import pytest
from scipy import stats

from tests.trade.strength_jobs import answer_to, drawn_job

LONG = os.environ.get("LOAMBOOK_LONG") == "1"
LONG_SEEDS, LONG_STEPS = range(50, 55), 24_000
SEEDS = LONG_SEEDS if LONG else LONG_SEEDS[:1]
STEPS = LONG_STEPS if LONG else 6_000
WALKERS, BLOCKS = 48, 10


class Model:
    """The log posterior of one job, written from the model's statement alone.

    A walker is ln tau, ln sigma of each condition, theta of each condition and one m for each group.
    """

    def __init__(self, job):
        self.groups = [(group["recipe"], group["condition"]) for group in job["groups"]]
        self.conditions = list(dict.fromkeys(condition for _, condition in self.groups))
        self.of_group = np.array([self.conditions.index(condition) for _, condition in self.groups])
        rows = [(i, r) for i, group in enumerate(job["groups"]) for r in group["readings"]]
        self.owner = np.array([i for i, _ in rows])
        half = [r.get("graduation_mpa", 0) / 2 for _, r in rows]
        self.low = np.log([r.get("held_mpa", r.get("broke_mpa", 0)) - h for (_, r), h in zip(rows, half, strict=True)])
        self.high = np.array(
            [
                math.inf if "held_mpa" in r else math.log(r["broke_mpa"] + h)
                for (_, r), h in zip(rows, half, strict=True)
            ]
        )

    def start(self, chance):
        middle = np.where(np.isfinite(self.high), (self.low + self.high) / 2, self.low)
        means = np.array([middle[self.owner == i].mean() for i in range(len(self.groups))])
        thetas = [means[self.of_group == c].mean() for c in range(len(self.conditions))]
        at = np.concatenate([[math.log(0.3)], np.full(len(thetas), math.log(0.15)), thetas, means])
        return at + 0.05 * chance.normal(size=(WALKERS, len(at)))

    def __call__(self, at):
        many = len(self.conditions)
        log_tau, log_sigma, theta, m = (
            at[:, 0],
            at[:, 1 : 1 + many],
            at[:, 1 + many : 1 + 2 * many],
            at[:, 1 + 2 * many :],
        )
        prior = stats.norm.logpdf(theta, math.log(3), 1) + stats.norm.logpdf(log_sigma, math.log(0.15), 0.5)
        prior = prior.sum(axis=1) + stats.norm.logpdf(log_tau, math.log(0.30), 0.5)
        prior = prior + stats.norm.logpdf(m, theta[:, self.of_group], np.exp(log_tau)[:, None]).sum(axis=1)
        sigma, mean = np.exp(log_sigma)[:, self.of_group][:, self.owner], m[:, self.owner]
        below, above = stats.norm.cdf((self.low - mean) / sigma), stats.norm.sf((self.high - mean) / sigma)
        with np.errstate(divide="ignore"):
            return prior + np.log(np.maximum(1 - below - above, 0)).sum(axis=1)


def sampled(job, seed, steps=STEPS):
    """Return draws as (step, walker) of sigma by condition, of mu by recipe and condition, and of a standard normal."""
    chance = np.random.default_rng(seed)
    model = Model(job)
    sampler = emcee.EnsembleSampler(WALKERS, 1 + 2 * len(model.conditions) + len(model.groups), model, vectorize=True)
    sampler.random_state = np.random.RandomState(seed).get_state()
    sampler.run_mcmc(model.start(chance), steps)
    chain = sampler.get_chain(discard=steps // 5)
    kappa = job["scale_uncertainty"] * chance.normal(size=chain.shape[:2])
    delta = {recipe: 0.05 * chance.normal(size=chain.shape[:2]) for recipe in dict.fromkeys(r for r, _ in model.groups)}
    first = 1 + 2 * len(model.conditions)
    mu = {key: chain[:, :, first + i] - kappa - delta[key[0]] for i, key in enumerate(model.groups)}
    sigma = {condition: np.exp(chain[:, :, 1 + i]) for i, condition in enumerate(model.conditions)}
    return sigma, mu, chance.normal(size=chain.shape[:2])


@dataclass(frozen=True)
class Compared:
    """How far a figure of all draws is from the engine's, the noise seen between blocks of steps, and the tolerance."""

    off: float
    noise: float
    tolerance: float

    @property
    def agrees(self):
        """Whether noise and tolerance explain it: blocks are few and their noise uncertain, hence 5 standard errors."""
        return self.off <= 5 * self.noise + self.tolerance


def compared(engine, draws, figure):
    """Return how a figure of all draws compares with the engine's."""
    blocks = [figure(block.ravel()) for block in np.array_split(draws, BLOCKS)]
    noise = np.std(blocks, ddof=1) / math.sqrt(BLOCKS)
    return Compared(abs(figure(draws.ravel()) - engine), noise, 0.005 * max(1, abs(engine)))


def at(level):
    return lambda values: np.quantile(values, level)


def group_checks(group, mu, sigma, error):
    told = {
        "low_mpa": (np.exp(mu), 0.05), "median_mpa": (np.exp(mu), 0.5), "high_mpa": (np.exp(mu), 0.95),
        "characteristic_low_mpa": (np.exp(mu - 1.6449 * sigma), 0.05),
        "characteristic_mpa": (np.exp(mu - 1.6449 * sigma), 0.5),
        "next_low_mpa": (np.exp(mu + sigma * error), 0.05), "next_high_mpa": (np.exp(mu + sigma * error), 0.95),
    }  # fmt: skip
    given = {key: getattr(group, key) for key in told}
    return [compared(value, told[key][0], at(told[key][1])) for key, value in given.items() if value is not None]


def pair_checks(pair, mu):
    gap = mu[pair.a] - mu[pair.b]
    yield compared(pair.ratio, np.exp(gap), at(0.5))
    yield compared(pair.p_more, gap, lambda values: np.mean(values > math.log(1.1)))
    yield compared(pair.p_less, gap, lambda values: np.mean(values < -math.log(1.1)))


def order_checks(order, limits, mu, sigma):
    mean_limit, each_limit = (math.log(limit["limit_mpa"]) for limit in limits)
    left = np.ones_like(sigma)
    for place in sorted(order, key=lambda row: row.cost):
        own = mu[place.recipe]
        joint = (own + sigma**2 / 2 >= mean_limit) * stats.norm.cdf((own - each_limit) / sigma) ** 3
        yield compared(place.assurance, joint, np.mean)
        yield compared(place.p_cheapest, left * joint, np.mean)
        left = left * (1 - joint)


def comparisons(seed, steps=STEPS):
    """Return every figure that the engine gives of a drawn job, compared with the sampler's."""
    job = drawn_job(seed, recipes=3, conditions=1, blocks=4)
    answer = answer_to(job)
    by_condition, by_group, error = sampled(job, seed, steps)
    (sigma,) = by_condition.values()
    mu = {recipe: values for (recipe, _), values in by_group.items()}
    scatter = answer.scatter[0]
    checks = [
        compared(getattr(scatter, key), sigma, at(q)) for key, q in (("low", 0.05), ("median", 0.5), ("high", 0.95))
    ]
    for group in answer.groups:
        checks += group_checks(group, mu[group.recipe], sigma, error)
    for pair in (pair for pair in answer.pairs if pair.ratio is not None):
        checks += pair_checks(pair, mu)
    if answer.order[0].p_cheapest is not None:
        checks += order_checks(answer.order, job["limits"], mu, sigma)
    return checks


@pytest.mark.parametrize("seed", SEEDS)
def test_the_engine_agrees_with_emcee(seed):
    checks = comparisons(seed)
    assert len(checks) > 20 and all(one.agrees for one in checks)
