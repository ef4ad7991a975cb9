"""Drawn jobs: no figure, bar, ratio or rank rests on a strength that nobody measured."""

import random
from functools import cache

import pytest

from service.desk.results.result_facts import GroupFacts
from service.paper.glance import _bar
from service.trade.strength.censored_readings import Reading, broke, held
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Group, Limit, StrengthAnswer
from service.trade.strength.measured_pairs import as_measured

SEEDS = range(8)


@cache
def drawn(seed: int) -> tuple[list[Group], StrengthAnswer, list[GroupFacts], float]:
    """Return a job of which A was held by the press throughout, B in part, and C broke or was held as it comes."""
    chance = random.Random(seed)
    cap = round(chance.uniform(2.0, 12.0), 2)
    blocks = chance.randint(3, 6)

    def read(share: float) -> Reading:
        stress = cap * chance.lognormvariate(share, 0.15)
        return held(stress_mpa=cap) if stress >= cap else broke(stress_mpa=round(stress, 2))

    partly = [broke(stress_mpa=round(cap * chance.uniform(0.8, 0.99), 2)), held(stress_mpa=cap)]
    partly += [read(0.05) for _ in range(blocks - 2)]
    groups = [
        Group("A", "dry", (held(stress_mpa=cap),) * blocks),
        Group("B", "dry", tuple(partly)),
        Group("C", "dry", tuple(read(-0.4) for _ in range(blocks))),
    ]
    answer = strength(groups, limits=[Limit("code", "dry", "mean", 0.9 * cap, 3)])
    tops = [cap if any(one.outcome == "held" for one in group.readings) else None for group in groups]
    facts = [
        GroupFacts(said=said, soaked=False, highest_held_mpa=top, spoiled=0, lost=0, left_out=0, waiting=0)
        for said, top in zip(answer.groups, tops, strict=True)
    ]
    return groups, answer, facts, cap


def shown(group: GroupFacts) -> float:
    """Return the figure that stands first: the middle where it was measured, else the floor."""
    floor = group.floor_mpa
    return floor if floor is not None else (group.said.median_mpa or 0.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_figure_and_no_bar_reaches_above_what_was_measured_where_a_block_was_held(seed):
    _, _, facts, cap = drawn(seed)
    for group in facts:
        if group.highest_held_mpa is None:
            continue
        bar = _bar(group, None)
        assert shown(group) <= cap
        assert (bar.low_mpa or 0.0) <= cap and (bar.median_mpa or 0.0) <= cap and (bar.high_mpa or 0.0) <= cap
        assert bar.measured_to_mpa is None or bar.measured_to_mpa <= cap


@pytest.mark.parametrize("seed", SEEDS)
def test_a_recipe_whose_blocks_all_held_is_never_shown_weaker(seed):
    groups, answer, facts, cap = drawn(seed)
    all_held, *others = facts
    sure = {row.recipe: row.assurance for row in answer.limits}
    order = [row.recipe for row in answer.order]
    for group, other in zip(groups[1:], others, strict=True):
        if all(one.outcome == "held" for one in group.readings):
            continue
        # Nobody knows how much stronger A is than the press; that B bore no more than it is known.
        assert shown(all_held) >= shown(other) or shown(other) <= cap
        assert all_held.said.low_mpa >= 0.99 * other.said.low_mpa
        assert sure["A"] >= sure[group.recipe] - 0.005
        if sure["A"] > sure[group.recipe] + 0.005:
            assert order.index("A") < order.index(group.recipe)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_ratio_rests_on_a_middle_that_was_not_measured(seed):
    _, answer, facts, _ = drawn(seed)
    unmeasured = {(one.said.recipe, one.said.condition) for one in facts if not one.middle_measured}
    assert ("A", "dry") in unmeasured
    for pair in as_measured(answer.pairs, unmeasured):
        if {(pair.a, "dry"), (pair.b, "dry")} & unmeasured:
            assert (pair.ratio, pair.p_more, pair.p_less, pair.p_same) == (None, None, None, None)
        if (pair.a, "dry") in unmeasured:
            assert pair.high is None
        if (pair.b, "dry") in unmeasured:
            assert pair.low is None
