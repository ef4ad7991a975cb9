"""The readings of one series as the curve takes them: in logs, by share, condition and mix, equal ones counted once."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.trade.strength.censored_readings import Reading
from service.trade.strength.fit.logs import Array

Index = NDArray[np.int64]
# A share of nothing has a logarithm too; half a percent keeps the line straight down to small shares.
OFFSET = 0.005


@dataclass(frozen=True)
class Row:
    """The blocks of one share, condition and mix; blocks of a share whose mix is not told came from one mix."""

    share: float
    condition: str
    readings: tuple[Reading, ...]
    mix: str | None = None


@dataclass(frozen=True)
class Rough:
    """Readings with a lower and an upper edge (infinite: held), how many blocks read so, and their cell."""

    low: Array
    high: Array
    count: Array
    cell: Index


@dataclass(frozen=True)
class Cells:
    """One cell for each share, condition and mix with a standing block, by number."""

    shares: tuple[float, ...]
    conditions: tuple[str, ...]
    share: Index
    condition: Index
    mix: Index
    exact_count: Array
    exact_mean: Array
    exact_square: Array
    rough: Rough
    straight: bool = False

    @property
    def x(self) -> Array:
        """Return where each cell lies along the curve."""
        return self.along(np.asarray(self.shares))[self.share]

    @property
    def middle(self) -> float:
        """Return the middle of the tested shares, in logs unless straight."""
        low, high = self._scaled(np.array([self.shares[0], self.shares[-1]])).tolist()
        return float(low + high) / 2

    def along(self, shares: Array) -> Array:
        """Return where shares lie along the curve: 0 at the middle of the tested ones."""
        found: Array = self._scaled(shares) - self.middle
        return found

    def _scaled(self, shares: Array) -> Array:
        found: Array = np.asarray(shares, dtype=float) if self.straight else np.log(shares + OFFSET)
        return found


def gather(rows: Sequence[Row], *, straight: bool = False) -> Cells:
    """Return the cells of rows; at least one reading must have stood.

    Parameters
    ----------
    rows : Sequence[Row]
        Shares above 0; 0 too where the curve is straight.
    straight : bool
        Whether the curve runs along the quantity itself and not along the logarithm of a share.

    Returns
    -------
    Cells
        Sorted by share, condition and mix, so that the order of input cannot matter.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> cells = gather([Row(0.06, "dry", (broke(stress_mpa=3.0),)), Row(0.04, "dry", (broke(stress_mpa=2.0),))])
    >>> cells.shares, cells.exact_count.tolist()
    ((0.04, 0.06), [1.0, 1.0])
    """
    shares = tuple(sorted({row.share for row in rows}))
    conditions = tuple(dict.fromkeys(row.condition for row in rows))
    order = sorted(conditions)
    joined: dict[tuple[float, str, str], list[Reading]] = {}
    for row in rows:
        standing = [reading for reading in row.readings if reading.outcome != "fell apart"]
        if standing:
            joined.setdefault((row.share, row.condition, row.mix or ""), []).extend(standing)
    keys = sorted(joined)
    mixes = sorted({(share, mix) for share, _, mix in keys})
    exact = [sorted(math.log(one.stress_mpa) for one in joined[key] if _exact(one)) for key in keys]
    means = [math.fsum(values) / len(values) if values else 0.0 for values in exact]
    return Cells(
        shares=shares,
        conditions=tuple(order),
        share=np.array([shares.index(share) for share, _, _ in keys], dtype=np.int64),
        condition=np.array([order.index(condition) for _, condition, _ in keys], dtype=np.int64),
        mix=np.array([mixes.index((share, mix)) for share, _, mix in keys], dtype=np.int64),
        exact_count=np.array([float(len(values)) for values in exact]),
        exact_mean=np.array(means),
        exact_square=np.array(
            [math.fsum((v - mean) ** 2 for v in values) for values, mean in zip(exact, means, strict=True)]
        ),
        rough=_rough([joined[key] for key in keys]),
        straight=straight,
    )


def _exact(reading: Reading) -> bool:
    return reading.low_mpa == reading.high_mpa


def _rough(by_cell: Sequence[Sequence[Reading]]) -> Rough:
    found = [
        (number, _log(low), _log(high), float(count))
        for number, readings in enumerate(by_cell)
        for (low, high), count in sorted(Counter((r.low_mpa, r.high_mpa) for r in readings if not _exact(r)).items())
    ]
    columns = list(zip(*found, strict=True)) if found else [(), (), (), ()]
    return Rough(
        low=np.array(columns[1], dtype=float),
        high=np.array(columns[2], dtype=float),
        count=np.array(columns[3], dtype=float),
        cell=np.array(columns[0], dtype=np.int64),
    )


def _log(stress_mpa: float) -> float:
    return math.log(stress_mpa) if stress_mpa > 0 else -math.inf
