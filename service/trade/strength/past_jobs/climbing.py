"""The priors under which all jobs together are most likely: expectation and maximisation, with leaps."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from service.trade.strength.fit.logs import Array, Centred
from service.trade.strength.past_jobs.unknowns import HEAVY, Priors, numbers_of, with_numbers

# A few alike jobs must not make the next one sure of itself beforehand.
LEAST_LOG_SD, LEAST_SD_OF_SD = 0.25, 0.20
BATCH_SD_RANGE = (0.01, 0.5)

_STEPS, _LEAPS, _STILL, _FARTHEST, _KEPT_STEPS = 100, 30, 1e-6, 0.5, 6
_NOTHING = 1e-300


@dataclass(frozen=True)
class Climb:
    """What is learned of all jobs: the spread between recipes and the difference between mixes only where enough say.

    ``rows``: how many rows each unknown has in all jobs.
    """

    rows: Array
    spread: bool
    mixes: bool

    @property
    def learns(self) -> dict[str, float]:
        """What is learned with its standard deviation, and the least that this may be."""
        return {"theta": LEAST_LOG_SD, "sigma": LEAST_SD_OF_SD} | ({"tau": LEAST_SD_OF_SD} if self.spread else {})

    def top(self, expected: Callable[[Priors], Array], known: Priors) -> Priors:
        """Return the priors under which what was seen is most likely.

        ``expected`` gives, under some priors, for each unknown what its rows in all jobs come to, and their squares.
        """
        at = numbers_of(known)
        floors = numbers_of({name: Centred(-math.inf, self.learns.get(name, _NOTHING)) for name in known})
        seen: list[tuple[Array, Array]] = []
        for number in range(_STEPS):
            now = with_numbers(at)
            there = numbers_of(self._moved(now, expected(now)))
            if np.max(np.abs(there - at)) < _STILL:
                return with_numbers(there)
            seen = [*seen[-_KEPT_STEPS:], (at, there - at)]
            # Leaps settle in a dozen steps; where they do not, small steps always climb.
            leap = _next(seen) if number < _LEAPS else there
            at = np.maximum(leap, floors)
            if np.any(at > leap + _STILL):
                # At a floor nothing moves on: what moved before says nothing of what will.
                seen = []
        return with_numbers(at)

    def _moved(self, known: Priors, sums: Array) -> Priors:
        rows = np.maximum(self.rows, 1)[:, None]
        seen = {
            name: one
            for name, one, rows in zip(HEAVY, (sums.reshape(-1, 2) / rows).tolist(), self.rows, strict=True)
            if rows
        }
        found = {
            name: Centred(mean, max(least, math.sqrt(max(0.0, square - mean**2))), heavy=known[name].heavy)
            for name, least in self.learns.items()
            if name in seen
            for mean, square in [seen[name]]
        }
        if self.mixes and "beta" in seen:
            low, high = (math.log(one) for one in BATCH_SD_RANGE)
            found["beta"] = Centred(min(max(seen["beta"][0], low), high), known["beta"].sd)
        return known | found


def _next(seen: Sequence[tuple[Array, Array]]) -> Array:
    """Return where the last steps together point to: Anderson's extrapolation, cut short where it leaps far."""
    at, step = seen[-1]
    if len(seen) < 2:
        return at + step
    moves = np.array([one - before for (before, _), (one, _) in pairwise(seen)]).T
    bends = np.array([one - before for (_, before), (_, one) in pairwise(seen)]).T
    share = np.linalg.lstsq(bends, step, rcond=1e-6)[0]
    leap = step - (moves + bends) @ share
    # A step climbs. Where no point stands still, as towards a floor, only a leap the same way does.
    leap = np.where(leap * step < 0, step, leap)
    found: Array = at + leap * min(1.0, _FARTHEST / max(float(np.max(np.abs(leap))), 1e-300))
    return found
