"""The readings as a limit takes them: as crushed, or each times the factor for its own block's shape."""

import math
from collections.abc import Sequence
from dataclasses import replace

from service.phrase import Phrase, Value
from service.trade.strength.censored_readings import Reading, corrected
from service.trade.strength.estimate_result import Group, Limit


def readings_for(group: Group, limit: Limit) -> tuple[Reading, ...]:
    """Return the readings of a group as one limit takes them.

    Parameters
    ----------
    group : Group
        Readings of one recipe in one condition, with their factors.
    limit : Limit
        The limit; its table of shape factors, if it names one, is the only one used.

    Returns
    -------
    tuple[Reading, ...]
        In order. A block for which the table has nothing is left out, unless it fell apart: nothing times any
        factor is nothing.

    Source
    ------
    own-rule : a factor is used only where a limit calls for it.

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> group = Group("A", "dry", (broke(stress_mpa=2.0), broke(stress_mpa=3.0)), factors=(("krefeld", (0.5, None)),))
    >>> [one.stress_mpa for one in readings_for(group, Limit("f", "dry", "each", 1.0, 5, shape="krefeld"))]
    [1.0]
    """
    if not limit.shape:
        return group.readings
    taken = [
        reading if reading.outcome == "fell apart" else None if factor is None else corrected(reading, factor=factor)
        for reading, factor in zip(group.readings, _factors(group, limit), strict=True)
    ]
    return tuple(one for one in taken if one is not None)


def limit_as_crushed_mpa(group: Group, limit: Limit) -> float:
    """Return the stress as crushed at which a group's blocks, corrected, stand at the limit.

    Parameters
    ----------
    group : Group
        Readings of one recipe in one condition, with their factors.
    limit : Limit
        The limit.

    Returns
    -------
    float
        Limit over the geometric mean of the factors of the blocks that stood, in MPa, unrounded; infinite where no
        block has one, for then nothing shows that it is reached.

    Source
    ------
    own-rule : strength is taken as lognormal, so that a factor moves its logarithm and leaves the scatter.

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> group = Group("A", "dry", (broke(stress_mpa=2.0),), factors=(("krefeld", (0.5,)),))
    >>> limit_as_crushed_mpa(group, Limit("f", "dry", "each", 1.0, 5, shape="krefeld"))
    2.0
    """
    if not limit.shape:
        return limit.limit_mpa
    known = [
        factor
        for reading, factor in zip(group.readings, _factors(group, limit), strict=True)
        if factor is not None and reading.outcome != "fell apart"
    ]
    if not known:
        return math.inf
    return limit.limit_mpa / math.exp(math.fsum(map(math.log, known)) / len(known))


def as_crushed(group: Group, limit: Limit) -> Limit:
    """Return a limit as it stands against a group's stresses as crushed, its own name and rule kept.

    Parameters
    ----------
    group : Group
        Readings of one recipe in one condition, with their factors.
    limit : Limit
        The limit.

    Returns
    -------
    Limit
        With no table of factors any more.

    Source
    ------
    own-rule

    Examples
    --------
    >>> as_crushed(Group("A", "dry", ()), Limit("f", "dry", "each", 1.0, 5)).limit_mpa
    1.0
    """
    return replace(limit, limit_mpa=limit_as_crushed_mpa(group, limit), shape="")


def said_of(limit: Limit) -> Value:
    """Return the amount of a limit as part of a sentence.

    Parameters
    ----------
    limit : Limit
        The limit.

    Returns
    -------
    Value
        In MPa; with a word on the factor where the stress as crushed is corrected first.

    Source
    ------
    own-words

    Examples
    --------
    >>> said_of(Limit("f", "dry", "each", 1.0, 5))
    1.0
    """
    if not limit.shape:
        return limit.limit_mpa
    return Phrase("{limit_mpa}, corrected for the shape of the block,", {"limit_mpa": limit.limit_mpa})


def _factors(group: Group, limit: Limit) -> Sequence[float | None]:
    found = dict(group.factors).get(limit.shape)
    return found if found is not None else (None,) * len(group.readings)
