"""The lot: our own rule, so what is tested is what it promises."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.errors import Invalid
from service.trade.block.random_order import blocks_of_batches, draw

GROUPS = st.lists(st.integers(1, 12), min_size=1, max_size=5)
BATCHES = st.integers(1, 6)
SEEDS = st.integers(0, 2**31 - 1)


@given(GROUPS, BATCHES, SEEDS)
def test_every_group_gets_its_number_of_blocks(groups, batches, seed):
    drawn = Counter(place.group for place in draw(groups, batches=batches, seed=seed))
    assert [drawn[group] for group in range(len(groups))] == groups


@given(GROUPS, BATCHES, SEEDS)
def test_a_group_is_spread_over_the_batches_so_that_its_numbers_differ_by_one_at_most(groups, batches, seed):
    places = draw(groups, batches=batches, seed=seed)
    for group in range(len(groups)):
        numbers = [sum(p.group == group and p.batch == batch for p in places) for batch in range(1, batches + 1)]
        assert max(numbers) - min(numbers) <= 1


@given(GROUPS, BATCHES, SEEDS)
def test_batches_are_filled_as_evenly_and_their_places_are_counted_through(groups, batches, seed):
    places = draw(groups, batches=batches, seed=seed)
    for batch, size in enumerate(blocks_of_batches(blocks=sum(groups), batches=batches), start=1):
        assert [place.position for place in places if place.batch == batch] == list(range(1, size + 1))


@given(GROUPS, BATCHES, SEEDS)
def test_every_block_has_a_turn_of_its_own_at_the_crushing(groups, batches, seed):
    places = draw(groups, batches=batches, seed=seed)
    assert sorted(place.crush_order for place in places) == list(range(1, sum(groups) + 1))


@given(GROUPS, BATCHES, SEEDS)
def test_the_same_seed_draws_the_same(groups, batches, seed):
    assert draw(groups, batches=batches, seed=seed) == draw(groups, batches=batches, seed=seed)


def test_each_place_falls_to_each_group_about_as_often():
    # 2,000 draws of 5 + 5 in two batches: a half each, within 4 standard deviations of a fair coin, 0.045.
    first = [draw([5, 5], batches=2, seed=seed)[0] for seed in range(2000)]
    assert sum(place.group == 0 for place in first) / 2000 == pytest.approx(0.5, abs=0.045)
    # And its turn at the crushing is any of ten; the mean of 1 to 10 is 5.5, its error 2.87/sqrt(2000) = 0.064.
    assert sum(place.crush_order for place in first) / 2000 == pytest.approx(5.5, abs=0.26)


@pytest.mark.parametrize(("groups", "batches"), [([0], 1), ([3, -1], 1), ([3], 0)])
def test_a_group_or_a_number_of_batches_of_nothing_is_refused(groups, batches):
    with pytest.raises(Invalid):
        draw(groups, batches=batches, seed=1)
