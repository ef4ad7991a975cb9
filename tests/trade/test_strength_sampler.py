"""The strength engine against a sampler that knows only the model: emcee with its default move."""

import math
import os

import emcee
import numpy as np
import pytest
from scipy import stats

from tests.trade.strength_jobs import answer_to, drawn_job

LONG = os.environ.get("LOAMBOOK_LONG") == "1"
SEEDS = range(50, 55) if LONG else range(50, 51)
STEPS = 24_000 if LONG else 6_000
WALKERS, BLOCKS = 48, 10


class Model:
    """The log posterior of one job with one condition, written from the model's statement alone.

    A walker is ln tau, ln sigma, theta and one m for each recipe.
    """

    def __init__(self, job):
        self.recipes = [group["recipe"] for group in job["groups"]]
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
        means = [middle[self.owner == i].mean() for i in range(len(self.recipes))]
        at = np.concatenate([[math.log(0.3), math.log(0.15), np.mean(means)], means])
        return at + 0.05 * chance.normal(size=(WALKERS, len(at)))

    def __call__(self, at):
        log_tau, log_sigma, theta, m = at[:, 0], at[:, 1], at[:, 2], at[:, 3:]
        prior = stats.norm.logpdf(theta, math.log(3), 1) + stats.norm.logpdf(log_sigma, math.log(0.15), 0.5)
        prior = prior + stats.norm.logpdf(log_tau, math.log(0.30), 0.5)
        prior = prior + stats.norm.logpdf(m, theta[:, None], np.exp(log_tau)[:, None]).sum(axis=1)
        sigma, mean = np.exp(log_sigma)[:, None], m[:, self.owner]
        below, above = stats.norm.cdf((self.low - mean) / sigma), stats.norm.sf((self.high - mean) / sigma)
        with np.errstate(divide="ignore"):
            return prior + np.log(np.maximum(1 - below - above, 0)).sum(axis=1)


def sampled(job, seed):
    """Return draws as (step, walker) of sigma and of mu for every recipe."""
    chance = np.random.default_rng(seed)
    model = Model(job)
    sampler = emcee.EnsembleSampler(WALKERS, 3 + len(model.recipes), model, vectorize=True)
    sampler.random_state = np.random.RandomState(seed).get_state()
    sampler.run_mcmc(model.start(chance), STEPS)
    chain = sampler.get_chain(discard=STEPS // 5)
    kappa = job["scale_uncertainty"] * chance.normal(size=chain.shape[:2])
    mu = {}
    for i, recipe in enumerate(model.recipes):
        mu[recipe] = chain[:, :, 3 + i] - kappa - 0.05 * chance.normal(size=chain.shape[:2])
    return np.exp(chain[:, :, 1]), mu, chance.normal(size=chain.shape[:2])


def agrees(engine, draws, figure):
    """Return whether a figure of all draws equals the engine's within the noise seen between blocks of steps.

    Blocks are few, so their noise is itself uncertain: 5 standard errors, and the promised tolerance.
    """
    blocks = [figure(block.ravel()) for block in np.array_split(draws, BLOCKS)]
    noise = np.std(blocks, ddof=1) / math.sqrt(BLOCKS)
    return abs(figure(draws.ravel()) - engine) <= 5 * noise + 0.005 * max(1, abs(engine))


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
    return [agrees(value, told[key][0], at(told[key][1])) for key, value in given.items() if value is not None]


def pair_checks(pair, mu):
    gap = mu[pair.a] - mu[pair.b]
    yield agrees(pair.ratio, np.exp(gap), at(0.5))
    yield agrees(pair.p_more, gap, lambda values: np.mean(values > math.log(1.1)))
    yield agrees(pair.p_less, gap, lambda values: np.mean(values < -math.log(1.1)))


def order_checks(order, limits, mu, sigma):
    mean_limit, each_limit = (math.log(limit["limit_mpa"]) for limit in limits)
    left = np.ones_like(sigma)
    for place in sorted(order, key=lambda row: row.cost):
        own = mu[place.recipe]
        joint = (own + sigma**2 / 2 >= mean_limit) * stats.norm.cdf((own - each_limit) / sigma) ** 3
        yield agrees(place.assurance, joint, np.mean)
        yield agrees(place.p_cheapest, left * joint, np.mean)
        left = left * (1 - joint)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_engine_agrees_with_emcee(seed):
    job = drawn_job(seed, recipes=3, conditions=1, blocks=4)
    answer = answer_to(job)
    sigma, mu, error = sampled(job, seed)
    scatter = answer.scatter[0]
    checks = [
        agrees(getattr(scatter, key), sigma, at(q)) for key, q in (("low", 0.05), ("median", 0.5), ("high", 0.95))
    ]
    for group in answer.groups:
        checks += group_checks(group, mu[group.recipe], sigma, error)
    for pair in (pair for pair in answer.pairs if pair.ratio is not None):
        checks += pair_checks(pair, mu)
    if answer.order[0].p_cheapest is not None:
        checks += order_checks(answer.order, job["limits"], mu, sigma)
    assert len(checks) > 20 and all(checks)
