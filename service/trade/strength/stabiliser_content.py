"""How little stabiliser will do: one curve through blocks of several shares, and the least share that meets all limits.

For share s, condition c, mix b and block i, strength y in MPa:

    ln y = m_sc + d_b + e                          d_b ~ N(0, beta^2), e ~ N(0, sigma_c^2)
    m_sc = theta_c + slope x + bend x^2 + u_s + v_sc      x = ln(s + 0.5 %), from the middle of the tested shares

An untested share has its own u and v, so that the band is wider between tested shares than at them.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

import numpy as np

from service.phrase import Phrase, Value
from service.trade.strength.content_curve.cells import OFFSET, Row, gather
from service.trade.strength.content_curve.curve_prior import CurvePrior
from service.trade.strength.content_curve.design import Fit, fit
from service.trade.strength.content_curve.reading_off import TAIL, assurance, places, quantiles, slope
from service.trade.strength.estimate_result import Limit
from service.trade.strength.fit.logs import Array
from service.trade.validation import refuse

Kind = Literal["tested", "between", "outside"]
# As far as half the least and twice the greatest tested share a band is given; beyond, nothing is.
LEAST_OF_LEAST, MOST_OF_MOST = 0.5, 2.0
_GRID, _NARROWED = 120, 14
_CHUNK = 64


@dataclass(frozen=True)
class ContentAt:
    """Strength at one share in one condition: median and 90 % interval, and the next block of a new mix.

    None where nothing measured speaks for it: every standing block of the shares it rests on was held.
    """

    share: float
    condition: str
    kind: Kind
    strength_mpa: float | None
    low_mpa: float | None
    high_mpa: float | None
    next_low_mpa: float | None
    next_high_mpa: float | None


@dataclass(frozen=True)
class Slope:
    """Slope of ln strength on ln share at the middle of the tested shares, with its 90 % interval."""

    median: float
    low: float
    high: float


@dataclass(frozen=True)
class Least:
    """The least share at which all limits hold with the assurance asked for."""

    share: float
    kind: Kind
    assurance: float


@dataclass(frozen=True)
class ContentAnswer:
    """What the readings of several shares say of any share."""

    at: tuple[ContentAt, ...]
    slope: Slope
    least: Least | None
    why: Phrase | None


def content(
    rows: Sequence[Row],
    *,
    at: Sequence[float] = (),
    limits: Sequence[Limit] = (),
    wanted: float = 0.95,
    prior: CurvePrior | None = None,
    scale_sd: float = 0.0,
) -> ContentAnswer:
    """Return strength at any share, the slope, and the least share at which every limit holds.

    Parameters
    ----------
    rows : Sequence[Row]
        Blocks by share (of the dry soil, 0 or more), condition and mix; one soil, one stabiliser; two shares at least.
    at : Sequence[float]
        Shares asked for, from half the least tested to twice the greatest.
    limits : Sequence[Limit]
        The rules that a share must meet; names differ.
    wanted : float
        Assurance asked for; above 0, below 1.
    prior : CurvePrior or None
        What is believed beforehand, and whether the curve is straight (added sand, water); None: as published.
    scale_sd : float
        Error of the press on the log, shared by all readings; 0 or more.

    Returns
    -------
    ContentAnswer
        Strengths in MPa, medians and equal-tailed 90 %.

    Raises
    ------
    Invalid
        If no block broke, fewer than two shares differ, or a share asked for is too far out (``at.0``).
    Unsettled
        If the readings leave too much open.

    Source
    ------
    strength-model

    Examples
    --------
    Strength in proportion to the share is read off in proportion between the shares:

    >>> from service.trade.strength.censored_readings import broke
    >>> rows = [Row(s, "dry", (broke(stress_mpa=50 * s),) * 5) for s in (0.04, 0.06, 0.08)]
    >>> found = content(rows, at=[0.05]).at[0]
    >>> found.kind, round(found.strength_mpa, 1)
    ('between', 2.5)
    """
    _check(rows, at, limits, wanted)
    series = _Series(tuple(rows), prior or CurvePrior(), scale_sd)
    low, middle, high = slope(series.fitted, [TAIL, 0.5, 1 - TAIL])
    least, why = _least(series, tuple(limits), wanted)
    return ContentAnswer(series.at(at), Slope(float(middle), float(low), float(high)), least, why)


def chances(
    rows: Sequence[Row],
    shares: Sequence[float],
    limits: Sequence[Limit],
    *,
    prior: CurvePrior | None = None,
    scale_sd: float = 0.0,
) -> tuple[float, ...]:
    """Return the chance that every limit holds at once, share by share: of sand and water, more is not always better.

    Parameters
    ----------
    rows : Sequence[Row]
        As for ``content``.
    shares : Sequence[float]
        Shares asked for; outside the tested ones the chance is 0, for nothing is said there.
    limits : Sequence[Limit]
        The rules that a share must meet; at least one.
    prior : CurvePrior or None
        As for ``content``.
    scale_sd : float
        As for ``content``.

    Returns
    -------
    tuple[float, ...]
        One chance a share, 0 to 1. It is 0 where a limit was not measured, and at and beside a tested share of
        which a block fell apart in a limit's condition.

    Raises
    ------
    Invalid, Unsettled
        As ``content``.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> rows = [Row(s, "dry", (broke(stress_mpa=mpa),) * 9) for s, mpa in ((0.0, 2.0), (0.1, 4.0), (0.2, 2.0))]
    >>> prior = CurvePrior(slope=0.0, slope_sd=1.0, bend=0.0, bend_sd=100.0, straight=True)
    >>> [round(one) for one in chances(rows, [0.0, 0.1, 0.2, 0.3], [Limit("l", "dry", "mean", 3.0, 5)], prior=prior)]
    [0, 1, 0, 0]
    """
    _check(rows, (), limits, 0.5)
    series = _Series(tuple(rows), prior or CurvePrior(), scale_sd)
    if not limits or _unmeasured(series, limits):
        return (0.0,) * len(shares)
    fell = [share for share, condition in series.fell if any(one.condition == condition for one in limits)]
    inside = [one for one in shares if _beside_none(one, fell, series.shares)]
    found = dict(zip(inside, _assured(series, tuple(limits), inside), strict=True)) if inside else {}
    return tuple(float(found.get(one, 0.0)) for one in shares)


def _beside_none(share: float, fell: Sequence[float], tested: Sequence[float]) -> bool:
    """Return whether a share lies in the tested range and neither at nor next to one of which a block fell apart."""
    below, above = [one for one in tested if one <= share][-1:], [one for one in tested if one >= share][:1]
    return bool(below and above) and not any(one in fell for one in (*below, *above))


def kind_of(share: float, tested: Sequence[float]) -> Kind:
    """Return whether a share was tested, lies between tested ones or outside them.

    Parameters
    ----------
    share : float
        The share asked for.
    tested : Sequence[float]
        The shares tested in a condition; may be empty.

    Returns
    -------
    Kind
        tested, between or outside.

    Source
    ------
    own-rule : a share is tested in a condition where a block of it was crushed there.

    Examples
    --------
    >>> kind_of(0.05, [0.04, 0.06]), kind_of(0.07, [0.04, 0.06])
    ('between', 'outside')
    """
    if share in tested:
        return "tested"
    return "between" if tested and min(tested) < share < max(tested) else "outside"


@lru_cache(maxsize=64)
def _fitted(rows: tuple[Row, ...], prior: CurvePrior) -> Fit:
    return fit(gather(rows, straight=prior.straight), prior)


class _Series:
    """The rows of one soil and stabiliser, the curve through them, and what was measured of each share."""

    def __init__(self, rows: tuple[Row, ...], prior: CurvePrior, scale_sd: float) -> None:
        self.rows, self.scale_sd = rows, scale_sd
        self.fitted = _fitted(rows, prior)
        self.conditions = tuple(dict.fromkeys(row.condition for row in rows))
        self.shares = tuple(sorted({row.share for row in rows}))
        self.broke = {(r.share, r.condition) for r in rows if any(one.outcome == "broke" for one in r.readings)}
        self.stood = {(r.share, r.condition) for r in rows if any(one.outcome != "fell apart" for one in r.readings)}
        self.fell = {(r.share, r.condition) for r in rows if any(one.outcome == "fell apart" for one in r.readings)}

    def tested(self, condition: str) -> list[float]:
        return sorted({row.share for row in self.rows if row.condition == condition})

    def taken_to_mpa(self, condition: str) -> float:
        """Return the highest stress that a block bore in a condition."""
        reached = [one.stress_mpa for row in self.rows if row.condition == condition for one in row.readings]
        return max(reached, default=0.0)

    def at(self, shares: Sequence[float]) -> tuple[ContentAt, ...]:
        return tuple(
            one for start in range(0, len(shares), _CHUNK) for one in self._some(tuple(shares[start : start + _CHUNK]))
        )

    def _some(self, shares: Sequence[float]) -> list[ContentAt]:
        if not shares:
            return []
        found = places(self.fitted, shares, scale_sd=self.scale_sd)
        weight, spreads, order = self.fitted.weight, self.fitted.spreads, self.fitted.cells.conditions
        rows: dict[tuple[int, str], ContentAt] = {}
        for number, condition in enumerate(order):
            mean = found.mean[:, :, number]
            variance = np.maximum(found.covariance[:, :, number, number], 1e-12)
            further = (spreads.mixes**2 + spreads.scatter[:, number] ** 2)[:, None]
            strength = np.exp(quantiles(weight, mean, np.sqrt(variance), [TAIL, 0.5, 1 - TAIL]))
            block = np.exp(quantiles(weight, mean, np.sqrt(variance + further), [TAIL, 1 - TAIL]))
            for place, share in enumerate(shares):
                rows[place, condition] = self._row(share, condition, strength[:, place], block[:, place])
        return [rows[place, condition] for place in range(len(shares)) for condition in self.conditions]

    def _row(self, share: float, condition: str, strength: Array, block: Array) -> ContentAt:
        tested = self.tested(condition)
        kind = kind_of(share, tested)
        if kind == "tested" and (share, condition) not in self.stood:
            return ContentAt(share, condition, kind, None, None, None, None, None)
        whole = self.measured(share, condition)
        return ContentAt(
            share=share,
            condition=condition,
            kind=kind,
            strength_mpa=float(strength[1]) if whole else None,
            low_mpa=float(strength[0]),
            high_mpa=float(strength[2]) if whole else None,
            next_low_mpa=float(block[0]),
            next_high_mpa=float(block[1]) if whole else None,
        )

    def measured(self, share: float, condition: str) -> bool:
        """Return whether a block broke at this share, or at a tested one next to it."""
        tested = self.tested(condition)
        if share in tested:
            return (share, condition) in self.broke
        below, above = [s for s in tested if s < share][-1:], [s for s in tested if s > share][:1]
        return any((one, condition) in self.broke for one in (*below, *above))


def _least(series: _Series, limits: tuple[Limit, ...], wanted: float) -> tuple[Least | None, Phrase | None]:
    if not limits:
        return None, Phrase("No limit was given.")
    if why := _unmeasured(series, limits):
        return None, why
    conditions = dict.fromkeys(one.condition for one in limits)
    fallen = [share for share, condition in series.fell if condition in conditions]
    least = min((s for s in series.shares if s > max(fallen, default=-1.0)), default=None)
    if least is None:
        return None, Phrase("A block of the greatest share fell apart in the water.")
    found = _search(series, limits, wanted, least, series.shares[-1])
    if found is None:
        values: dict[str, Value] = {"most_share": series.shares[-1], "assurance_chance": wanted}
        return None, Phrase(
            "No share up to {most_share} reaches every limit with a chance of {assurance_chance}.", values
        )
    share, chance = found
    kinds = {kind_of(share, series.tested(condition)) for condition in conditions}
    return Least(share, "tested" if kinds == {"tested"} else "between", chance), None


def _unmeasured(series: _Series, limits: Sequence[Limit]) -> Phrase | None:
    for limit in limits:
        if limit.condition not in series.conditions:
            return Phrase("No block was crushed {condition}.", {"condition": limit.condition})
        if limit.limit_mpa > series.taken_to_mpa(limit.condition):
            values: dict[str, Value] = {"limit_mpa": limit.limit_mpa, "condition": limit.condition}
            return Phrase("No block reached {limit_mpa}, {condition}.", values)
    return None


def _search(
    series: _Series, limits: tuple[Limit, ...], wanted: float, low: float, high: float
) -> tuple[float, float] | None:
    """Return the least share from ``low`` to ``high`` whose assurance is enough, and that assurance."""
    even = np.linspace(math.log(low + OFFSET), math.log(high + OFFSET), _GRID)[1:-1] if high > low else np.array([])
    between = (float(one) for one in np.exp(even) - OFFSET)
    shares = sorted({*(s for s in series.shares if low <= s <= high), *between})
    chance = _assured(series, limits, shares)
    place = next((number for number, one in enumerate(chance) if one >= wanted), None)
    if place is None:
        return None
    share, sure = shares[place], float(chance[place])
    if place == 0 or share in series.shares:
        return share, sure
    under = shares[place - 1]
    for _ in range(_NARROWED):
        middle = (under + share) / 2
        here = float(_assured(series, limits, [middle])[0])
        if here >= wanted:
            share, sure = middle, here
        else:
            under = middle
    return share, sure


def _assured(series: _Series, limits: tuple[Limit, ...], shares: Sequence[float]) -> Array:
    found = np.concatenate(
        [
            assurance(series.fitted, places(series.fitted, part, scale_sd=series.scale_sd), limits)
            for part in (shares[start : start + _CHUNK] for start in range(0, len(shares), _CHUNK))
        ]
    )
    # A tested share whose blocks were all held below a limit was not measured where the limit asks.
    open_ones = [any(_held_below(series, share, limit) for limit in limits) for share in shares]
    return np.where(open_ones, 0.0, found)


def _held_below(series: _Series, share: float, limit: Limit) -> bool:
    if (share, limit.condition) not in series.stood or (share, limit.condition) in series.broke:
        return False
    mine = [row for row in series.rows if (row.share, row.condition) == (share, limit.condition)]
    return max(one.stress_mpa for row in mine for one in row.readings) < limit.limit_mpa


def _check(rows: Sequence[Row], at: Sequence[float], limits: Sequence[Limit], wanted: float) -> None:
    faults: dict[str, str] = {}
    if not any(one.outcome == "broke" for row in rows for one in row.readings):
        faults["rows"] = "At least one block must have broken."
    shares = sorted({row.share for row in rows})
    if len(shares) < 2:
        faults["rows"] = "At least two different shares are needed."
    else:
        low, high = LEAST_OF_LEAST * shares[0], MOST_OF_MOST * shares[-1]
        far = "From half the least to twice the greatest tested share."
        # Halves and doubles of decimals are a rounding off.
        faults |= {f"at.{n}": far for n, s in enumerate(at) if not low * (1 - 1e-12) <= s <= high * (1 + 1e-12)}
    seen: set[str] = set()
    for number, limit in enumerate(limits):
        if limit.name in seen:
            faults[f"limits.{number}.name"] = "This name is used twice."
        seen.add(limit.name)
    if not 0 < wanted < 1:
        faults["assurance"] = "This must be above 0 and below 1."
    if faults:
        refuse(faults)
