"""Liquid and plastic limit, the index between them and its lines, and the shrinkage box."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from service.trade.linear_fit import fit_line
from service.trade.validation import refuse, require

BLOWS_LEAST, BLOWS_MOST = 5, 60
ONE_POINT_LEAST, ONE_POINT_MOST = 20, 30
ONE_POINT_EXPONENT = 0.121
BLOWS_AT_LIMIT = 25


@dataclass(frozen=True)
class FlowPoint:
    """One closing of the groove: blows of the cup and the water then."""

    blows: int
    water: float


@dataclass(frozen=True)
class Flow:
    """The liquid limit; the flow line's index and fit are None from one point."""

    liquid_limit: float
    flow_index: float | None
    flow_r2: float | None


@dataclass(frozen=True)
class Reported:
    """The limits in whole percent, as they are reported."""

    liquid_limit: int
    plastic_limit: int | None
    plasticity_index: int


@dataclass(frozen=True)
class Limits:
    """The limits of a soil as shares of dry mass, and where they lie on the plasticity chart."""

    liquid_limit: float
    plastic_limit: float | None
    plasticity_index: float
    flow_index: float | None
    flow_r2: float | None
    plastic_range: float | None
    a_line_index: float
    u_line_index: float
    above_a_line: bool
    above_u_line: bool
    non_plastic: bool
    reported: Reported


def liquid_limit(flow: Sequence[FlowPoint]) -> Flow:
    """Return the liquid limit from the cup.

    Parameters
    ----------
    flow : Sequence[FlowPoint]
        Three or more points, or one with 20 to 30 blows; blows 5 to 60, water over dry mass above 0.

    Returns
    -------
    Flow
        Water at 25 blows: on the straight line of water on log10 blows, or water x (blows / 25)^0.121;
        and with a line its index (minus the slope) and r2.

    Raises
    ------
    Invalid
        If there are no or two points, blows are out of range, or all points have the same blows.

    Source
    ------
    d4318 : methods A (line) and B (one point, exponent 0.121).

    Examples
    --------
    At 25 blows the one point is the limit:

    >>> liquid_limit([FlowPoint(25, 0.37)]).liquid_limit
    0.37
    """
    if len(flow) in (0, 2):
        refuse({"flow": "Three or more points are needed, or one alone."})
    require(positive={f"flow.{index}.water": point.water for index, point in enumerate(flow)})
    least, most = (ONE_POINT_LEAST, ONE_POINT_MOST) if len(flow) == 1 else (BLOWS_LEAST, BLOWS_MOST)
    outside = [index for index, point in enumerate(flow) if not least <= point.blows <= most]
    if outside:
        refuse({f"flow.{index}.blows": f"This must be from {least} to {most} blows." for index in outside})
    if len(flow) == 1:
        water = flow[0].water * (flow[0].blows / BLOWS_AT_LIMIT) ** ONE_POINT_EXPONENT
        return Flow(liquid_limit=water, flow_index=None, flow_r2=None)
    if len({point.blows for point in flow}) == 1:
        refuse({"flow": "The points need different numbers of blows."})
    line = fit_line(x=[math.log10(point.blows) for point in flow], y=[point.water for point in flow])
    return Flow(liquid_limit=line.at(math.log10(BLOWS_AT_LIMIT)), flow_index=-line.slope, flow_r2=line.r2)


def limits_of(*, flow: Sequence[FlowPoint], plastic: Sequence[float] | None) -> Limits:
    """Return the limits of a soil and where they lie against the A-line and the U-line.

    Parameters
    ----------
    flow : Sequence[FlowPoint]
        Points of the cup, as in `liquid_limit`.
    plastic : Sequence[float] or None
        Water at which threads crumbled, one or more, each above 0; None for a soil that gives no thread.

    Returns
    -------
    Limits
        Limits and index as shares, unrounded; A-line 0.73 (LL - 0.20), on the line counts as above; U-line
        0.9 (LL - 0.08); whole percents, half up, as reported. An index below zero is 0 and non-plastic.

    Raises
    ------
    Invalid
        If a point or a thread is out of range.

    Source
    ------
    d4318, d2487 : limits and their rounding; the A-line and the U-line.

    Examples
    --------
    LL 0.37 and PL 0.17: A-line 0.73 x 0.17 = 0.1241, the index 0.20 lies above it:

    >>> soil = limits_of(flow=[FlowPoint(25, 0.37)], plastic=[0.17])
    >>> soil.above_a_line, soil.reported.plasticity_index
    (True, 20)
    """
    cup = liquid_limit(flow)
    threads = _threads(plastic)
    limit = _exact(cup.liquid_limit)
    index = limit - _mean(threads) if threads else Fraction(0)
    non_plastic = not threads or index < 0
    index = max(index, Fraction(0))
    on_a_line, on_u_line = a_line(limit), u_line(limit)
    return Limits(
        liquid_limit=cup.liquid_limit,
        plastic_limit=float(_mean(threads)) if threads else None,
        plasticity_index=float(index),
        flow_index=cup.flow_index,
        flow_r2=cup.flow_r2,
        plastic_range=float(max(threads) - min(threads)) if threads else None,
        a_line_index=float(on_a_line),
        u_line_index=float(on_u_line),
        above_a_line=index >= on_a_line,
        above_u_line=index > on_u_line,
        non_plastic=non_plastic,
        reported=_reported(limit, _mean(threads) if threads else None),
    )


def a_line(liquid_limit: Fraction) -> Fraction:
    """Return the plasticity index on the A-line, which parts clay from silt.

    Parameters
    ----------
    liquid_limit : Fraction
        As a share of dry mass.

    Returns
    -------
    Fraction
        0.73 (LL - 0.20), exact; below 0 for a limit below 0.20.

    Source
    ------
    d2487 : the plasticity chart; a point on the line counts as above.

    Examples
    --------
    At LL 0.61 the line is at 0.73 x 0.41:

    >>> from fractions import Fraction
    >>> float(a_line(Fraction(61, 100)))
    0.2993
    """
    return Fraction(73, 100) * (liquid_limit - Fraction(20, 100))


def u_line(liquid_limit: Fraction) -> Fraction:
    """Return the plasticity index on the U-line, above which natural soils are hardly found.

    Parameters
    ----------
    liquid_limit : Fraction
        As a share of dry mass.

    Returns
    -------
    Fraction
        0.9 (LL - 0.08), exact; below 0 for a limit below 0.08.

    Source
    ------
    d2487 : the plasticity chart.

    Examples
    --------
    At LL 0.58 the line is at 0.9 x 0.50:

    >>> from fractions import Fraction
    >>> float(u_line(Fraction(58, 100)))
    0.45
    """
    return Fraction(9, 10) * (liquid_limit - Fraction(8, 100))


def linear_shrinkage(*, box_length_mm: float, shrinkage_mm: float) -> float:
    """Return the linear shrinkage of a soil in the box.

    Parameters
    ----------
    box_length_mm : float
        Inner length of the box, in mm; above 0.
    shrinkage_mm : float
        Gaps and cracks together, pushed to one end, in mm; 0 or more, below the length.

    Returns
    -------
    float
        Shrinkage over length, unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    shrinkage-box

    Examples
    --------
    >>> linear_shrinkage(box_length_mm=600, shrinkage_mm=30)
    0.05
    """
    require(positive={"box_length_mm": box_length_mm}, not_negative={"shrinkage_mm": shrinkage_mm})
    if shrinkage_mm >= box_length_mm:
        refuse({"shrinkage_mm": "The soil cannot shrink by the whole length of the box."})
    return shrinkage_mm / box_length_mm


def _exact(number: float) -> Fraction:
    # A soil exactly on the A-line by its typed digits is on it, not a last binary digit below.
    return Fraction(repr(float(number)))


def _threads(plastic: Sequence[float] | None) -> list[Fraction]:
    if plastic is None:
        return []
    if not plastic:
        refuse({"plastic": "At least one thread is needed."})
    require(positive={f"plastic.{index}": water for index, water in enumerate(plastic)})
    return [_exact(water) for water in plastic]


def _mean(values: Sequence[Fraction]) -> Fraction:
    return sum(values, Fraction(0)) / len(values)


def _whole_percent(share: Fraction) -> int:
    return math.floor(share * 100 + Fraction(1, 2))


def _reported(limit: Fraction, plastic: Fraction | None) -> Reported:
    liquid = _whole_percent(limit)
    if plastic is None:
        return Reported(liquid_limit=liquid, plastic_limit=None, plasticity_index=0)
    threads = _whole_percent(plastic)
    return Reported(liquid_limit=liquid, plastic_limit=threads, plasticity_index=max(liquid - threads, 0))
