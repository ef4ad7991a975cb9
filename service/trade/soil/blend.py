"""Several curves and an envelope -> the shares that fit best, by linear programme."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.errors import Unsettled
from service.trade.soil.grading import Curve, Passing
from service.trade.soil.grading_envelopes import Bound
from service.trade.validation import refuse, require, require_names_once

FEASIBLE = 1e-9

# A later aim may not spoil an earlier one by more than this; a tenth of what still counts as inside.
KEPT = 1e-10

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Soil:
    """One material of a blend and its curve."""

    name: str
    curve: Curve


@dataclass(frozen=True)
class Blend:
    """The best shares, how far their curve lies outside, and what other blends lie no farther out."""

    shares: dict[str, float]
    worst_excess: float
    feasible: bool
    range: dict[str, tuple[float, float]]
    passing: tuple[Passing, ...]


def best_blend(*, soils: Sequence[Soil], envelope: Sequence[Bound]) -> Blend:
    """Return the blend of soils that lies least outside an envelope.

    Parameters
    ----------
    soils : Sequence[Soil]
        One or more, each named once; each curve must reach every size of the envelope.
    envelope : Sequence[Bound]
        One or more sizes in mm, each once; 0 <= low <= high <= 1.

    Returns
    -------
    Blend
        Shares of dry mass with the least largest distance outside; among those the least sum of distances, then
        the most of the first soil. `range` is over all blends within 1e-9 of the least largest distance, each
        soil by itself; `passing` is the blend's curve at every size that all curves give, coarse to fine.

    Raises
    ------
    Invalid
        If a name or a size stands twice, a bound is out of order, or a curve does not reach a size of the
        envelope (field ``soils.1.passing``, and ``envelope.0.size_mm`` beside it).
    Unsettled
        If the solver finds no answer within its tolerance.

    Source
    ------
    mass-balance : a blend passes what its parts pass, by their shares.

    Examples
    --------
    All fine and all coarse, and half is to be finer than 1 mm:

    >>> fine = Soil("fine", Curve((Passing(1.0, 1.0),)))
    >>> coarse = Soil("coarse", Curve((Passing(2.0, 1.0), Passing(1.0, 0.0))))
    >>> blend = best_blend(soils=[fine, coarse], envelope=[Bound(1.0, 0.5, 0.5)])
    >>> round(blend.shares["fine"], 6), blend.feasible
    (0.5, True)
    """
    _check(soils, envelope)
    programme = _Programme(_finer(soils, envelope), low=[b.low for b in envelope], high=[b.high for b in envelope])
    least_worst = programme.least_worst()
    weights = programme.best_shares(least_worst)
    worst = programme.worst_outside(weights)
    return Blend(
        shares={soil.name: float(weight) for soil, weight in zip(soils, weights, strict=True)},
        worst_excess=worst,
        feasible=worst <= FEASIBLE,
        range={soil.name: programme.range_of(place, least_worst) for place, soil in enumerate(soils)},
        passing=_curve(soils, envelope, weights),
    )


class _Programme:
    """Shares w of the soils and distances d outside, one a size: low - d <= finer w <= high + d."""

    def __init__(self, finer: Numbers, *, low: Sequence[float], high: Sequence[float]) -> None:
        self.finer, self.low, self.high = finer, np.array(low), np.array(high)
        self.sizes, self.soils = finer.shape
        slack = -np.eye(self.sizes)
        self.above = np.block([[finer, slack], [-finer, slack]])
        self.limits = np.concatenate([self.high, -self.low])

    def least_worst(self) -> float:
        """Return the least largest distance outside."""
        one_for_all = -np.ones((2 * self.sizes, 1))
        above = np.hstack([np.vstack([self.finer, -self.finer]), one_for_all])
        aim = np.zeros(self.soils + 1)
        aim[-1] = 1
        found = _solved(aim, above, self.limits, sum_to_one=self.soils)
        return self.worst_outside(_shares(found[: self.soils]))

    def best_shares(self, least_worst: float) -> Numbers:
        """Return the shares with the least sum of distances, then the most of the first soil."""
        most = least_worst + KEPT
        least_sum = np.concatenate([np.zeros(self.soils), np.ones(self.sizes)])
        found = _solved(least_sum, self.above, self.limits, sum_to_one=self.soils, distance_most=most)
        kept_sum = float(np.sum(self._outside(_shares(found[: self.soils])))) + KEPT
        first = np.zeros(self.soils + self.sizes)
        first[0] = -1
        above = np.vstack([self.above, least_sum])
        limits = np.append(self.limits, kept_sum)
        found = _solved(first, above, limits, sum_to_one=self.soils, distance_most=most)
        return _shares(found[: self.soils])

    def range_of(self, place: int, least_worst: float) -> tuple[float, float]:
        """Return the least and the most of one soil in blends as good as the best."""
        aim = np.zeros(self.soils + self.sizes)
        ends = []
        for sign in (1, -1):
            aim[place] = sign
            most = least_worst + FEASIBLE
            found = _solved(aim, self.above, self.limits, sum_to_one=self.soils, distance_most=most)
            ends.append(min(max(float(found[place]), 0.0), 1.0))
        return ends[0], max(ends)

    def worst_outside(self, weights: Numbers) -> float:
        """Return the largest distance outside of a blend."""
        return float(np.max(self._outside(weights)))

    def _outside(self, weights: Numbers) -> Numbers:
        passing: Numbers = self.finer @ weights
        outside: Numbers = np.maximum(0.0, np.maximum(self.low - passing, passing - self.high))
        return outside


def _solved(
    aim: Numbers, above: Numbers, limits: Numbers, *, sum_to_one: int, distance_most: float | None = None
) -> Numbers:
    # Loaded when it is needed: it is slow to load, and most days no soils are blended.
    from scipy.optimize import linprog

    whole = np.zeros((1, len(aim)))
    whole[0, :sum_to_one] = 1
    bounds = [(0, 1)] * sum_to_one + [(0, distance_most)] * (len(aim) - sum_to_one)
    tight = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}
    found = linprog(aim, A_ub=above, b_ub=limits, A_eq=whole, b_eq=[1.0], bounds=bounds, method="highs", options=tight)
    if found.x is None:
        raise Unsettled("No blend could be found within the tolerance that is promised.")
    return np.asarray(found.x, dtype=np.float64)


def _shares(weights: Numbers) -> Numbers:
    # The solver may leave a share a hair below 0 or their sum a hair off 1.
    positive = np.clip(weights, 0.0, None)
    return np.asarray(positive / positive.sum(), dtype=np.float64)


def _check(soils: Sequence[Soil], envelope: Sequence[Bound]) -> None:
    if not soils:
        refuse({"soils": "At least one soil is needed."})
    if not envelope:
        refuse({"envelope": "At least one size is needed."})
    require_names_once((f"soils.{place}.name", soil.name) for place, soil in enumerate(soils))
    require(
        positive={f"envelope.{place}.size_mm": bound.size_mm for place, bound in enumerate(envelope)},
        not_negative={f"envelope.{place}.low": bound.low for place, bound in enumerate(envelope)},
    )
    faults: dict[str, str] = {}
    seen: set[float] = set()
    for place, bound in enumerate(envelope):
        if not bound.low <= bound.high <= 1:
            faults[f"envelope.{place}.high"] = "This must be at least the low bound and at most 1."
        if bound.size_mm in seen:
            faults[f"envelope.{place}.size_mm"] = "This size is given twice."
        seen.add(bound.size_mm)
    if faults:
        refuse(faults)


def _finer(soils: Sequence[Soil], envelope: Sequence[Bound]) -> Numbers:
    finer = [[soil.curve.share_at(bound.size_mm) for soil in soils] for bound in envelope]
    faults: dict[str, str] = {}
    for row, bound in enumerate(envelope):
        for place, share in enumerate(finer[row]):
            if share is None:
                faults[f"soils.{place}.passing"] = f"This curve does not reach {bound.size_mm:g} mm."
                faults[f"envelope.{row}.size_mm"] = "Not every curve reaches this size."
    if faults:
        refuse(faults)
    return np.array(finer, dtype=np.float64)


def _curve(soils: Sequence[Soil], envelope: Sequence[Bound], weights: Numbers) -> tuple[Passing, ...]:
    sizes = {point.size_mm for soil in soils for point in soil.curve.points} | {bound.size_mm for bound in envelope}
    points = []
    for size_mm in sorted(sizes, reverse=True):
        shares = [soil.curve.share_at(size_mm) for soil in soils]
        known = [share for share in shares if share is not None]
        if len(known) == len(soils):
            points.append(Passing(size_mm, min(float(weights @ np.array(known)), 1.0)))
    return tuple(points)
