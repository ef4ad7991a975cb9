"""The rules of the strength answer that need no probability: rule, verdict and order."""

import math
from collections.abc import Sequence
from decimal import Decimal

from service.trade.strength.censored_readings import Reading
from service.trade.strength.estimate_result import CharacteristicBy, Limit, LimitAnswer, OrderAnswer, Rule, Verdict
from service.trade.strength.statistics import KN_UNKNOWN, NZS_SPECIMENS, characteristic_en_1990, characteristic_nzs_4298

_RANK = {"will do": 0, "not settled": 1, "will not do": 2}


def speaks_for(readings: Sequence[Reading], limit: Limit) -> bool:
    """Return whether anything measured speaks for or against a limit.

    Parameters
    ----------
    readings : Sequence[Reading]
        Every block of the group, those that fell apart too; may be empty.
    limit : Limit
        The limit.

    Returns
    -------
    bool
        False without readings, and where every block was held below the limit.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import held
    >>> speaks_for([held(stress_mpa=1.0)], Limit("floor", "soaked", "mean", 2.0, 5))
    False
    """
    return any(reading.outcome != "held" or reading.stress_mpa >= limit.limit_mpa for reading in readings)


def rule_of(readings: Sequence[Reading], limit: Limit) -> Rule | None:
    """Return the rule applied to the readings as they stand.

    A rule is put to as many blocks as it asks for: the first in the order given, which is that in which they were
    crushed. Blocks crushed later do not change it, but for one that falls apart: no recipe of which a block fell apart
    meets a limit there.

    Parameters
    ----------
    readings : Sequence[Reading]
        Every block of the group, in order; fell apart counts as 0, held as at least.
    limit : Limit
        The limit with its statistic and required number of blocks.

    Returns
    -------
    str or None
        ``no readings``, ``not met``, ``met``, ``too few`` or ``cannot tell``; None for a characteristic value that
        no text says how to make of the readings.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> rule_of([broke(stress_mpa=2.5)], Limit("floor", "soaked", "each", 2.0, 5))
    'too few'
    """
    if not readings:
        return "no readings"
    if limit.statistic == "characteristic" and not limit.by:
        return None
    taken = readings[: limit.blocks]
    if any(reading.outcome == "fell apart" for reading in readings) or _cannot_reach(taken, limit):
        return "not met"
    reached = _statistic(taken, limit)
    if reached is not None and reached >= limit.limit_mpa:
        return "met" if len(taken) >= limit.blocks else "too few"
    return "cannot tell"


def characteristic_of(readings: Sequence[Reading], by: CharacteristicBy) -> float | None:
    """Return the characteristic value that a text makes of the readings.

    Parameters
    ----------
    readings : Sequence[Reading]
        Of one recipe in one condition; may be empty.
    by : CharacteristicBy
        The text.

    Returns
    -------
    float or None
        In MPa, unrounded; None where a block was held or fell apart, for then there is no mean and no deviation,
        and where the text has no value for so many: NZS 4298 takes exactly five, Table D1 of EN 1990 three or more.

    Source
    ------
    en-1990-d1, nzs-4298

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> five = [broke(stress_mpa=stress) for stress in (2.1, 2.4, 2.5, 2.7, 3.0)]
    >>> round(characteristic_of(five, "nzs-4298"), 4), characteristic_of(five[:4], "nzs-4298")
    (1.6831, None)
    """
    stresses = [reading.stress_mpa for reading in readings if reading.outcome == "broke" and reading.stress_mpa > 0]
    if len(stresses) < len(readings):
        return None
    if by == "nzs-4298" and len(stresses) == NZS_SPECIMENS:
        return characteristic_nzs_4298(stresses)
    if by == "en-1990-d1" and len(stresses) >= min(KN_UNKNOWN):
        return characteristic_en_1990(stresses).value_mpa
    return None


def _statistic(readings: Sequence[Reading], limit: Limit) -> float | None:
    stresses = [reading.stress_mpa for reading in readings]
    if limit.statistic == "characteristic":
        return characteristic_of(readings, limit.by)
    return math.fsum(stresses) / len(stresses) if limit.statistic == "mean" else min(stresses)


def _cannot_reach(readings: Sequence[Reading], limit: Limit) -> bool:
    broken = [reading for reading in readings if reading.outcome == "broke"]
    if limit.statistic == "each":
        return any(reading.stress_mpa < limit.limit_mpa for reading in broken)
    reached = _statistic(readings, limit)
    complete = len(broken) == len(readings) >= limit.blocks
    return complete and reached is not None and reached < limit.limit_mpa


def verdict_of(limits: Sequence[LimitAnswer], *, assurance: float | None, wanted: float) -> Verdict:
    """Return what is said of a recipe.

    Parameters
    ----------
    limits : Sequence[LimitAnswer]
        The recipe's limits.
    assurance : float or None
        That all hold at once; 0 to 1.
    wanted : float
        The assurance asked for; 0 < wanted < 1.

    Returns
    -------
    str
        ``will do``, ``not settled`` or ``will not do``.

    Source
    ------
    strength-model

    Examples
    --------
    >>> verdict_of([], assurance=None, wanted=0.95)
    'not settled'
    """
    if any(limit.rule == "not met" for limit in limits):
        return "will not do"
    fulfilled = all(limit.rule in ("met", "too few", None) for limit in limits)
    if assurance is not None and assurance >= wanted and fulfilled:
        return "will do"
    return "will not do" if assurance is not None and assurance <= 1 - wanted else "not settled"


def sorted_order(rows: Sequence[OrderAnswer]) -> tuple[OrderAnswer, ...]:
    """Return the recipes in the order in which they are told.

    Parameters
    ----------
    rows : Sequence[OrderAnswer]
        One a recipe.

    Returns
    -------
    tuple[OrderAnswer, ...]
        Will do by cost (none last), not settled by falling assurance (none last), will not do likewise; ties by name.

    Source
    ------
    strength-model

    Examples
    --------
    >>> rows = [OrderAnswer("B", "not settled", 0.6, None, None), OrderAnswer("A", "not settled", 0.8, None, None)]
    >>> [row.recipe for row in sorted_order(rows)]
    ['A', 'B']
    """

    def key(row: OrderAnswer) -> tuple[int, bool, Decimal, str]:
        if row.verdict == "will do":
            return _RANK[row.verdict], row.cost is None, row.cost or Decimal(0), row.recipe
        # Rounding keeps alike recipes alike, so that the name decides and not the last digit.
        falling = -round(Decimal(row.assurance or 0.0), 9)
        return _RANK[row.verdict], row.assurance is None, falling, row.recipe

    return tuple(sorted(rows, key=key))
