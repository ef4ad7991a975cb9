"""The chance that a recipe meets all limits at once, and that no cheaper one does."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

import numpy as np

from service.trade.strength.engine.bars import Lattice
from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.normal import Array
from service.trade.strength.engine.thin import thinned

_LIGHT = 1e-4
# Nodes of sigma and theta for each tau, by how many conditions multiply theirs; finer passes take more.
_FEW = {2: (5, 5), 3: (4, 4), 4: (4, 3)}


@dataclass(frozen=True)
class Hurdle:
    """One condition that has limits: its plane and, by recipe, the chance to pass at (kept node, error).

    None stands for a recipe that cannot pass.
    """

    plane: Plane
    passing: tuple[Array | None, ...]


def all_at_once(hurdles: Sequence[Hurdle], ladder: Lattice, tau_weight: Array, recipe: int) -> float:
    """Return the chance that one recipe passes every hurdle.

    Parameters
    ----------
    hurdles : Sequence[Hurdle]
        One for each condition that has limits.
    ladder : Lattice
        Errors of press and mixes.
    tau_weight : Array
        Weights of tau.
    recipe : int
        Which recipe, by number.

    Returns
    -------
    float
        From 0 to 1.

    Source
    ------
    strength-model

    Examples
    --------
    Where nothing is asked everything passes:

    >>> one = np.ones(1)
    >>> all_at_once([], Lattice(np.zeros(1), one, (one,)), one, 0)
    1.0
    """
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


def cheapest(
    hurdles: Sequence[Hurdle], ladder: Lattice, tau_weight: Array, costs: Sequence[Decimal], *, more: int
) -> list[float]:
    """Return, for every recipe, the chance that it passes all hurdles and no strictly cheaper one does.

    ``more`` nodes than usual are taken along sigma and theta.

    Parameters
    ----------
    hurdles : Sequence[Hurdle]
        One for each condition that has limits; one at least.
    ladder : Lattice
        Errors of press and mixes.
    tau_weight : Array
        Weights of tau.
    costs : Sequence[Decimal]
        Cost of every recipe, by number.
    more : int
        Nodes more than usual along sigma and theta.

    Returns
    -------
    list[float]
        By recipe; recipes of equal cost do not stand in each other's way.

    Source
    ------
    strength-model

    Examples
    --------
    A recipe that cannot pass is never it:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> one = np.ones(1)
    >>> ladder = Lattice(np.zeros(1), one, (one,))
    >>> cheapest([Hurdle(posterior.planes[0], (None,))], ladder, posterior.tau_weight, [Decimal(1)], more=0)
    [0.0]
    """
    found, total = np.zeros(len(costs)), 0.0
    for column in np.flatnonzero(tau_weight > _LIGHT * np.max(tau_weight)):
        at_tau = [_at_tau(hurdle, int(column), len(hurdles), more) for hurdle in hurdles]
        if all(len(weight) for weight, _ in at_tau):
            found += tau_weight[column] * _at_one_tau(at_tau, ladder, costs)
            total += float(tau_weight[column])
    return [float(value) for value in found / total]


_AtTau = tuple[Array, list[Array | None]]


def _at_tau(hurdle: Hurdle, column: int, hurdles: int, more: int) -> _AtTau:
    """Return the weights of the nodes of one tau, and each recipe's chance to pass there."""
    plane = hurdle.plane
    few = None
    if hurdles > 1:
        sigmas, thetas = _FEW[hurdles]
        few = thinned(plane, column, sigmas=sigmas + more, thetas=thetas + more)
    if few is not None:
        return few.weight, [None if table is None else few.values(table) for table in hurdle.passing]
    pick = np.flatnonzero(plane.node_tau == column)
    if hurdles > 1:
        pick = np.sort(pick[np.argsort(-plane.node_weight[pick], kind="stable")[: sigmas * thetas]])
    weight = plane.node_weight[pick]
    return weight / weight.sum(), [None if table is None else table[pick] for table in hurdle.passing]


def _at_one_tau(at_tau: Sequence[_AtTau], ladder: Lattice, costs: Sequence[Decimal]) -> Array:
    joint = np.ones(1)
    for weight, _ in at_tau:
        joint = np.multiply.outer(joint, weight).ravel()
    found = np.zeros(len(costs))
    none_cheaper = ladder.scale[:, None] * joint
    for cost in sorted(set(costs)):
        after = none_cheaper
        for recipe in (recipe for recipe, own in enumerate(costs) if own == cost):
            tables = [passing[recipe] for _, passing in at_tau]
            able = [table for table in tables if table is not None]
            if len(able) == len(tables):
                chance = _joint_chance(able, ladder, recipe)
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
