"""What a block endures besides crushing: bending, water taken up, drip, spray, wetting and drying."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Literal

from service.trade.block.measurements import modulus_of_rupture_mpa, uptake
from service.trade.validation import require

TestOfBlock = Literal["bending", "absorption", "damp surface", "uptake", "drip", "spray", "wetting and drying"]

# What a block went through after which it is no longer crushed as a whole; each goes on "It was ...".
USED_UP = {
    "bending": "bent, and a block that was loaded before gives no reading",
    "erosion": "worn by water",
    "cycles": "dried in the oven for cycles of wetting and drying",
    "absorption": "dried in the oven, which changes what it was cured to",
}

# What a block can be set aside for instead of crushing, by the kind of its test.
PLANNED_TESTS = {
    "absorption": "absorption",
    "bending": "bending",
    "erosion": "erosion",
    "cycles": "wetting and drying",
}

# A pit of exactly 5 mm is in the next class, an erosion of exactly 20 mm in an hour in the lower one.
DRIP_MM = (5.0, 10.0, 15.0)
SPRAY_MM_PER_HOUR = (20.0, 50.0, 90.0, 120.0)


@dataclass(frozen=True)
class Endured:
    """What one test of one block came to: MPa in bending, an index of erosion, else a share of the dry mass.

    None where the block did not survive; ``at_least`` where it was not broken in bending.
    """

    test: TestOfBlock
    value: float | None
    at_least: bool = False
    hours: float | None = None
    cycles: int | None = None


@dataclass(frozen=True)
class Summary:
    """What the blocks of one recipe came to in one test: how many, how many did not survive, mean and ends."""

    test: TestOfBlock
    blocks: int
    gone: int
    mean: float | None
    least: float | None
    most: float | None
    at_least: bool


def bent(*, force_kn: float, span_mm: float, width_mm: float, thickness_mm: float, held: bool) -> Endured:
    """Return the bending strength of a block on two supports, loaded at midspan.

    Parameters
    ----------
    force_kn : float
        Force at which it broke or to which it held, in kN; above 0.
    span_mm : float
        Distance between the middles of the supports, in mm; above 0.
    width_mm : float
        Width of the block across the span, in mm; above 0.
    thickness_mm : float
        Thickness in the direction of the force, in mm; above 0.
    held : bool
        Whether it was not broken.

    Returns
    -------
    Endured
        In MPa, unrounded; at least that where it held.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    780-cmr-2109.3.1 : 2109.3.1.2.4, equation 21-2.

    Examples
    --------
    >>> bent(force_kn=2.0, span_mm=250, width_mm=250, thickness_mm=100, held=False).value
    0.3
    """
    modulus = modulus_of_rupture_mpa(force_kn=force_kn, span_mm=span_mm, width_mm=width_mm, thickness_mm=thickness_mm)
    return Endured("bending", modulus, at_least=held)


def soaked_up(*, before_kg: float, after_kg: float | None, oven_dry: bool, damp_surface: bool, hours: float) -> Endured:
    """Return the water that a block took up, under the name that it may bear.

    Parameters
    ----------
    before_kg : float
        Mass before the water, in kg; above 0.
    after_kg : float or None
        Mass after it, in kg; above 0; None where the block fell apart or lost material.
    oven_dry : bool
        Whether the mass before is the oven-dry one: only then is it an absorption.
    damp_surface : bool
        Whether it stood on a damp surface instead of under water.
    hours : float
        Time in or on the water, in h; 0 or more.

    Returns
    -------
    Endured
        Gain over the mass before, unrounded.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    nmac-14.7.4 : 14.7.4.10 A, gain by mass.

    Examples
    --------
    >>> soaked_up(before_kg=2.0, after_kg=2.25, oven_dry=True, damp_surface=False, hours=24)
    Endured(test='absorption', value=0.125, at_least=False, hours=24, cycles=None)
    """
    require(positive={"before_kg": before_kg}, not_negative={"hours": hours})
    test: TestOfBlock = "uptake" if not oven_dry else "damp surface" if damp_surface else "absorption"
    gain = None if after_kg is None else uptake(mass_before_kg=before_kg, mass_after_kg=after_kg)
    return Endured(test, gain, hours=hours)


def worn(*, spray: bool, depth_mm: float | None, minutes: float) -> Endured:
    """Return the erosion index of a block on which water dripped or was sprayed.

    Parameters
    ----------
    spray : bool
        Whether it was sprayed; else water dripped on it.
    depth_mm : float or None
        Depth of the pit or the deepest erosion, in mm; 0 or more; None where the water went through.
    minutes : float
        How long the water ran, in minutes; above 0.

    Returns
    -------
    Endured
        The index; 5 fails.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    nzs-4298 : drip and spray tests, from memory.

    Examples
    --------
    >>> worn(spray=False, depth_mm=7, minutes=40).value, worn(spray=True, depth_mm=30, minutes=30).value
    (3.0, 3.0)
    """
    require(positive={"minutes": minutes})
    test: TestOfBlock = "spray" if spray else "drip"
    if depth_mm is None:
        return Endured(test, None)
    index = spray_index(depth_mm=depth_mm, minutes=minutes) if spray else drip_index(depth_mm=depth_mm)
    return Endured(test, float(index))


def weathered(masses_kg: Mapping[int, float | None]) -> Endured | None:
    """Return what a block lost in wetting, drying and brushing so far.

    Parameters
    ----------
    masses_kg : Mapping[int, float or None]
        Oven-dry mass in kg after so many cycles, 0 being before the first; None where it fell apart.

    Returns
    -------
    Endured or None
        Loss over the mass before the first cycle, with the cycles so far; None before the first is over.

    Raises
    ------
    Invalid
        If a mass is not above 0.

    Source
    ------
    d559 : loss of mass, without the correction for water of hydration.

    Examples
    --------
    >>> loss = weathered({0: 2.0, 12: 1.9})
    >>> round(loss.value, 6), loss.cycles
    (0.05, 12)
    """
    before, last = masses_kg.get(0), max(masses_kg, default=0)
    if before is None or last == 0:
        return None
    after = masses_kg[last]
    lost = None if after is None else mass_lost(before_kg=before, after_kg=after)
    return Endured("wetting and drying", lost, cycles=last)


def endured_by(found: Sequence[Endured]) -> tuple[Summary, ...]:
    """Return what the blocks of a recipe came to, test by test in order of first appearance.

    Parameters
    ----------
    found : Sequence[Endured]
        One for each block and test; may be empty.

    Returns
    -------
    tuple[Summary, ...]
        Mean and ends of those that survived; None where none did.

    Source
    ------
    computed-here

    Examples
    --------
    >>> (one,) = endured_by([Endured("drip", 2.0), Endured("drip", 3.0)])
    >>> one.blocks, one.mean
    (2, 2.5)
    """
    return tuple(_summary(test, [one for one in found if one.test == test]) for test in _tests(found))


def _tests(found: Sequence[Endured]) -> list[TestOfBlock]:
    return list(dict.fromkeys(one.test for one in found))


def _summary(test: TestOfBlock, mine: Sequence[Endured]) -> Summary:
    values = [one.value for one in mine if one.value is not None]
    return Summary(
        test=test,
        blocks=len(mine),
        gone=len(mine) - len(values),
        mean=fmean(values) if values else None,
        least=min(values, default=None),
        most=max(values, default=None),
        at_least=any(one.at_least for one in mine),
    )


def drip_index(*, depth_mm: float) -> int:
    """Return the erosion index of a block on which water dripped.

    Parameters
    ----------
    depth_mm : float
        Depth of the pit, in mm; 0 or more.

    Returns
    -------
    int
        2 below 5 mm, 3 below 10 mm, 4 below 15 mm, 5 from there on, which fails.

    Raises
    ------
    Invalid
        If the depth is below 0.

    Source
    ------
    nzs-4298 : drip test, from memory.

    Examples
    --------
    >>> [drip_index(depth_mm=depth) for depth in (1, 5, 10, 15)]
    [2, 3, 4, 5]
    """
    require(not_negative={"depth_mm": depth_mm})
    return 2 + sum(depth_mm >= edge for edge in DRIP_MM)


def spray_index(*, depth_mm: float, minutes: float) -> int:
    """Return the erosion index of a block that was sprayed.

    Parameters
    ----------
    depth_mm : float
        Deepest erosion, in mm; 0 or more.
    minutes : float
        How long the spray ran, in minutes; above 0.

    Returns
    -------
    int
        1 to 20 mm in an hour, 2 to 50, 3 to 90, 4 to 120, 5 above, which fails.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    nzs-4298 : spray test, from memory.

    Examples
    --------
    30 mm in half an hour are 60 mm in an hour:

    >>> spray_index(depth_mm=30, minutes=30)
    3
    """
    require(not_negative={"depth_mm": depth_mm}, positive={"minutes": minutes})
    return 1 + sum(depth_mm / minutes * 60 > edge for edge in SPRAY_MM_PER_HOUR)


def mass_lost(*, before_kg: float, after_kg: float) -> float:
    """Return the share of its dry mass that a block lost in wetting, drying and brushing.

    Parameters
    ----------
    before_kg : float
        Oven-dry mass before the first cycle, in kg; above 0.
    after_kg : float
        Oven-dry mass after the last cycle, in kg; above 0.

    Returns
    -------
    float
        Loss over the mass before, unrounded; negative where it gained.

    Raises
    ------
    Invalid
        If a mass is not above 0.

    Source
    ------
    d559 : loss of mass, without the correction for water of hydration.

    Examples
    --------
    >>> round(mass_lost(before_kg=2.0, after_kg=1.9), 6)
    0.05
    """
    require(positive={"before_kg": before_kg, "after_kg": after_kg})
    return (before_kg - after_kg) / before_kg
