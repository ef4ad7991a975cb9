"""The strength engine where the answer is known in closed form, and where a censored fit was published."""

import json
import math
from pathlib import Path

import numpy as np
import pytest
from scipy import optimize, stats

from service.trade.strength.censored_readings import broke, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Limit, Settings
from service.trade.strength.prior import Prior
from tests.trade.likelihood import log_likelihood

LOGS = np.log([2.31, 2.62, 2.05, 2.44, 2.79])
# Nearly flat in mu and in ln sigma: the reference prior of a normal sample.
FLAT = Prior(median_mpa=2.5, log_sd=60.0, scatter=0.15, scatter_log_sd=12.0)
ALONE = Settings(batch_sd=0.0, prior=FLAT)


def group(logs, recipe="A", condition="soaked"):
    return Group(recipe, condition, tuple(broke(stress_mpa=math.exp(value)) for value in logs))


def test_one_group_under_the_reference_prior_has_the_intervals_of_student():
    # mu is t with n - 1, the next block t with sqrt(1 + 1/n) (Box and Tiao, Bayesian Inference, 2.4).
    n, mean, sd = len(LOGS), LOGS.mean(), LOGS.std(ddof=1)
    found = strength([group(LOGS)], settings=ALONE).groups[0]
    t = stats.t(n - 1).ppf(0.95)
    assert found.median_mpa == pytest.approx(math.exp(mean), rel=0.003)
    assert found.low_mpa == pytest.approx(math.exp(mean - t * sd / math.sqrt(n)), rel=0.003)
    assert found.high_mpa == pytest.approx(math.exp(mean + t * sd / math.sqrt(n)), rel=0.003)
    assert found.next_low_mpa == pytest.approx(math.exp(mean - t * sd * math.sqrt(1 + 1 / n)), rel=0.003)
    assert found.next_high_mpa == pytest.approx(math.exp(mean + t * sd * math.sqrt(1 + 1 / n)), rel=0.003)


def test_scatter_under_the_reference_prior_is_that_of_chi_square():
    n, sd = len(LOGS), LOGS.std(ddof=1)
    found = strength([group(LOGS)], settings=ALONE).scatter[0]
    for value, level in ((found.median, 0.5), (found.low, 0.95), (found.high, 0.05)):
        assert value == pytest.approx(sd * math.sqrt((n - 1) / stats.chi2(n - 1).ppf(level)), rel=0.004)


@pytest.mark.parametrize(
    ("n", "factor"), [(5, 4.203), (6, 3.7077), (10, 2.911)], ids=lambda v: f"handbook.json TF, ISO 16269-6: {v}"
)
def test_the_low_characteristic_value_under_the_reference_prior_is_the_tolerance_limit(n, factor):
    # The 5 % point of mu - 1.645 sigma is mean - k s with the one-sided factor for 95 % content and confidence.
    logs = LOGS.mean() + 0.12 * stats.zscore(np.linspace(-1.5, 1.5, n), ddof=1)
    found = strength([group(logs)], settings=ALONE).groups[0]
    assert found.characteristic_low_mpa == pytest.approx(math.exp(LOGS.mean() - factor * 0.12), rel=0.003)


@pytest.mark.parametrize("n", [20, 50])
def test_readings_that_are_all_alike_pull_the_scatter_down_as_their_number_says(n):
    # The likelihood of sigma, mu integrated out, is (sigma^2 + 0.001^2)^((1 - n) / 2), times the prior of ln sigma,
    # normal about ln 0.15 with a deviation of 0.5. Added up on a fine grid. Of the doubt about mu only the mix is left.
    answer = strength([Group("A", "dry", (broke(stress_mpa=2.0),) * n)])
    log_sigma = np.linspace(-25.0, 2.0, 200_001)
    log_density = (1 - n) / 2 * np.log(np.exp(2 * log_sigma) + 0.001**2) - 2 * (log_sigma - math.log(0.15)) ** 2
    mass = np.cumsum(np.exp(log_density - log_density.max()))
    found = answer.scatter[0]
    for value, share in ((found.low, 0.05), (found.median, 0.5), (found.high, 0.95)):
        assert math.log(value) == pytest.approx(log_sigma[np.searchsorted(mass, share * mass[-1])], abs=0.01)
    assert answer.groups[0].low_mpa == pytest.approx(2.0 * math.exp(-1.6449 * 0.05), rel=0.003)


def test_two_recipes_of_readings_that_are_all_alike_have_the_ratio_of_their_readings():
    groups = [Group(r, "dry", (broke(stress_mpa=stress),) * 40) for r, stress in (("A", 2.0), ("B", 3.0))]
    for batch_sd in (0.0, 0.05):
        pair = strength(groups, settings=Settings(batch_sd=batch_sd)).pairs[0]
        # The logs of two mixes differ with a deviation of sqrt(2) 0.05.
        reach = 1.6449 * math.sqrt(2) * batch_sd
        assert pair.ratio == pytest.approx(2 / 3, rel=0.004)
        assert math.log(pair.high / pair.low) == pytest.approx(2 * reach, abs=0.006)


def test_recipes_with_known_scatter_and_spread_are_shrunk_as_normal_theory_says():
    # Sigma and tau pinned by the prior: theta and all m are jointly normal, worked out here with matrices.
    sigma, tau, theta_sd, batch_sd, scale_sd = 0.2, 0.25, 0.8, 0.06, 0.03
    # Scatter alike in all recipes, as nearly as a prior can say it.
    pinned = Prior(3.0, theta_sd, sigma, 0.0005, tau, 0.0005, uneven=0.0005, uneven_log_sd=0.01)
    means, counts = {"A": math.log(2.0), "B": math.log(2.6), "C": math.log(4.5)}, {"A": 1, "B": 3, "C": 6}
    groups = [group([means[r]] * counts[r], recipe=r) for r in "ABC"]
    limit = Limit("mean", "soaked", "mean", 2.4, 5)
    settings = Settings(scale_uncertainty=scale_sd, batch_sd=batch_sd, prior=pinned)
    answer = strength(groups, limits=[limit], settings=settings)
    prior_cover = theta_sd**2 + tau**2 * np.eye(3)
    noise = np.diag([sigma**2 / counts[r] for r in "ABC"])
    gain = prior_cover @ np.linalg.inv(prior_cover + noise)
    mean = math.log(3.0) + gain @ (np.array([means[r] for r in "ABC"]) - math.log(3.0))
    cover = prior_cover - gain @ prior_cover
    z = stats.norm.ppf(0.95)
    for i, found in enumerate(answer.groups):
        sd = math.sqrt(cover[i, i] + batch_sd**2 + scale_sd**2)
        assert found.median_mpa == pytest.approx(math.exp(mean[i]), rel=0.003)
        assert found.low_mpa == pytest.approx(math.exp(mean[i] - z * sd), rel=0.003)
        assert found.characteristic_low_mpa == pytest.approx(math.exp(mean[i] - 1.6449 * sigma - z * sd), rel=0.003)
        assert found.next_high_mpa == pytest.approx(math.exp(mean[i] + z * math.hypot(sd, sigma)), rel=0.003)
        margin = mean[i] + sigma**2 / 2 - math.log(2.4)
        assert answer.limits[i].assurance == pytest.approx(stats.norm.cdf(margin / sd), abs=0.003)
    for pair, (i, j) in zip(answer.pairs, ((0, 1), (0, 2), (1, 2)), strict=True):
        sd = math.sqrt(cover[i, i] + cover[j, j] - 2 * cover[i, j] + 2 * batch_sd**2)
        assert pair.ratio == pytest.approx(math.exp(mean[i] - mean[j]), rel=0.003)
        assert pair.low == pytest.approx(math.exp(mean[i] - mean[j] - z * sd), rel=0.003)
        assert pair.p_less == pytest.approx(stats.norm.cdf((-math.log(1.1) - mean[i] + mean[j]) / sd), abs=0.003)


def test_a_single_floor_with_everything_else_known_is_a_truncated_sum():
    # One held block, sigma and tau pinned: m is normal times the chance to outlive the floor.
    sigma, tau, floor = 0.15, 0.3, math.log(4.0)
    pinned = Settings(batch_sd=0.0, prior=Prior(3.0, 0.5, sigma, 0.0005, tau, 0.0005))
    found = strength([Group("A", "dry", (held(stress_mpa=4.0),))], settings=pinned).groups[0]
    at = np.linspace(math.log(3.0) - 6, math.log(3.0) + 6, 200_001)
    weight = stats.norm.pdf(at, math.log(3.0), math.hypot(0.5, tau)) * stats.norm.sf((floor - at) / sigma)
    mass = np.cumsum(weight) / weight.sum()
    assert found.low_mpa == pytest.approx(math.exp(np.interp(0.05, mass, at)), rel=0.003)


CENSORED = json.loads((Path(__file__).parents[1] / "reference" / "censored.json").read_text())


@pytest.mark.parametrize("case", CENSORED, ids=lambda c: f"{c['file']} {c['id']}: {c['source']}, {c['standing']}")
def test_the_likelihood_has_its_top_at_the_published_estimate(case):
    # Under a flat prior the top of the log posterior is the maximum likelihood estimate.
    readings = [broke(stress_mpa=math.exp(value) if case["below"] else value) for value in case["broke"]]
    readings += [held(stress_mpa=value) for value in case["held"]]
    # A value known only to lie below an edge is a cell from nothing up to it; these are normal, so taken as logs.
    readings += [broke(stress_mpa=math.exp(edge) / 2, graduation_mpa=math.exp(edge)) for edge in case["below"]]

    def depth(at):
        return -float(log_likelihood(readings, mu=np.array([at[0]]), sigma=math.exp(at[1]))[0])

    start = [case["mu"] + 0.3, math.log(case["sigma"]) - 0.4]
    top = optimize.minimize(depth, start, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10}).x
    assert top[0] == pytest.approx(case["mu"], abs=case["tolerance"])
    assert math.exp(top[1]) == pytest.approx(case["sigma"], abs=case["tolerance"])


@pytest.mark.parametrize(("scatter", "log_sd", "assurance"), [(0.15, 0.5, 0.547), (0.08, 0.2, 0.602)])
def test_a_history_that_learned_too_well_gives_way_to_readings_far_from_it(scatter, log_sd, assurance):
    # By brute quadrature with the tail of docs/model.md; a normal prior of the second kind gives 0.989.
    blocks = tuple(broke(stress_mpa=value) for value in (2.0, 2.6, 3.3, 1.7, 3.9))
    limit = Limit("five percent", "soaked", "characteristic", 1.6, 5)
    settings = Settings(prior=Prior(scatter=scatter, scatter_log_sd=log_sd))
    found = strength([Group("A", "soaked", blocks)], limits=[limit], settings=settings)
    assert found.limits[0].assurance == pytest.approx(assurance, abs=0.005)
