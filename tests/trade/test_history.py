"""The priors learned from a shop's own jobs: known ones are recovered from simulated jobs, held blocks kept."""

import math
from dataclasses import replace

import numpy as np
import pytest

from service.errors import Invalid
from service.trade.strength.censored_readings import Reading, broke, held
from service.trade.strength.estimate_result import Group
from service.trade.strength.past_jobs.sights import PastJob
from service.trade.strength.prior import Prior
from service.trade.strength.shop_history import FEWEST_JOBS, History, KeptJob, learned, learned_more, lessons

KNOWN = Prior(median_mpa=4.0, log_sd=0.5, scatter=0.10, scatter_log_sd=0.3, spread=0.40, spread_log_sd=0.4)
BATCH_SD, OWN_WAY, PRESS_MPA, SEED = 0.08, 0.12, 7.0, 5
PRESENT = {"present": Prior(), "present_batch_sd": 0.05}


def simulated(jobs: int, *, press_mpa: float = PRESS_MPA, seed: int = SEED) -> list[PastJob]:
    """Jobs of three recipes in two conditions, drawn from the known priors; a press that some blocks outlive."""
    chance = np.random.default_rng(seed)

    def block(log_strength: float) -> Reading:
        strength = math.exp(log_strength)
        return held(stress_mpa=press_mpa) if strength > press_mpa else broke(stress_mpa=strength, graduation_mpa=0.05)

    found = []
    for number in range(jobs):
        spread = math.exp(chance.normal(math.log(KNOWN.spread), KNOWN.spread_log_sd))
        groups = []
        recipes, off = spread * chance.normal(size=3), BATCH_SD * chance.normal(size=(3, 2))
        for condition in ("dry", "soaked"):
            middle = chance.normal(math.log(KNOWN.median_mpa), KNOWN.log_sd)
            scatter = math.exp(chance.normal(math.log(KNOWN.scatter), KNOWN.scatter_log_sd))
            for recipe, level, mixes in zip(
                "ABC", middle + recipes + OWN_WAY * chance.normal(size=3), off, strict=True
            ):
                blocks = tuple(block(level + mix + scatter * e) for mix in mixes for e in chance.normal(size=3))
                groups.append(Group(recipe, condition, blocks, mixes=("1", "1", "1", "2", "2", "2")))
        found.append(PastJob(str(number), tuple(groups)))
    return found


@pytest.fixture(scope="module")
def jobs() -> list[PastJob]:
    return simulated(30)


def test_known_priors_are_recovered_from_thirty_jobs(jobs):
    found = learned(jobs, **PRESENT)
    # 60 conditions and 30 jobs: a standard error of 0.065 in the log median, 0.045 in its sd, 0.05 in the log
    # scatter and 0.1 in the log spread, from the sd over the root of the number; 3 of them either way.
    assert math.log(found.prior.median_mpa / KNOWN.median_mpa) == pytest.approx(0, abs=0.25)
    assert found.prior.log_sd == pytest.approx(KNOWN.log_sd, abs=0.17)
    assert math.log(found.prior.scatter / KNOWN.scatter) == pytest.approx(0, abs=0.15)
    assert math.log(found.prior.spread / KNOWN.spread) == pytest.approx(0, abs=0.3)
    # 90 differences of two mixes: 7.5 % of the sd by themselves, about 10 % with the scatter of six blocks.
    assert found.batch_sd == pytest.approx(BATCH_SD, rel=0.3)
    assert (len(found.jobs), found.mixed_recipes, found.spread_jobs) == (30, 90, 30)
    assert found.held > 50


def test_the_same_jobs_in_another_order_teach_the_same(jobs):
    some = jobs[:10]
    one = learned(some, **PRESENT)
    other = learned(some[::-1], **PRESENT)
    assert vars(one.prior) == pytest.approx(vars(other.prior), rel=1e-6)
    assert one.batch_sd == pytest.approx(other.batch_sd, rel=1e-6)


def test_seven_jobs_are_too_few_and_eight_are_enough(jobs):
    with pytest.raises(Invalid, match="there are 7"):
        learned(jobs[: FEWEST_JOBS - 1], **PRESENT)
    assert len(learned(jobs[:FEWEST_JOBS], **PRESENT).jobs) == FEWEST_JOBS


def test_a_job_of_single_blocks_teaches_nothing_and_is_named(jobs):
    single = PastJob("lone", (Group("A", "dry", (broke(stress_mpa=3.0),)),))
    found = learned([*jobs[:8], single], **PRESENT)
    assert found.left_aside == ("lone",)


def test_without_recipes_side_by_side_or_second_mixes_the_present_spread_and_difference_stay(jobs):
    alone = [
        PastJob(job.name, tuple(replace(g, mixes=("1",) * 6) for g in job.groups if g.recipe == "A"))
        for job in jobs[:10]
    ]
    found = learned(alone, present=Prior(spread=0.33), present_batch_sd=0.07)
    assert (found.prior.spread, found.prior.spread_log_sd) == pytest.approx((0.33, 0.5))
    assert (found.batch_sd, found.mixed_recipes, found.spread_jobs) == (0.07, 0, 0)


@pytest.fixture(scope="module")
def sixty(jobs) -> list[PastJob]:
    return [*jobs, *simulated(30, seed=21)]


@pytest.fixture(scope="module")
def whole(sixty) -> History:
    return learned(sixty, **PRESENT)


@pytest.fixture(scope="module")
def kept(sixty, whole) -> tuple[KeptJob, ...]:
    return lessons(sixty, whole.about)


def in_standard_errors(one: History, other: History, rows: tuple[int, ...]) -> float:
    """How far two histories lie apart, in standard errors as if every row were read off without error."""
    off = np.abs(np.array(one.about) - np.array(other.about)).reshape(-1, 2)
    sds = np.exp(np.array(other.about)).reshape(-1, 2)[:, 1]
    return float(max((off[:, 0] / sds * np.sqrt(rows)).max(), (off[:, 1] * np.sqrt(2 * np.array(rows))).max()))


def test_what_is_kept_of_all_jobs_teaches_what_they_taught(kept, whole):
    found = learned_more(kept, about=whole.about, **PRESENT)
    assert found is not None
    assert found.about == pytest.approx(whole.about, abs=1e-4)
    assert replace(found, prior=whole.prior, batch_sd=whole.batch_sd, about=whole.about) == whole


@pytest.mark.parametrize("more", [1, 3])
def test_a_few_more_jobs_teach_what_all_fitted_together_do(sixty, kept, whole, more):
    came = [replace(job, name=f"new {job.name}") for job in simulated(more, seed=31)]
    found, together = learned_more([*kept, *came], about=whole.about, **PRESENT), learned([*sixty, *came], **PRESENT)
    assert found is not None
    # Two conditions of level and scatter, one spread and one difference between mixes a job. The tolerance promised in
    # docs/model.md: a tenth of a standard error.
    rows = (2 * (60 + more), 2 * (60 + more), 60 + more, 60 + more)
    assert in_standard_errors(found, together, rows) < 0.1
    assert replace(found, prior=together.prior, batch_sd=together.batch_sd, about=together.about) == together


def test_a_job_read_anew_takes_the_place_of_what_was_kept_of_it(sixty, kept, whole):
    stronger = tuple(
        replace(g, readings=tuple(replace(r, low_mpa=1.2 * r.low_mpa, high_mpa=1.2 * r.high_mpa) for r in g.readings))
        for g in sixty[7].groups
    )
    anew = [*sixty[:7], PastJob("7", stronger), *sixty[8:]]
    found = learned_more([*kept[:7], anew[7], *kept[8:]], about=whole.about, **PRESENT)
    together = learned(anew, **PRESENT)
    assert found is not None and together.about != whole.about
    assert in_standard_errors(found, together, (120, 120, 60, 60)) < 0.1


def test_fifty_jobs_of_other_soils_ask_for_all_to_be_fitted_together(kept, whole):
    weak = [
        PastJob(f"weak {number}", (Group("A", "dry", (broke(stress_mpa=0.4), broke(stress_mpa=0.5 + number / 99))),))
        for number in range(50)
    ]
    assert learned_more([*kept, *weak], about=whole.about, **PRESENT) is None


def test_what_is_kept_is_refused_with_fewer_than_eight_jobs_as_the_jobs_are(kept, whole):
    with pytest.raises(Invalid, match="there are 7"):
        learned_more(kept[:7], about=whole.about, **PRESENT)
