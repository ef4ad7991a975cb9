"""The chance that a recipe meets all limits at once, and that no cheaper one does."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from service.trade.engine.bars import Lattice
from service.trade.engine.evidence import Index
from service.trade.engine.grid import Plane
from service.trade.engine.normal import Array

_LIGHT = 1e-4
_MOST_JOINT = {1: 10**9, 2: 5000, 3: 8000, 4: 50000}
_STRIDES = ((1, 1), (1, 2), (2, 2), (2, 3), (3, 3), (4, 4))


@dataclass(frozen=True)
class Hurdle:
    """One condition that has limits: its plane and, by recipe, the chance to pass at (kept node, error).

    None stands for a recipe that cannot pass.
    """

    plane: Plane
    passing: tuple[Array | None, ...]


def all_at_once(hurdles: Sequence[Hurdle], ladder: Lattice, tau_weight: Array, recipe: int) -> float:
    """Return the chance that one recipe passes every hurdle."""
    tables = [hurdle.passing[recipe] for hurdle in hurdles]
    chance = np.ones((len(tau_weight), len(ladder.errors)))
    seen = np.ones(len(tau_weight), dtype=bool)
    for hurdle, table in zip(hurdles, tables, strict=True):
        if table is None:
            return 0.0
        pick = (hurdle.plane.node_tau == np.arange(len(tau_weight))[:, None]) * hurdle.plane.node_weight
        total = pick.sum(axis=1)
        seen &= total > 0
        chance = chance * (pick @ table) / np.maximum(total, 1e-300)[:, None]
    weight = np.where(seen, tau_weight, 0.0)
    return float(weight @ chance @ ladder.of_both(recipe) / weight.sum())


def cheapest(hurdles: Sequence[Hurdle], ladder: Lattice, tau_weight: Array, costs: Sequence[Decimal]) -> list[float]:
    """Return, for every recipe, the chance that it passes all hurdles and no strictly cheaper one does."""
    found = np.zeros(len(costs))
    heavy = np.flatnonzero(tau_weight > _LIGHT * np.max(tau_weight))
    total = 0.0
    for column in heavy:
        picks = [_pick(hurdle.plane, int(column), len(hurdles)) for hurdle in hurdles]
        if all(len(pick) for pick in picks):
            found += tau_weight[column] * _at_one_tau(hurdles, picks, ladder, costs)
            total += float(tau_weight[column])
    return [float(value) for value in found / total]


def _pick(plane: Plane, column: int, hurdles: int) -> Index:
    """Return the nodes of one tau, thinned evenly where several conditions multiply their numbers."""
    mine: Index = np.flatnonzero(plane.node_tau == column)
    if not len(mine):
        return mine
    weight = plane.node_weight[mine]
    top = mine[np.argmax(weight)]
    if hurdles > 1:
        mine = mine[weight > _LIGHT * np.max(weight)]
    most = _MOST_JOINT[hurdles] ** (1 / hurdles)
    for sigma_stride, theta_stride in _STRIDES:
        on_sigma = (plane.node_sigma[mine] - plane.node_sigma[top]) % sigma_stride == 0
        on_theta = (plane.node_theta[mine] - plane.node_theta[top]) % theta_stride == 0
        thinned: Index = mine[on_sigma & on_theta]
        if len(thinned) <= most:
            break
    return thinned


def _at_one_tau(hurdles: Sequence[Hurdle], picks: Sequence[Index], ladder: Lattice, costs: Sequence[Decimal]) -> Array:
    joint = np.ones(1)
    for hurdle, pick in zip(hurdles, picks, strict=True):
        weight = hurdle.plane.node_weight[pick]
        joint = np.multiply.outer(joint, weight / weight.sum()).ravel()
    found = np.zeros(len(costs))
    none_cheaper = ladder.scale[:, None] * joint
    for cost in sorted(set(costs)):
        at_cost = [recipe for recipe, own in enumerate(costs) if own == cost]
        after = none_cheaper
        for recipe in at_cost:
            tables = [hurdle.passing[recipe] for hurdle in hurdles]
            if any(table is None for table in tables):
                continue
            chance = _joint_chance([t[p] for t, p in zip(tables, picks, strict=True) if t is not None], ladder, recipe)
            found[recipe] = np.sum(none_cheaper * chance)
            after = after * (1 - chance)
        none_cheaper = after
    return found


def _joint_chance(tables: Sequence[Array], ladder: Lattice, recipe: int) -> Array:
    """Return the chance to pass all, by scale error and joint node, over the recipe's batch error."""
    batch = ladder.batch[recipe]
    spare = (len(ladder.errors) - len(ladder.scale) - len(batch) + 1) // 2
    used = slice(spare, len(ladder.errors) - spare)
    windows = [np.lib.stride_tricks.sliding_window_view(t[:, used], len(batch), axis=1).swapaxes(0, 1) for t in tables]
    grown = np.broadcast_to(batch, (len(ladder.scale), 1, len(batch)))
    for window in windows[:-1]:
        grown = (grown[:, :, None, :] * window[:, None, :, :]).reshape(len(ladder.scale), -1, len(batch))
    together: Array = np.matmul(grown, windows[-1].swapaxes(1, 2)).reshape(len(ladder.scale), -1)
    return together
