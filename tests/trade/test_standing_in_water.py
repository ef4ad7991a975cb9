"""Whether a block stands in water: one recipe against the beta distribution, several by what must hold."""

import pytest
from scipy import stats

from service.errors import Invalid
from service.trade.strength.standing_in_water import Soaked, standing


@pytest.mark.parametrize(("stood", "fell"), [(5, 0), (3, 2), (0, 5), (1, 0), (40, 1)])
def test_one_recipe_is_a_beta_distribution(stood, fell):
    # With a flat prior the chance is Beta(stood + 1, fell + 1).
    (found,) = standing([Soaked(0.06, stood, fell)])
    assert found.chance == pytest.approx((stood + 1) / (stood + fell + 2), abs=1e-4)
    assert found.at_least == pytest.approx(stats.beta.ppf(0.05, stood + 1, fell + 1), abs=0.004)


def test_more_stabiliser_never_stands_worse():
    found = standing([Soaked(0.03, 3, 2), Soaked(0.05, 5, 0), Soaked(0.08, 4, 1)])
    chances = [one.chance for one in found]
    assert chances == sorted(chances)


def test_a_leaner_recipe_that_stands_speaks_for_a_richer_one():
    alone = standing([Soaked(0.08, 1, 0)])[0].chance
    beside = standing([Soaked(0.04, 5, 0), Soaked(0.08, 1, 0)])[1].chance
    assert beside > alone


def test_the_order_does_not_matter():
    rows = [Soaked(0.03, 3, 2), Soaked(0.08, 5, 0)]
    assert standing(rows)[0].chance == pytest.approx(standing(rows[::-1])[1].chance, abs=1e-12)


@pytest.mark.parametrize("rows", [[], [Soaked(0.05, 0, 0)], [Soaked(-0.01, 1, 0)]])
def test_nothing_in_the_water_is_refused(rows):
    with pytest.raises(Invalid) as refusal:
        standing(rows)
    assert "soaked" in refusal.value.fields
