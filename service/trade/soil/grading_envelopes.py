"""Published curves to blend towards, as data with source and standing, and how far a soil lies outside."""

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from service.trade.soil.grading import Curve
from service.trade.sources import Standing

DATA = Path(__file__).with_suffix(".toml")


@dataclass(frozen=True)
class Bound:
    """The least and the most that should be finer than a size."""

    size_mm: float
    low: float
    high: float


@dataclass(frozen=True)
class Envelope:
    """A named set of bounds, coarse to fine, with its source."""

    key: str
    name: str
    bounds: tuple[Bound, ...]
    source: str
    standing: Standing | Literal["own"]


@cache
def published_envelopes() -> tuple[Envelope, ...]:
    """Return the published envelopes, in the order of their file.

    Returns
    -------
    tuple[Envelope, ...]
        Sizes in mm, shares of dry mass; each with source and standing.

    Source
    ------
    kenya-housing, bru-1974, extension-mix

    Examples
    --------
    >>> published_envelopes()[0].bounds
    (Bound(size_mm=0.075, low=0.15, high=0.35),)
    """
    rows = tomllib.loads(DATA.read_text("utf-8"))["envelope"]
    return tuple(Envelope(**(row | {"bounds": tuple(Bound(**bound) for bound in row["bounds"])})) for row in rows)


def distance_outside(curve: Curve, bounds: Sequence[Bound]) -> float | None:
    """Return how far a curve lies outside an envelope at its worst size.

    Parameters
    ----------
    curve : Curve
        Shares passing.
    bounds : Sequence[Bound]
        One or more.

    Returns
    -------
    float or None
        Largest distance in shares, 0 inside, unrounded; None where the curve does not reach a size.

    Source
    ------
    computed-here : distance of a point from an interval.

    Examples
    --------
    >>> from service.trade.soil.grading import Passing
    >>> round(distance_outside(Curve((Passing(0.075, 0.45),)), [Bound(0.075, 0.15, 0.35)]), 6)
    0.1
    """
    worst = 0.0
    for bound in bounds:
        share = curve.share_at(bound.size_mm)
        if share is None:
            return None
        worst = max(worst, bound.low - share, share - bound.high)
    return worst
