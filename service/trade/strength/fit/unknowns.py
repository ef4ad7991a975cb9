"""The unknowns that all recipes of a job share: their places in a vector, and their priors."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trade.strength.fit.logs import Array, Centred, Whole, below, point
from service.trade.strength.prior import Prior

# Own assumptions, weak; docs/model.md.
SLOPES = {
    "sand": Centred(0.0, 1.0),
    "sand bend": Centred(0.0, 6.0),
    "moisture": Centred(0.0, 5.0),
    "moisture bend": Centred(0.0, 400.0),
    "density": Centred(0.0, 5.0),
}

# Below this a spread is none, and dividing by its square leaves no digits.
_LEAST_LOG_SIZE = math.log(1e-3)
_NEARLY_ALL = 1 - 1e-16


@dataclass(frozen=True)
class Unknowns:
    """Names and priors in order: theta and ln sigma of each condition, then what the job can tell apart.

    ``basis`` holds, for each slope, its value for every recipe; ``outside`` which recipes are not on the curve where
    there is one and not all are; ``beta`` what the mixes differ by where that is given. The unknown of ``slope`` is a
    standard normal, so that a slope that can only be above 0 has no edge to be sought at.
    """

    names: tuple[str, ...]
    priors: tuple[Centred, ...]
    conditions: int
    slope: Centred
    basis: tuple[tuple[str, Array], ...] = ()
    outside: Whole | None = None
    beta: float | None = None

    def place(self, name: str) -> int | None:
        """Return where an unknown stands, or None where the job has none of it."""
        return self.names.index(name) if name in self.names else None

    def theta(self, at: Array) -> Array:
        """Return theta by condition and node."""
        return at[: self.conditions]

    def log_sigma(self, at: Array) -> Array:
        """Return ln sigma by condition and node."""
        return at[self.conditions : 2 * self.conditions]

    def size(self, at: Array, name: str) -> Array | None:
        """Return the standard deviation of a name (tau, eta, omega, beta) by node, or None where it is not there."""
        place = self.place(name)
        if place is not None:
            found: Array = np.exp(np.maximum(at[place], _LEAST_LOG_SIZE))
            return found
        if name == "beta" and self.beta is not None:
            return np.full(at.shape[1], self.beta)
        return None

    def between_recipes(self, at: Array) -> Array:
        """Return tau by node; by recipe, one and node where some recipes are on the curve and others are not."""
        tau = self.size(at, "tau")
        assert tau is not None
        if self.outside is None:
            return tau
        found: Array = np.stack([tau, np.exp(np.maximum(at[self.names.index("apart")], _LEAST_LOG_SIZE))])
        return found[self.outside][:, None]

    def curve(self, at: Array) -> Array | float:
        """Return the curve by recipe and node; 0 where there is none."""
        if not self.basis:
            return 0.0
        rows = [(name, at[self.names.index(name)]) for name, _ in self.basis]
        slopes = np.stack([above_nothing(row, self.slope) if name == "slope" else row for name, row in rows])
        found: Array = np.stack([row for _, row in self.basis], axis=1) @ slopes
        return found

    def log_prior(self, at: Array) -> Array:
        """Return the log prior density by node, up to a constant."""
        total = sum(prior.log_density(row) for prior, row in zip(self.priors, at, strict=True))
        return np.asarray(total, dtype=float)


def above_nothing(z: Array, prior: Centred) -> Array:
    """Return the values of a normal quantity that is above 0, at points of a standard normal with as much below them.

    Parameters
    ----------
    z : Array
        Standard deviations.
    prior : Centred
        Middle and standard deviation before what lies below 0 is cut off.

    Returns
    -------
    Array
        Above 0.

    Source
    ------
    computed-here : the inverse of a distribution function, taken from above, where it keeps its digits.

    Examples
    --------
    >>> above_nothing(np.array([-9.0, 0.0, 1.0]), Centred(1.1, 0.4)).round(3).tolist()
    [0.0, 1.101, 1.501]
    """
    whole = below(np.array(prior.middle / prior.sd))
    found: Array = prior.middle - prior.sd * point(np.minimum(whole * below(-z), _NEARLY_ALL))
    return found


def unknowns_of(
    prior: Prior,
    *,
    conditions: int,
    recipes: int,
    basis: Sequence[tuple[str, Array]],
    outside: NDArray[np.bool_] | None = None,
    mixes_named: bool,
    beta: float | None,
) -> Unknowns:
    """Return the unknowns of a job.

    Parameters
    ----------
    prior : Prior
        What is believed before.
    conditions, recipes : int
        With a standing block.
    basis : Sequence[tuple[str, Array]]
        Each slope of the curve with its value for every recipe; empty without a curve.
    outside : NDArray[np.bool_] or None
        Which recipes are not on the curve; None: all are.
    mixes_named : bool
        Whether the readings name their mixes.
    beta : float or None
        What mixes differ by, where it is given.

    Returns
    -------
    Unknowns
        In a fixed order.

    Source
    ------
    strength-model

    Examples
    --------
    >>> unknowns_of(Prior(), conditions=1, recipes=1, basis=(), mixes_named=False, beta=None).names
    ('theta', 'sigma', 'tau')
    """
    rows = [("theta", Centred(math.log(prior.median_mpa), prior.log_sd))] * conditions
    rows += [("sigma", Centred(math.log(prior.scatter), prior.scatter_log_sd, heavy=True))] * conditions
    spread = (prior.off_curve, prior.off_curve_log_sd) if basis else (prior.spread, prior.spread_log_sd)
    rows.append(("tau", Centred(math.log(spread[0]), spread[1], heavy=True)))
    apart = bool(basis) and outside is not None and bool(outside.any())
    if apart:
        rows.append(("apart", Centred(math.log(prior.spread), prior.spread_log_sd, heavy=True)))
    if conditions > 1:
        rows.append(("eta", Centred(math.log(prior.own_way), prior.own_way_log_sd)))
    if recipes > 1:
        rows.append(("omega", Centred(math.log(prior.uneven), prior.uneven_log_sd)))
    if mixes_named and beta is None:
        rows.append(("beta", Centred(math.log(prior.mixes), prior.mixes_log_sd)))
    own = {"slope": Centred(0.0, 1.0), "bend": Centred(prior.bend, prior.bend_sd), **SLOPES}
    rows += [(name, own[name]) for name, _ in basis]
    return Unknowns(
        names=tuple(name for name, _ in rows),
        priors=tuple(one for _, one in rows),
        conditions=conditions,
        basis=tuple(basis),
        slope=Centred(prior.slope, prior.slope_sd),
        outside=outside.astype(int) if apart and outside is not None else None,
        beta=beta if mixes_named else None,
    )
