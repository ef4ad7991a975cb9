"""How much of its strength a recipe keeps in the water."""

import math
from dataclasses import dataclass

from service.trade.strength.estimate_result import GroupStrength

_NINETY = 1.6449


@dataclass(frozen=True)
class Kept:
    """Soaked strength over dry; None where it was not measured."""

    ratio: float | None
    low: float | None
    high: float | None


def kept_in_water(soaked: GroupStrength, dry: GroupStrength, *, dry_floor_mpa: float | None, error_sd: float) -> Kept:
    """Return the ratio of the median strengths, soaked over not soaked, with its 90 % interval.

    Parameters
    ----------
    soaked : GroupStrength
        What is said of the recipe soaked.
    dry : GroupStrength
        What is said of the same recipe in another condition.
    dry_floor_mpa : float or None
        Where every dry block outlived the press, the strength that is sure at least.
    error_sd : float
        The error of scale and mixes together, on the log; it is in both intervals and falls out of the ratio.

    Returns
    -------
    Kept
        All None where a soaked block fell apart or all of either outlived the press; where every dry block
        outlived it, only the upper end.

    Source
    ------
    strength-model : the logarithms of both taken as normal and as apart, which leaves out what the spread between
        recipes has in common.

    Examples
    --------
    >>> def said(median, low, high, fell=0):
    ...     return GroupStrength("A", "", 5, 0, fell, median, low, high, None, None, None, None)
    >>> kept_in_water(said(2.0, 1.5, 2.5), said(4.0, 4.0, 4.0), dry_floor_mpa=None, error_sd=0.0)
    Kept(ratio=0.5, low=0.375, high=0.625)
    """
    if soaked.fell_apart or soaked.median_mpa is None or soaked.high_mpa is None:
        return Kept(None, None, None)
    if dry.median_mpa is None:
        return Kept(None, None, soaked.high_mpa / dry_floor_mpa if dry_floor_mpa else None)
    ratio = soaked.median_mpa / dry.median_mpa
    below = math.hypot(
        _side(soaked.low_mpa, soaked.median_mpa, error_sd), _side(dry.high_mpa, dry.median_mpa, error_sd)
    )
    above = math.hypot(
        _side(soaked.high_mpa, soaked.median_mpa, error_sd), _side(dry.low_mpa, dry.median_mpa, error_sd)
    )
    return Kept(ratio, ratio * math.exp(-below), ratio * math.exp(above))


def _side(end: float | None, median: float, error_sd: float) -> float:
    """Return how far one end of an interval lies from its median on the log, the common error taken off."""
    reach = math.log(end / median) if end else 0.0
    return math.sqrt(max(0.0, reach**2 - (_NINETY * error_sd) ** 2))
