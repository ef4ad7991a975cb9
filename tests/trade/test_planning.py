"""Looking ahead against the closed form of a normal mean; telling apart against the usual number of blocks."""

import math
from statistics import NormalDist

import numpy as np
import pytest

from service.errors import Invalid
from service.trade.strength.censored_readings import broke, fell_apart, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Limit, Settings
from service.trade.strength.looking_ahead import Beliefs, Option, Recipe, beliefs_of, look_ahead
from service.trade.strength.more_blocks import More, least_ratio_told, more_blocks

NORMAL = NormalDist()
SIGMA, ERROR, WANTED = 0.15, 0.04, 0.95
LIMIT = Limit("mean", "soaked", "mean", 2.0, 5)


def believed(mean: float, sd: float) -> Beliefs:
    """A normal belief about mu, sigma known."""
    mu = np.linspace(mean - 5 * sd, mean + 5 * sd, 401)
    weight = np.exp(-(((mu - mean) / sd) ** 2) / 2)
    nothing = np.zeros(401)
    return Beliefs(weight / weight.sum(), mu, np.full(401, SIGMA), mu, nothing, nothing)


@pytest.mark.parametrize("blocks", [3, 10, 20])
@pytest.mark.parametrize("over", [0.10, 0.0, -0.10])
def test_the_chance_to_settle_is_that_of_the_conjugate_normal(blocks, over):
    sd = 0.10
    mean = math.log(LIMIT.limit_mpa) - SIGMA**2 / 2 + over
    (found,) = look_ahead(believed(mean, sd), LIMIT, error_sd=ERROR, wanted=WANTED, press_mpa=math.inf, tried=[blocks])
    # After n blocks mu has the variance v = 1 / (1/sd^2 + n/sigma^2), and its mean is spread by sd^2 - v.
    left = 1 / (1 / sd**2 + blocks / SIGMA**2)
    moves, bar = math.sqrt(sd**2 - left), NORMAL.inv_cdf(WANTED) * math.sqrt(left + ERROR**2)
    # 400 futures, one from each equal share of the belief: 3 standard errors of a share are at most 0.075.
    assert found.reached == pytest.approx(NORMAL.cdf((over - bar) / moves), abs=0.06)
    assert found.not_reached == pytest.approx(NORMAL.cdf((-over - bar) / moves), abs=0.06)
    # What is expected of the assurance is what it is.
    assert found.assurance == pytest.approx(NORMAL.cdf(over / math.hypot(sd, ERROR)), abs=0.03)


@pytest.mark.parametrize("blocks", [3, 20])
@pytest.mark.parametrize("over", [0.15, 0.0])
def test_a_new_mix_tells_what_the_conjugate_normal_says(blocks, over):
    # The mixes made lie off the recipe by 0.05, a new one by 0.05 too; blocks of it speak of the recipe through both.
    sd, lump, batch = 0.08, 0.05, 0.05
    mean = math.log(LIMIT.limit_mpa) - SIGMA**2 / 2 + over
    at = NormalDist(mean, math.hypot(sd, lump))
    parts = np.array([at.inv_cdf((number + 0.5) / 200) for number in range(200)])
    alike = {name: np.full(200, value) for name, value in {"weight": 1 / 200, "sigma": SIGMA, "mix_sd": batch}.items()}
    nothing = np.full(200, 1e-6)
    known = Recipe(**alike, mean=parts, variance=nothing, mix_mean=parts, mix_variance=nothing, together=nothing)
    given = {"wanted": WANTED, "press_mpa": math.inf, "tried": [blocks]}
    (found,) = look_ahead(beliefs_of(known.of_a_new_mix()), LIMIT, error_sd=ERROR, **given)
    before = sd**2 + lump**2
    left = 1 / (1 / before + 1 / (batch**2 + SIGMA**2 / blocks))
    moves, bar = math.sqrt(before - left), NORMAL.inv_cdf(WANTED) * math.sqrt(left + ERROR**2)
    assert found.reached == pytest.approx(NORMAL.cdf((over - bar) / moves), abs=0.07)
    assert found.assurance == pytest.approx(NORMAL.cdf(over / math.sqrt(before + ERROR**2)), abs=0.03)


def test_whatever_is_done_the_expected_belief_of_tomorrow_is_that_of_today():
    groups = tried([2.0, 2.3, 2.1, 1.9, 2.2])
    settings = Settings(scale_uncertainty=0.05)
    said = strength(groups, limits=[LIMIT], settings=settings)
    (one,) = more_blocks(groups, said, limits=[LIMIT], settings=settings)
    today = said.limits[0].assurance
    acts = [*one.options, *one.same_mix, one.calibration]
    assert [act.assurance for act in acts] == pytest.approx([today] * len(acts), abs=0.03)
    # Blocks of the same mix settle no more than those of a new one, which speak of how mixes differ too.
    assert one.same_mix[-1].settled <= one.options[-1].settled + 0.03


def test_a_press_known_well_asks_for_no_calibration():
    groups = tried([2.0, 2.3, 2.1, 1.9, 2.2])
    settings = Settings(scale_uncertainty=0.012)
    (one,) = more_blocks(groups, strength(groups, limits=[LIMIT], settings=settings), limits=[LIMIT], settings=settings)
    assert one.calibration is None


def test_the_same_futures_are_looked_at_every_time():
    first, second = (
        look_ahead(believed(0.75, 0.1), LIMIT, error_sd=ERROR, wanted=WANTED, press_mpa=math.inf, tried=[3, 5])
        for _ in range(2)
    )
    assert first == second


def test_a_press_stopped_below_the_limit_settles_it_less_often():
    beliefs = believed(math.log(2.1), 0.1)
    free, stopped = (
        look_ahead(beliefs, LIMIT, error_sd=ERROR, wanted=WANTED, press_mpa=press, tried=[10])[0]
        for press in (math.inf, 1.7)
    )
    assert stopped.settled < free.settled


def tried(soaked: list[float]) -> list[Group]:
    return [Group("A", "soaked", tuple(broke(stress_mpa=value) for value in soaked))]


def test_more_blocks_are_counted_for_an_open_limit_only():
    near, far = tried([2.0, 2.3, 2.1, 1.9, 2.2]), tried([6.0, 6.3, 6.1, 5.9, 6.2])
    found = more_blocks(near, strength(near, limits=[LIMIT]), limits=[LIMIT], settings=Settings())
    assert [(one.recipe, one.condition) for one in found] == [("A", "soaked")]
    assert [option.blocks for option in found[0].options] == [3, 5, 10, 20]
    assert more_blocks(far, strength(far, limits=[LIMIT]), limits=[LIMIT], settings=Settings()) == ()


def test_a_recipe_that_fell_apart_is_not_given_more_blocks():
    groups = [Group("A", "soaked", (*(broke(stress_mpa=v) for v in (2.0, 2.3, 2.1)), fell_apart()))]
    assert more_blocks(groups, strength(groups, limits=[LIMIT]), limits=[LIMIT], settings=Settings()) == ()


def test_the_assurance_looked_ahead_from_is_the_engines_own():
    groups = tried([2.0, 2.3, 2.1, 1.9, 2.2])
    said = strength(groups, limits=[LIMIT], settings=Settings(batch_sd=0.0, scale_uncertainty=0.05))
    (one,) = more_blocks(groups, said, limits=[LIMIT], settings=Settings(batch_sd=0.0, scale_uncertainty=0.05))
    assert one.options[0].assurance == pytest.approx(said.limits[0].assurance, abs=0.03)


def test_five_blocks_tell_what_the_usual_number_of_blocks_says():
    # n = 2 (1.6449 + 0.8416)^2 (sd / d)^2 for a one-sided comparison; solved for d at n = 5, sd = 0.15.
    difference = math.log(least_ratio_told(blocks=5, batches=1, scatter=0.15, batch_sd=0.0))
    assert 2 * (1.6449 + 0.8416) ** 2 * (0.15 / difference) ** 2 == pytest.approx(5, rel=1e-9)


def test_no_number_of_blocks_of_one_mix_tells_less_than_mixes_differ_by():
    many = least_ratio_told(blocks=100_000, batches=1, scatter=0.15, batch_sd=0.05)
    assert math.log(many) == pytest.approx(2.4865 * 0.05 * math.sqrt(2), rel=1e-3)
    assert least_ratio_told(blocks=100_000, batches=2, scatter=0.15, batch_sd=0.05) < many


@pytest.mark.parametrize("wrong", [{"blocks": 0}, {"batches": 0}, {"scatter": 0.0}, {"batch_sd": -0.1}])
def test_numbers_out_of_range_are_refused(wrong):
    with pytest.raises(Invalid):
        least_ratio_told(**{"blocks": 5, "batches": 1, "scatter": 0.15, "batch_sd": 0.05} | wrong)


def test_blocks_that_outlived_the_press_hold_future_blocks_there_too():
    groups = [
        Group("A", "soaked", tuple(broke(stress_mpa=v) for v in (2.0, 2.3, 2.1))),
        Group("B", "soaked", (held(stress_mpa=1.9), held(stress_mpa=1.9))),
    ]
    said = strength(groups, limits=[LIMIT])
    without = strength(groups[:1], limits=[LIMIT])
    (stopped,) = [one for one in more_blocks(groups, said, limits=[LIMIT], settings=Settings()) if one.recipe == "A"]
    (free,) = more_blocks(groups[:1], without, limits=[LIMIT], settings=Settings())
    assert stopped.options[-1].settled < free.options[-1].settled


@pytest.mark.parametrize(
    ("settled", "word"),
    [(0.85, "would probably settle"), (0.77, "may settle"), (0.25, "may settle"), (0.1, "would probably not settle")],
)
def test_how_likely_more_blocks_settle_it_is_said_as_the_number_says(settled, word):
    option = Option(20, settled, 0.0, 0.5)
    assert word in More("B", "soaked", LIMIT, 0.5, (option,), (), None).phrase().english
