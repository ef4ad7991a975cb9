"""What scale and mixer do to a batch: the error of the scale alone, and the loads of a mixer that is too small."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from service.trade.validation import refuse, require

# A stabiliser weighed on a scale whose half step is more than this part of it is weighed too roughly.
MOST_SCALE_ERROR = 0.02
# Sums that are whole on paper stay whole, whatever the last binary digit says.
DIGITS = 9


@dataclass(frozen=True)
class MixerLoads:
    """How many loads the mixer takes, and the masses of one load, water under its own name."""

    count: int
    each_kg: Mapping[str, float]


def scale_error(*, scale_graduation_kg: float, mass_kg: float) -> float:
    """Return the error that the steps of a scale alone make in a mass.

    Parameters
    ----------
    scale_graduation_kg : float
        Smallest step of the scale, in kg; above 0.
    mass_kg : float
        What is weighed, in kg; above 0.

    Returns
    -------
    float
        Half a step over the mass, unrounded.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    computed-here : rounding to a step misses by at most half of it.

    Examples
    --------
    5 g steps and 100 g of cement:

    >>> round(scale_error(scale_graduation_kg=0.005, mass_kg=0.1), 6)
    0.025
    """
    require(positive={"scale_graduation_kg": scale_graduation_kg, "mass_kg": mass_kg})
    return scale_graduation_kg / 2 / mass_kg


def mixer_loads(weigh_kg: Mapping[str, float], *, mixer_kg: float, scale_graduation_kg: float) -> MixerLoads:
    """Return how a batch is split over the mixer_loads of a pot.

    Parameters
    ----------
    weigh_kg : Mapping[str, float]
        What is weighed in all, water too, in kg; 0 or more each, above 0 together.
    mixer_kg : float
        The most the pot takes, in kg; above 0.
    scale_graduation_kg : float
        Smallest step of the scale, in kg; above 0.

    Returns
    -------
    MixerLoads
        The least number of equal mixer_loads that the pot takes, and each mass in one of them, rounded half up to
        the graduation; a stabiliser split is weighed anew for every filling.

    Raises
    ------
    Invalid
        If a number is out of range, or more than 100 mixer loads are needed (field ``mixer_kg``).

    Source
    ------
    mass-balance

    Examples
    --------
    20 kg in a pot for 12 kg:

    >>> mixer_loads({"soil": 18.0, "cement": 1.0, "water": 1.0}, mixer_kg=12, scale_graduation_kg=0.005).each_kg["soil"]
    9.0
    """
    require(
        positive={"mixer_kg": mixer_kg, "scale_graduation_kg": scale_graduation_kg, "weigh_kg": sum(weigh_kg.values())},
        not_negative={f"weigh_kg.{name}": mass for name, mass in weigh_kg.items()},
    )
    count = math.ceil(round(math.fsum(weigh_kg.values()) / mixer_kg, DIGITS))
    if count > 100:
        refuse({"mixer_kg": "That would be more than 100 mixer loads."})
    step = Fraction(repr(float(scale_graduation_kg)))
    each = {
        name: float(math.floor(Fraction(repr(float(mass))) / count / step + Fraction(1, 2)) * step)
        for name, mass in weigh_kg.items()
    }
    return MixerLoads(count, each)
