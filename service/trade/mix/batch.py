"""Shares with their basis -> dry masses -> what to weigh and how much water to add; and back from what was weighed."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from service.trade.validation import refuse, require, require_names_once

Basis = Literal["dry soil", "dry mix"]

# Component shares are typed with few digits; three thirds must pass, a forgotten tenth must not.
SHARES_SUM_WITHIN = Fraction(1, 10**9)


@dataclass(frozen=True)
class Component:
    """One soil or sand of the blend: its share of the dry soil and its own moisture."""

    name: str
    share: float
    moisture: float


@dataclass(frozen=True)
class Stabiliser:
    """One stabiliser: its share, and of what."""

    name: str
    share: float
    basis: Basis


@dataclass(frozen=True)
class BlocksWanted:
    """A batch by its blocks: dry mass a block is of the whole mix."""

    blocks: int
    dry_mass_per_block_kg: float
    waste: float = 0.0


@dataclass(frozen=True)
class SoilInHand:
    """A batch by the dry soil that is there."""

    dry_soil_kg: float


@dataclass(frozen=True)
class BothBases:
    """One share on both bases."""

    dry_soil: float
    dry_mix: float


@dataclass(frozen=True)
class Weighed:
    """What the scale really took of one material, as it lay, and its moisture."""

    name: str
    weighed_kg: float
    moisture: float = 0.0


@dataclass(frozen=True)
class Achieved:
    """What a mix really is: components of dry soil, stabilisers on both bases, moisture on the basis asked for."""

    components: Mapping[str, float]
    stabilisers: Mapping[str, BothBases]
    moisture: float


@dataclass(frozen=True)
class BatchPlan:
    """What to weigh, in order, water last; exact dry masses; and what the rounded masses make of the recipe."""

    dry_kg: Mapping[str, float]
    total_dry_kg: float
    total_wet_kg: float
    weigh_kg: Mapping[str, float]
    water_kg: float
    stabiliser_shares: Mapping[str, BothBases]
    achieved: Achieved


def plan_batch(
    *,
    start: BlocksWanted | SoilInHand,
    components: Sequence[Component],
    stabilisers: Sequence[Stabiliser],
    moisture: float,
    moisture_basis: Basis = "dry mix",
    scale_graduation_kg: float | None = None,
) -> BatchPlan:
    """Return what to weigh for a batch.

    Parameters
    ----------
    start : BlocksWanted or SoilInHand
        Blocks and their dry mass with waste, or the dry soil in hand.
    components : Sequence[Component]
        One or more; shares of dry soil that sum to 1 within 1e-9, moistures 0 or more.
    stabilisers : Sequence[Stabiliser]
        Any number, dry; shares of the dry mix sum to less than 1.
    moisture : float
        All water in the mix over the basis; 0 or more.
    moisture_basis : {"dry mix", "dry soil"}
        What `moisture` is a share of.
    scale_graduation_kg : float or None
        Smallest step of the scale, in kg; None gives masses unrounded.

    Returns
    -------
    BatchPlan
        Exact dry masses in kg; masses to weigh as received and water to add, rounded half up to the
        graduation; shares on both bases; what the rounded masses achieve.

    Raises
    ------
    Invalid
        If a share, moisture or mass is out of range, a name stands twice, the soil brings more water than the
        mix may hold (field ``moisture``), or a mass rounds to nothing (field ``scale_graduation_kg``).

    Source
    ------
    mass-balance

    Examples
    --------
    10 kg of dry soil at 4 %, cement 6 % of dry soil, water 10 % of the 10.6 kg of dry mix, of which 0.4 kg is there:

    >>> plan = plan_batch(
    ...     start=SoilInHand(10.0),
    ...     components=[Component("native", 1.0, 0.04)],
    ...     stabilisers=[Stabiliser("cement", 0.06, "dry soil")],
    ...     moisture=0.10,
    ... )
    >>> dict(plan.weigh_kg), plan.water_kg
    ({'native': 10.4, 'cement': 0.6}, 0.66)
    """
    _check_recipe(components, stabilisers, moisture=moisture)
    if scale_graduation_kg is not None:
        require(positive={"scale_graduation_kg": scale_graduation_kg})
    soil, mix = _dry_soil_and_mix(start, stabilisers)
    dry = _dry_masses(components, stabilisers, soil=soil, mix=mix)
    water = _exact(moisture) * (mix if moisture_basis == "dry mix" else soil)
    brought = {part.name: dry[part.name] * _exact(part.moisture) for part in components}
    missing = water - sum(brought.values(), Fraction(0))
    if missing < 0:
        refuse({"moisture": _too_wet(water / soil)})
    weigh = {name: _rounded(mass + brought.get(name, 0), scale_graduation_kg) for name, mass in dry.items()}
    _refuse_nothing_to_weigh(weigh, scale_graduation_kg)
    water_kg = _rounded(missing, scale_graduation_kg)
    return BatchPlan(
        dry_kg=_floats(dry),
        total_dry_kg=float(mix),
        total_wet_kg=float(mix + water),
        weigh_kg=_floats(weigh),
        water_kg=float(water_kg),
        stabiliser_shares={part.name: _both(dry[part.name], soil=soil, mix=mix) for part in stabilisers},
        achieved=_achieved(
            {part.name: weigh[part.name] / (1 + _exact(part.moisture)) for part in components},
            {part.name: weigh[part.name] for part in stabilisers},
            water=water_kg + sum(_water_in(weigh[part.name], part.moisture) for part in components),
            moisture_basis=moisture_basis,
        ),
    )


def achieved_mix(
    *,
    components: Sequence[Weighed],
    stabilisers: Sequence[Weighed],
    water_kg: float,
    moisture_basis: Basis = "dry mix",
) -> Achieved:
    """Return what a mix really is, from what was really weighed.

    Parameters
    ----------
    components : Sequence[Weighed]
        Soils and sands as they lay, in kg, with their moistures; together above 0.
    stabilisers : Sequence[Weighed]
        Stabilisers, in kg; a moisture of theirs counts as water.
    water_kg : float
        Water added, in kg; 0 or more.
    moisture_basis : {"dry mix", "dry soil"}
        What the moisture is given over.

    Returns
    -------
    Achieved
        Component shares of dry soil, stabilisers on both bases, moisture on the basis asked for; unrounded.

    Raises
    ------
    Invalid
        If a mass or a moisture is negative, a name stands twice, or no soil was weighed.

    Source
    ------
    mass-balance

    Examples
    --------
    10.4 kg of soil at 4 % hold 10 kg dry; 0.6 kg of cement on it are 6 % of dry soil, 0.6 / 10.6 of dry mix:

    >>> mix = achieved_mix(components=[Weighed("native", 10.4, 0.04)], stabilisers=[Weighed("cement", 0.6)],
    ...     water_kg=0.66)
    >>> mix.stabilisers["cement"].dry_soil, round(mix.stabilisers["cement"].dry_mix, 6), mix.moisture
    (0.06, 0.056604, 0.1)
    """
    numbered = [(f"components.{index}", part) for index, part in enumerate(components)]
    numbered += [(f"stabilisers.{index}", part) for index, part in enumerate(stabilisers)]
    require_names_once((f"{place}.name", part.name) for place, part in numbered)
    masses = {f"{place}.weighed_kg": part.weighed_kg for place, part in numbered}
    moistures = {f"{place}.moisture": part.moisture for place, part in numbered}
    require(not_negative=masses | moistures | {"water_kg": water_kg})
    if not any(part.weighed_kg > 0 for part in components):
        refuse({"components": "Some soil must have been weighed."})
    dry = {part.name: _exact(part.weighed_kg) / (1 + _exact(part.moisture)) for _, part in numbered}
    water = _exact(water_kg) + sum(_water_in(_exact(part.weighed_kg), part.moisture) for _, part in numbered)
    return _achieved(
        {part.name: dry[part.name] for part in components},
        {part.name: dry[part.name] for part in stabilisers},
        water=water,
        moisture_basis=moisture_basis,
    )


def shares_on_both_bases(stabilisers: Sequence[Stabiliser]) -> dict[str, BothBases]:
    """Return every stabiliser's share of dry soil and of dry mix.

    Parameters
    ----------
    stabilisers : Sequence[Stabiliser]
        Any number, each with its own basis; shares of the dry mix sum to less than 1.

    Returns
    -------
    dict[str, BothBases]
        Both shares by name, unrounded.

    Raises
    ------
    Invalid
        If a share is negative, a name stands twice, or the shares of the dry mix reach 1.

    Source
    ------
    mass-balance

    Examples
    --------
    6 % of dry soil are 0.06 / 1.06 of the dry mix:

    >>> round(shares_on_both_bases([Stabiliser("cement", 0.06, "dry soil")])["cement"].dry_mix, 6)
    0.056604
    """
    _check_stabilisers(stabilisers)
    soil, mix = Fraction(1), _mix_over_soil(stabilisers)
    dry = _dry_masses((), stabilisers, soil=soil, mix=mix)
    return {part.name: _both(dry[part.name], soil=soil, mix=mix) for part in stabilisers}


@lru_cache(maxsize=4096)
def _exact(number: float) -> Fraction:
    # A typed 0.1 means a tenth. Reckoning in tenths, not in the nearest binary number, lets a mass that lies
    # exactly between two graduations go up, as it would on paper.
    return Fraction(repr(float(number)))


def _floats(masses: Mapping[str, Fraction]) -> dict[str, float]:
    return {name: float(mass) for name, mass in masses.items()}


def _check_recipe(components: Sequence[Component], stabilisers: Sequence[Stabiliser], *, moisture: float) -> None:
    if not components:
        refuse({"components": "At least one component is needed."})
    require_names_once(
        [(f"components.{index}.name", part.name) for index, part in enumerate(components)]
        + [(f"stabilisers.{index}.name", part.name) for index, part in enumerate(stabilisers)]
    )
    shares = {f"components.{index}.share": part.share for index, part in enumerate(components)}
    moistures = {f"components.{index}.moisture": part.moisture for index, part in enumerate(components)}
    require(not_negative=shares | moistures | {"moisture": moisture})
    total = sum((_exact(part.share) for part in components), Fraction(0))
    if abs(total - 1) > SHARES_SUM_WITHIN:
        refuse({"components": f"The shares must sum to 1; they sum to {float(total):.10g}."})
    _check_stabilisers(stabilisers)


def _check_stabilisers(stabilisers: Sequence[Stabiliser]) -> None:
    require_names_once((f"stabilisers.{index}.name", part.name) for index, part in enumerate(stabilisers))
    require(not_negative={f"stabilisers.{index}.share": part.share for index, part in enumerate(stabilisers)})
    if _summed(stabilisers, "dry mix") >= 1:
        refuse({"stabilisers": "The shares of the dry mix must stay below 1 together."})


def _summed(stabilisers: Sequence[Stabiliser], basis: Basis) -> Fraction:
    return sum((_exact(part.share) for part in stabilisers if part.basis == basis), Fraction(0))


def _mix_over_soil(stabilisers: Sequence[Stabiliser]) -> Fraction:
    return (1 + _summed(stabilisers, "dry soil")) / (1 - _summed(stabilisers, "dry mix"))


def _dry_soil_and_mix(start: BlocksWanted | SoilInHand, stabilisers: Sequence[Stabiliser]) -> tuple[Fraction, Fraction]:
    factor = _mix_over_soil(stabilisers)
    if isinstance(start, SoilInHand):
        require(positive={"dry_soil_kg": start.dry_soil_kg})
        soil = _exact(start.dry_soil_kg)
        return soil, soil * factor
    require(
        positive={"blocks": start.blocks, "dry_mass_per_block_kg": start.dry_mass_per_block_kg},
        not_negative={"waste": start.waste},
    )
    mix = start.blocks * _exact(start.dry_mass_per_block_kg) * (1 + _exact(start.waste))
    return mix / factor, mix


def _dry_masses(
    components: Sequence[Component], stabilisers: Sequence[Stabiliser], *, soil: Fraction, mix: Fraction
) -> dict[str, Fraction]:
    # Shares may miss 1 by their last digit; the components together are the dry soil all the same.
    whole = sum((_exact(part.share) for part in components), Fraction(0))
    masses = {part.name: soil * _exact(part.share) / whole for part in components}
    for part in stabilisers:
        masses[part.name] = _exact(part.share) * (soil if part.basis == "dry soil" else mix)
    return masses


def _water_in(damp: Fraction, moisture: float) -> Fraction:
    share = _exact(moisture)
    return damp * share / (1 + share)


def _rounded(mass: Fraction, graduation_kg: float | None) -> Fraction:
    if graduation_kg is None:
        return mass
    step = _exact(graduation_kg)
    return math.floor(mass / step + Fraction(1, 2)) * step


def _refuse_nothing_to_weigh(weigh: Mapping[str, Fraction], graduation_kg: float | None) -> None:
    nothing = [name for name, mass in weigh.items() if mass == 0]
    if nothing and graduation_kg is not None:
        refuse({"scale_graduation_kg": f"On this scale the mass of {nothing[0]} rounds to 0."})


def _too_wet(limit: Fraction) -> str:
    # Rounded down, so that a soil dried to the number shown is dry enough.
    percent = math.floor(limit * 10000) / 100
    return f"The soil brings more water than the mix wants: dry it to {percent:g} % or less, all components together."


def _both(mass: Fraction, *, soil: Fraction, mix: Fraction) -> BothBases:
    return BothBases(dry_soil=float(mass / soil), dry_mix=float(mass / mix))


def _achieved(
    components: Mapping[str, Fraction],
    stabilisers: Mapping[str, Fraction],
    *,
    water: Fraction,
    moisture_basis: Basis,
) -> Achieved:
    soil = sum(components.values(), Fraction(0))
    mix = soil + sum(stabilisers.values(), Fraction(0))
    return Achieved(
        components={name: float(mass / soil) for name, mass in components.items()},
        stabilisers={name: _both(mass, soil=soil, mix=mix) for name, mass in stabilisers.items()},
        moisture=float(water / (mix if moisture_basis == "dry mix" else soil)),
    )
