"""Which shares to press: against draws and regression of our own, and by what must hold."""

import numpy as np
import pytest
from scipy import stats

from service.errors import Invalid
from service.trade.strength.estimate_result import Limit
from service.trade.strength.shares_to_press import Believed, shares_to_press
from service.trade.strength.soil_level import soil_level

MEAN = Limit("mean", "soaked", "mean", 2.0, 5)
# One scatter, so that regression with known errors is exact.
KNOWN = Believed(median_mpa=2.2, log_sd=0.5, scatter=0.12, scatter_log_sd=0.0)


def drawn(shares: tuple[float, ...], blocks: int, *, jobs: int = 4000) -> dict[str, float]:
    """Return how often a plan settles whether a share passes: truths and blocks drawn, each job fitted by regression.

    Unknowns of a job: level, slope, bend, each share's own way off the curve, each mix. Their prior stands in the
    regression as rows of its own; nothing of the product is used but the numbers that are believed.
    """
    chance = np.random.default_rng(7)
    x = np.log(np.array(shares) + 0.005)
    x = x - (np.log(0.045) + np.log(0.085)) / 2
    many, mixes = len(shares), 2
    sd = np.array([KNOWN.log_sd, KNOWN.slope_sd, KNOWN.bend_sd] + [KNOWN.off_curve] * many
                  + [KNOWN.mixes] * many * mixes)  # fmt: skip
    middle = np.array([np.log(KNOWN.median_mpa), KNOWN.slope, KNOWN.bend] + [0.0] * (many + many * mixes))
    rows = []
    for share in range(many):
        for block in range(blocks):
            row = np.zeros(len(sd))
            row[:3] = 1.0, x[share], x[share] ** 2
            row[3 + share] = 1.0
            row[3 + many + share * mixes + block % mixes] = 1.0
            rows.append(row)
    design = np.array(rows)
    precision = design.T @ design / KNOWN.scatter**2 + np.diag(1 / sd**2)
    left = np.linalg.inv(precision)
    of_recipe = np.array([np.eye(len(sd))[0] + x[s] * np.eye(len(sd))[1] + x[s] ** 2 * np.eye(len(sd))[2]
                          + np.eye(len(sd))[3 + s] for s in range(many)])  # fmt: skip
    some = none = 0
    for _ in range(jobs):
        truth = middle + sd * chance.standard_normal(len(sd))
        read = design @ truth + KNOWN.scatter * chance.standard_normal(len(design))
        told = left @ (design.T @ read / KNOWN.scatter**2 + middle / sd**2)
        open_sd = np.sqrt(np.einsum("si,ij,sj->s", of_recipe, left, of_recipe))
        sure = stats.norm.cdf((of_recipe @ told + KNOWN.scatter**2 / 2 - np.log(2.0)) / open_sd)
        means = np.exp(read).reshape(many, blocks).mean(axis=1)
        fails = (sure <= 0.05) | ((means < 2.0) & (blocks >= 5))
        passes = (sure >= 0.95) & ~fails
        some, none = some + passes.any(), none + fails.all()
    return {"passes": some / jobs, "fails": none / jobs}


@pytest.mark.parametrize(("shares", "blocks"), [((0.04, 0.08), 5), ((0.04, 0.06, 0.08), 3)])
def test_chances_are_those_of_jobs_drawn_and_fitted_by_regression(shares, blocks):
    found = shares_to_press(shares, [MEAN], blocks=[blocks], aim="passes", believed=KNOWN)
    plan = next(one for one in (found.best, *found.plans) if one.shares == shares and one.blocks == blocks)
    truth = drawn(shares, blocks)
    # Three standard errors of 400 futures.
    for name in ("passes", "fails"):
        assert getattr(plan, name) == pytest.approx(truth[name], abs=3 * np.sqrt(0.25 / 400))


def test_a_soil_known_to_pass_settles_whether_it_does_with_the_fewest_blocks():
    sure = Believed(median_mpa=8.0, log_sd=0.1)
    best = shares_to_press([0.05, 0.08], [MEAN], blocks=[3, 5], aim="passes", believed=sure).best
    assert (best.blocks_in_all, best.passes) == (6, 1.0)


def test_how_little_will_do_needs_a_leaner_share_that_fails():
    # All but certain that 6 % passes and 4 % does not: those two settle it, and two that pass do not.
    steep = Believed(median_mpa=2.05, log_sd=0.02, slope=3.0, slope_sd=0.01, bend=0.0, off_curve=0.01, mixes=0.01)
    found = shares_to_press([0.03, 0.04, 0.06, 0.08], [MEAN], blocks=[5], believed=steep)
    assert found.best.shares == (0.04, 0.06) and found.best.settled > 0.9
    above = shares_to_press([0.03, 0.06, 0.08], [MEAN], blocks=[5], believed=steep)
    assert above.best.shares == (0.03, 0.06)


def test_more_blocks_never_settle_less_but_for_chance():
    plans = [shares_to_press([0.04, 0.08], [MEAN], blocks=[n], aim="passes", believed=KNOWN).best for n in (3, 5, 10)]
    settled = [one.settled for one in plans]
    assert settled[0] <= settled[1] + 0.05 <= settled[2] + 0.10


def test_the_same_question_has_the_same_answer_in_any_order():
    one = shares_to_press([0.08, 0.04, 0.06], [MEAN], blocks=[5, 3])
    assert one == shares_to_press([0.04, 0.06, 0.08], [MEAN], blocks=[3, 5])


@pytest.mark.parametrize(
    ("shares", "limits", "more", "field"),
    [
        ([0.04], [MEAN], {}, "shares"),
        ([0.04, 0.04], [MEAN], {}, "shares"),
        ([0.04, 1.2], [MEAN], {}, "shares.1"),
        ([0.04, 0.06], [], {}, "limits"),
        ([0.04, 0.06], [MEAN], {"blocks": [0]}, "blocks"),
        ([0.04, 0.06], [MEAN], {"blocks": [3], "mixes": 4}, "mixes"),
        ([0.04, 0.06], [MEAN], {"wanted": 1.0}, "assurance"),
    ],
)
def test_what_cannot_be_planned_is_refused_by_field(shares, limits, more, field):
    with pytest.raises(Invalid) as refusal:
        shares_to_press(shares, limits, **more)
    assert field in refusal.value.fields


def test_a_soil_is_told_by_its_fines_and_liquid_limit_as_ridge_regression_tells_it():
    # The same by scipy's route: rows for the priors added to those of the seven soils (fines, liquid limit, psi).
    soils = np.array([(0.056, 0.19, 235), (1.0, 0.51, 260), (0.936, 0.548, 160), (0.825, 0.871, 280),
                      (0.293, 0.189, 571.2), (0.996, 0.308, 320), (0.685, 0.424, 320)])  # fmt: skip
    off = soils[:, :2] - soils[:, :2].mean(axis=0)
    design = np.vstack([np.column_stack([np.ones(7), off]) / 0.4, np.diag([1.0, 1.0, 0.5])])
    read = np.concatenate([(np.log(soils[:, 2] * 0.00689476) - np.log(2)) / 0.4, np.zeros(3)])
    told = np.linalg.lstsq(design, read, rcond=None)[0]
    expected = 2 * np.exp(told @ [1, 0.3 - soils[:, 0].mean(), 0.25 - soils[:, 1].mean()])
    assert soil_level(fines=0.3, liquid_limit=0.25).median_mpa == pytest.approx(expected, rel=1e-4)


def test_a_soil_outside_the_table_is_refused_or_left_wide():
    assert soil_level(fines=0.0, liquid_limit=1.8).log_sd > soil_level(fines=0.6, liquid_limit=0.4).log_sd
    with pytest.raises(Invalid) as refusal:
        soil_level(fines=1.2, liquid_limit=3.0)
    assert set(refusal.value.fields) == {"soil.fines", "soil.liquid_limit"}
