"""Water content from can masses, and what it makes of a damp mass."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from service.errors import Invalid
from service.trade.validation import refuse, require

# Above this the water that gypsum is made of goes too, and organic matter with it.
MILD_DRYING_C = 60.0


@dataclass(frozen=True)
class Can:
    """One can on the scale: with damp soil, with the same soil dried, and empty."""

    wet_kg: float
    dry_kg: float
    can_kg: float = 0.0


@dataclass(frozen=True)
class Moisture:
    """Water over dry mass: the mean of the cans, each can, and highest less lowest."""

    moisture: float
    moistures: tuple[float, ...]
    range: float


def moisture_of_can(*, wet_kg: float, dry_kg: float, can_kg: float = 0.0) -> float:
    """Return the water content of the soil in one can.

    Parameters
    ----------
    wet_kg : float
        Can and damp soil, in kg; at least `dry_kg`.
    dry_kg : float
        Can and dried soil, in kg; above `can_kg`.
    can_kg : float
        Empty can, in kg; 0 or more.

    Returns
    -------
    float
        Water mass over dry mass, unrounded.

    Raises
    ------
    Invalid
        If the dried soil is not above the can, or the damp soil below the dried one.

    Source
    ------
    d2216 : definition of water content.

    Examples
    --------
    Water 0.512 - 0.478 = 0.034 kg over dry soil 0.478 - 0.051 = 0.427 kg:

    >>> round(moisture_of_can(wet_kg=0.512, dry_kg=0.478, can_kg=0.051), 6)
    0.079625
    """
    require(positive={"wet_kg": wet_kg, "dry_kg": dry_kg}, not_negative={"can_kg": can_kg})
    if dry_kg <= can_kg:
        refuse({"dry_kg": "The can with the dried soil must weigh more than the empty can."})
    if wet_kg < dry_kg:
        refuse({"wet_kg": "The damp soil cannot weigh less than the dried soil."})
    return (wet_kg - dry_kg) / (dry_kg - can_kg)


def moisture_of_cans(cans: Sequence[Can]) -> Moisture:
    """Return the water content of a soil from several cans.

    Parameters
    ----------
    cans : Sequence[Can]
        One or more cans, masses in kg.

    Returns
    -------
    Moisture
        Mean of the cans' water contents, each of them, and highest less lowest; unrounded.

    Raises
    ------
    Invalid
        If there is no can, or a can is out of order (field ``cans.0.dry_kg`` and the like).

    Source
    ------
    d2216 : definition of water content; the mean is common practice.

    Examples
    --------
    >>> cans = [Can(wet_kg=1.12, dry_kg=1.0), Can(wet_kg=1.10, dry_kg=1.0)]
    >>> round(moisture_of_cans(cans).moisture, 6)
    0.11
    """
    if not cans:
        refuse({"cans": "At least one can is needed."})
    shares = tuple(_moisture_at(index, can) for index, can in enumerate(cans))
    return Moisture(moisture=sum(shares) / len(shares), moistures=shares, range=max(shares) - min(shares))


def _moisture_at(index: int, can: Can) -> float:
    try:
        return moisture_of_can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg)
    except Invalid as fault:
        refuse(fault.under(f"cans.{index}").fields)


def dried_too_hot(*, temperature_c: float | None, signs: Iterable[str]) -> bool:
    """Return whether a can says too much of a soil with gypsum or organic matter in it.

    Parameters
    ----------
    temperature_c : float or None
        What it was dried at, in degrees Celsius; None when nobody wrote it down, which is then taken as hot.
    signs : Iterable[str]
        Signs found in the soil: "organics" and "sulfates" count here.

    Returns
    -------
    bool
        True above 60 degrees where such a sign was found: gypsum gives up its own water, organic matter burns.

    Source
    ------
    d2216 : drying at 60 degrees for soil with gypsum or much organic matter.

    Examples
    --------
    >>> dried_too_hot(temperature_c=110.0, signs=["sulfates"]), dried_too_hot(temperature_c=60.0, signs=["sulfates"])
    (True, False)
    """
    if not {"organics", "sulfates"} & set(signs):
        return False
    return temperature_c is None or temperature_c > MILD_DRYING_C


def dry_mass_kg(*, damp_kg: float, moisture: float) -> float:
    """Return the dry mass in a damp mass.

    Parameters
    ----------
    damp_kg : float
        Soil as it lies, in kg; 0 or more.
    moisture : float
        Water over dry mass; 0 or more.

    Returns
    -------
    float
        Dry mass in kg, unrounded.

    Raises
    ------
    Invalid
        If a number is negative.

    Source
    ------
    mass-balance

    Examples
    --------
    >>> round(dry_mass_kg(damp_kg=10.4, moisture=0.04), 6)
    10.0
    """
    require(not_negative={"damp_kg": damp_kg, "moisture": moisture})
    return damp_kg / (1 + moisture)
