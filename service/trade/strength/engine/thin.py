"""Fewer nodes for the same sums: Gauss's rule for a weighted grid, where conditions multiply their numbers."""

from dataclasses import dataclass

import numpy as np

from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.normal import Array


@dataclass(frozen=True)
class Thinned:
    """A few nodes that stand for those of one tau: their weight, and how the old values make the new ones."""

    weight: Array
    _by_theta: Array
    _by_sigma: Array
    _place: tuple[Array, Array]
    _pick: Array

    def values(self, table: Array) -> Array:
        """Return a table over kept nodes (and errors) at the few nodes."""
        dense = np.zeros((self._by_theta.shape[0], self._by_theta.shape[2], table.shape[1]))
        dense[self._place] = table[self._pick]
        by_row = np.matmul(self._by_theta, dense)
        few = np.matmul(self._by_sigma, by_row.swapaxes(0, 1))
        chance: Array = np.clip(few.reshape(-1, table.shape[1]), 0, 1)
        return chance


def thinned(plane: Plane, column: int, *, sigmas: int, thetas: int) -> Thinned | None:
    """Return ``sigmas`` by ``thetas`` nodes for one tau of a plane; None where it keeps no more than those.

    Parameters
    ----------
    plane : Plane
        One condition.
    column : int
        Which tau, by number.
    sigmas, thetas : int
        How many nodes are left along each; above 0.

    Returns
    -------
    Thinned or None
        Sums of a value, and of the product of two, come out as before up to the degree kept.

    Source
    ------
    computed-here : Gauss's rule for a discrete measure.

    Examples
    --------
    A plane that keeps fewer is left as it is:

    >>> from service.trade.strength.engine.frame import first_pass
    >>> from service.trade.strength.engine.job import job_of
    >>> from service.trade.strength.censored_readings import broke
    >>> from service.trade.strength.estimate import PASSES
    >>> from service.trade.strength.estimate_result import Group, Settings
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> posterior = first_pass(job, PASSES[0])
    >>> thinned(posterior.planes[0], 0, sigmas=90, thetas=90) is None
    True
    """
    pick = np.flatnonzero(plane.node_tau == column)
    rows, row = np.unique(plane.node_sigma[pick], return_inverse=True)
    rich = np.bincount(row) >= thetas if len(pick) else np.zeros(0, dtype=bool)
    if len(pick) <= sigmas * thetas or rich.sum() < sigmas:
        return None
    pick, row = pick[rich[row]], (np.cumsum(rich) - 1)[row[rich[row]]]
    node = plane.node_theta[pick]
    weight = np.zeros((int(rich.sum()), int(node.max()) + 1))
    weight[row, node] = plane.node_weight[pick]
    of_row = weight.sum(axis=1)
    along_theta = np.broadcast_to(np.arange(weight.shape[1], dtype=float), weight.shape)
    by_theta, share = _gauss(along_theta, weight / of_row[:, None], thetas)
    columns = (of_row[:, None] * share).T
    along_sigma = np.broadcast_to(plane.log_sigma[rows[rich]], columns.shape)
    of_column = columns.sum(axis=1)
    by_sigma, part = _gauss(along_sigma, columns / of_column[:, None], sigmas)
    few = (of_column[:, None] * part).ravel()
    return Thinned(few / few.sum(), by_theta, by_sigma, (row, node), pick)


def _gauss(at: Array, weight: Array, count: int) -> tuple[Array, Array]:
    """Return, for each row of a discrete measure, Gauss's rule: how values make those at its nodes, and its weights.

    Values are projected on the polynomials orthogonal under the measure, so that sums of a value,
    and of the product of two, come out as before up to the degree kept.
    """
    middle = np.sum(weight * at, axis=1, keepdims=True)
    spread = np.sqrt(np.sum(weight * (at - middle) ** 2, axis=1, keepdims=True))
    x = (at - middle) / spread
    basis, diagonal, beside = [np.ones_like(x)], [], []
    before, above = np.zeros_like(x), np.zeros((len(x), 1))
    for _ in range(count):
        last = basis[-1]
        centre = np.sum(weight * x * last**2, axis=1, keepdims=True)
        following = (x - centre) * last - above * before
        above = np.sqrt(np.sum(weight * following**2, axis=1, keepdims=True))
        diagonal.append(centre[:, 0])
        beside.append(above[:, 0])
        before = last
        basis.append(following / np.maximum(above, 1e-150))
    matrix = np.zeros((len(x), count, count))
    for k in range(count):
        matrix[:, k, k] = diagonal[k]
        if k + 1 < count:
            matrix[:, k, k + 1] = matrix[:, k + 1, k] = beside[k]
    _, vectors = np.linalg.eigh(matrix)
    polynomials = np.stack(basis[:count], axis=1)
    at_nodes = vectors / vectors[:, :1, :]
    rule: Array = np.matmul(at_nodes.swapaxes(1, 2), polynomials * weight[:, None, :])
    return rule, vectors[:, 0, :] ** 2
