"""How far two passes of different fineness are apart, in units of what the engine promises."""

import math
from collections.abc import Sequence
from typing import Any

from service.trade.strength.estimate_result import StrengthAnswer

STRENGTH_TOLERANCE = 0.005
CHANCE_TOLERANCE = 0.005
_CHANCES = ("assurance", "p_cheapest", "p_more", "p_less", "p_same")
_NAMES = ("recipe", "condition", "name", "a", "b")


def apart(coarse: StrengthAnswer, fine: StrengthAnswer) -> float:
    """Return the largest difference between two answers over its tolerance.

    Parameters
    ----------
    coarse, fine : StrengthAnswer
        Two answers to the same job.

    Returns
    -------
    float
        0 where they are alike; 1 where strengths differ by 0.5 % or chances by 0.005.

    Source
    ------
    own-rule : the tolerances of the contract.

    Examples
    --------
    ln(1.005) over 0.005:

    >>> from service.trade.strength.estimate_result import Scatter
    >>> one, other = (
    ...     StrengthAnswer((Scatter("dry", median, 0.1, 0.2),), (), (), (), ()) for median in (0.150, 0.15075)
    ... )
    >>> round(apart(one, other), 4)
    0.9975
    """
    before, after = coarse.as_dict(), fine.as_dict()
    return max(
        (_rows_apart(before[part], after[part]) for part in ("scatter", "groups", "limits", "pairs", "order")),
        default=0.0,
    )


def _rows_apart(before: Sequence[dict[str, Any]], after: Sequence[dict[str, Any]]) -> float:
    by_name = {_name(row): row for row in before}
    return max((_row_apart(by_name[_name(row)], row) for row in after), default=0.0)


def _name(row: dict[str, Any]) -> tuple[str, ...]:
    return tuple(str(row.get(name)) for name in _NAMES)


def _row_apart(before: dict[str, Any], after: dict[str, Any]) -> float:
    worst = 0.0
    for key, value in after.items():
        if isinstance(value, float):
            if key in _CHANCES:
                worst = max(worst, abs(value - before[key]) / CHANCE_TOLERANCE)
            else:
                worst = max(worst, abs(math.log(value / before[key])) / STRENGTH_TOLERANCE)
    return worst
