"""Whether readings and what was believed before them disagree."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from service.trade.strength.estimate_result import Group
from service.trade.strength.prior import Prior

# Own rule: said where it would happen by chance once in a hundred times, and only of four degrees of freedom or more.
_FAR, _FEWEST = 2.576, 4


@dataclass(frozen=True)
class Disagreement:
    """Scatter of the blocks of a condition as read, and as it was expected before."""

    condition: str
    seen: float
    expected: float


def disagreements(groups: Sequence[Group], prior: Prior) -> tuple[Disagreement, ...]:
    """Return the conditions in which blocks scatter otherwise than was expected.

    Parameters
    ----------
    groups : Sequence[Group]
        The readings; blocks that were held or fell apart are left aside.
    prior : Prior
        What was believed before.

    Returns
    -------
    tuple[Disagreement, ...]
        Where the log of the pooled scatter within recipes lies more than 2.576 standard deviations off, which are those
        of the belief and of the readings (1 / 2 f for f degrees of freedom) together.

    Source
    ------
    own-rule : the bound; the variance of the log of a standard deviation is 1 / 2 f.

    Examples
    --------
    Blocks that differ by a third where 8 % is believed:

    >>> from service.trade.strength.censored_readings import broke
    >>> blocks = tuple(broke(stress_mpa=value) for value in (2.0, 2.6, 3.3, 1.7, 3.9))
    >>> found = disagreements([Group("A", "soaked", blocks)], Prior(scatter=0.08, scatter_log_sd=0.2))
    >>> [(one.condition, round(one.seen, 2)) for one in found]
    [('soaked', 0.34)]
    """
    found = []
    for condition in dict.fromkeys(group.condition for group in groups):
        squares, free = 0.0, 0
        for group in groups:
            broken = [one.stress_mpa for one in group.readings if one.outcome == "broke" and one.stress_mpa > 0]
            if group.condition == condition and len(broken) > 1:
                logs = [math.log(one) for one in broken]
                middle = math.fsum(logs) / len(logs)
                squares += math.fsum((one - middle) ** 2 for one in logs)
                free += len(logs) - 1
        if free >= _FEWEST and squares > 0:
            seen = math.sqrt(squares / free)
            off = math.log(seen / prior.scatter) / math.hypot(prior.scatter_log_sd, math.sqrt(1 / (2 * free)))
            if abs(off) > _FAR:
                found.append(Disagreement(condition, seen, prior.scatter))
    return tuple(found)
