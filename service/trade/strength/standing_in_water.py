"""Will it stand in water: the chance that a block does, from those that stood and those that fell apart.

    P(stands) = Phi(a + b (x - xbar))        x = ln(share of stabiliser + 0.5 %)
    a ~ N(0, 1)                              with one recipe: any chance is as likely as any other beforehand
    b ~ N(1, 1), at least 0                  more stabiliser does not make a block fall apart

Solved on a fixed grid. It is another question than strength, and no strength enters it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.trade.strength.content_curve.cells import OFFSET
from service.trade.strength.fit.logs import Array, below
from service.trade.validation import refuse

_LEVELS = np.linspace(-6.0, 6.0, 241)
_SLOPES = np.linspace(0.0, 5.0, 51)
_SLOPE, _SLOPE_SD = 1.0, 1.0
_TAIL = 0.05


@dataclass(frozen=True)
class Soaked:
    """Blocks of one recipe that were in the water: its share of stabiliser, how many stood and how many fell apart."""

    share: float
    stood: int
    fell: int


@dataclass(frozen=True)
class Stands:
    """Chance that the next block stands, and what it is at least, 95 % sure."""

    chance: float
    at_least: float


def standing(soaked: Sequence[Soaked]) -> tuple[Stands, ...]:
    """Return the chance that the next block of each recipe stands in the water.

    Parameters
    ----------
    soaked : Sequence[Soaked]
        Recipes of one soil and stabiliser, in one condition; shares of dry soil, 0 or more, a block each at least.

    Returns
    -------
    tuple[Stands, ...]
        One for each recipe.

    Raises
    ------
    Invalid
        If there is no recipe, or one without blocks or with a share below 0 (``soaked``).

    Source
    ------
    own-rule : probit on the logarithm of the share, weak priors without a published source.

    Examples
    --------
    One recipe of which five of five stood: (5 + 1) / (5 + 2), Laplace's rule of succession.

    >>> round(standing([Soaked(0.06, 5, 0)])[0].chance, 4)
    0.8571
    """
    if not soaked or any(one.stood < 0 or one.fell < 0 or one.stood + one.fell < 1 or one.share < 0 for one in soaked):
        refuse({"soaked": "Each recipe needs a block at least, and a share of 0 or more."})
    x = np.array([math.log(one.share + OFFSET) for one in soaked])
    lies = _LEVELS[:, None, None] + _SLOPES[None, :, None] * (x - x.mean())
    stands: Array = below(lies)
    counts = np.array([[one.stood, one.fell] for one in soaked], dtype=float)
    tiny = 1e-300
    told = np.log(np.maximum(stands, tiny)) @ counts[:, 0] + np.log(np.maximum(below(-lies), tiny)) @ counts[:, 1]
    prior = -(_LEVELS[:, None] ** 2) / 2 - ((_SLOPES - _SLOPE) / _SLOPE_SD) ** 2 / 2
    weight = np.exp(told + prior - (told + prior).max())
    weight /= weight.sum()
    return tuple(_one(stands[:, :, place].ravel(), weight.ravel()) for place in range(len(soaked)))


def _one(stands: Array, weight: Array) -> Stands:
    places, cell = np.unique(stands.round(9), return_inverse=True)
    share = np.bincount(cell, weights=weight)
    # Each place holds its weight evenly around its middle.
    reached = np.cumsum(share) - share / 2
    return Stands(float(weight @ stands), float(np.interp(_TAIL, reached, places)))
