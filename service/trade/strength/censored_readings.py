"""A crushing as an interval of stress: broke, held, or fell apart in the water."""

import math
from dataclasses import dataclass
from typing import Literal

from service.trade.validation import refuse

Outcome = Literal["broke", "held", "fell apart"]


@dataclass(frozen=True)
class Reading:
    """What one block told: ``stress_mpa`` as read, and the interval its strength lies in.

    A block that broke at a gauge with a graduation broke somewhere within half a graduation each
    side; without one ``low_mpa`` equals ``high_mpa``. A held block has no upper edge. A block that
    fell apart has no strength: its stress is read as 0 and it stays out of the strength model.
    """

    outcome: Outcome
    stress_mpa: float
    low_mpa: float
    high_mpa: float


def broke(*, stress_mpa: float, graduation_mpa: float | None = None) -> Reading:
    """Return the reading of a block that broke.

    Parameters
    ----------
    stress_mpa : float
        Stress on the block as read, in MPa; above 0, or at least 0 with a graduation.
    graduation_mpa : float or None
        Graduation of the gauge as stress on the block, in MPa; above 0. None: read exactly.

    Returns
    -------
    Reading
        From half a graduation below (never below 0) to half a graduation above, in MPa.

    Raises
    ------
    Invalid
        If the stress or the graduation is out of its range (``broke_mpa``, ``graduation_mpa``).

    Source
    ------
    strength-model

    Examples
    --------
    >>> broke(stress_mpa=9.9, graduation_mpa=0.2)
    Reading(outcome='broke', stress_mpa=9.9, low_mpa=9.8, high_mpa=10.0)
    """
    if graduation_mpa is None:
        if not 0 < stress_mpa < math.inf:
            refuse({"broke_mpa": "A block without a graduation must have broken above 0."})
        return Reading("broke", stress_mpa, stress_mpa, stress_mpa)
    if not 0 < graduation_mpa < math.inf:
        refuse({"graduation_mpa": "The graduation must be above 0."})
    if not 0 <= stress_mpa < math.inf:
        refuse({"broke_mpa": "This must be 0 or more."})
    half = graduation_mpa / 2
    return Reading("broke", stress_mpa, max(0.0, stress_mpa - half), stress_mpa + half)


def held(*, stress_mpa: float) -> Reading:
    """Return the reading of a block that outlived what it was loaded to.

    Parameters
    ----------
    stress_mpa : float
        Highest stress the block bore, in MPa; above 0.

    Returns
    -------
    Reading
        From that stress upwards, in MPa.

    Raises
    ------
    Invalid
        If the stress is not above 0 (``held_mpa``).

    Source
    ------
    strength-model

    Examples
    --------
    >>> held(stress_mpa=10.6)
    Reading(outcome='held', stress_mpa=10.6, low_mpa=10.6, high_mpa=inf)
    """
    if not 0 < stress_mpa < math.inf:
        refuse({"held_mpa": "This must be above 0."})
    return Reading("held", stress_mpa, stress_mpa, math.inf)


def fell_apart() -> Reading:
    """Return the reading of a block that did not survive the water.

    Returns
    -------
    Reading
        Read as 0 MPa by the rules, and left out of the strength model.

    Source
    ------
    strength-model

    Examples
    --------
    >>> fell_apart().stress_mpa
    0.0
    """
    return Reading("fell apart", 0.0, 0.0, 0.0)


def corrected(reading: Reading, *, factor: float) -> Reading:
    """Return a reading times a factor for the shape of its block.

    Parameters
    ----------
    reading : Reading
        As it was crushed.
    factor : float
        Above 0.

    Returns
    -------
    Reading
        Stress and interval times the factor; held stays held, fallen stays fallen. Unrounded.

    Raises
    ------
    Invalid
        If the factor is not above 0.

    Source
    ------
    krefeld, heathcote-jankulovski, en-772-1 : each multiplies a measured strength.

    Examples
    --------
    >>> corrected(broke(stress_mpa=2.0, graduation_mpa=0.2), factor=0.5)
    Reading(outcome='broke', stress_mpa=1.0, low_mpa=0.95, high_mpa=1.05)
    """
    if not 0 < factor < math.inf:
        refuse({"factor": "This must be above 0."})
    return Reading(reading.outcome, *(factor * mpa for mpa in (reading.stress_mpa, reading.low_mpa, reading.high_mpa)))
