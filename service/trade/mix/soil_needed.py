"""Soil needed against soil in hand: what a block takes, what is left in a sack, and what to cut when it is short."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from service.trade.block.measurements import block_volume_m3
from service.trade.validation import require

# Working values from memory, without a published source. They size what is weighed out and drive no verdict.
WORKING_DRY_DENSITY_KG_M3 = 1900.0
WORKING_WASTE = 0.05
# One trial block a batch finds the charge; common practice, no published source.
USUAL_TRIALS = 1

# Fewer than three blocks say nothing of their scatter; our own rule.
LEAST_BLOCKS = 3


@dataclass(frozen=True)
class GroupNeed:
    """The blocks of one recipe in one condition, and what each takes of the material that is short, in kg dry."""

    recipe: str
    condition: str
    soaked: bool
    blocks: int
    kg_per_block: float


@dataclass(frozen=True)
class Cut:
    """One group made smaller, and what that saves, in kg dry."""

    recipe: str
    condition: str
    blocks_from: int
    blocks_to: int
    saves_kg: float


@dataclass(frozen=True)
class Cuts:
    """What to cut, in order, and what is missing even then."""

    steps: tuple[Cut, ...]
    still_short_kg: float


def dry_mass_per_block_kg(*, length_mm: float, width_mm: float, height_mm: float, dry_density_kg_m3: float) -> float:
    """Return the dry mass of a block that fills its mould.

    Parameters
    ----------
    length_mm, width_mm, height_mm : float
        Sides of the block, in mm; above 0.
    dry_density_kg_m3 : float
        Dry density that the press reaches, in kg/m3; above 0.

    Returns
    -------
    float
        Dry mass in kg, unrounded.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    geometry

    Examples
    --------
    0.140 x 0.090 x 0.100 m at 1900 kg/m3:

    >>> round(dry_mass_per_block_kg(length_mm=140, width_mm=90, height_mm=100, dry_density_kg_m3=1900), 6)
    2.394
    """
    require(positive={"dry_density_kg_m3": dry_density_kg_m3})
    return block_volume_m3(length_mm=length_mm, width_mm=width_mm, heights_mm=[height_mm]) * dry_density_kg_m3


def left_kg(*, received_kg: float, oversize_kg: float, taken_kg: float) -> float:
    """Return what is left in a sack, as it lies.

    Parameters
    ----------
    received_kg : float
        What the sack weighed when it came, in kg; above 0.
    oversize_kg : float
        What was taken off as too coarse, in kg; 0 or more.
    taken_kg : float
        What was weighed out of it since, in kg; 0 or more.

    Returns
    -------
    float
        What is left in kg; never below 0.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    mass-balance

    Examples
    --------
    >>> left_kg(received_kg=20.0, oversize_kg=1.5, taken_kg=8.5)
    10.0
    """
    require(positive={"received_kg": received_kg}, not_negative={"oversize_kg": oversize_kg, "taken_kg": taken_kg})
    return max(0.0, received_kg - oversize_kg - taken_kg)


def charge_for_height_kg(*, charge_kg: float, height_mm: float, wanted_mm: float) -> float:
    """Return the charge to try next, when a trial block came out too high or too low.

    Parameters
    ----------
    charge_kg : float
        Charge of the trial block, in kg; above 0.
    height_mm : float
        Height it came out with, in mm; above 0.
    wanted_mm : float
        Height wanted, in mm; above 0.

    Returns
    -------
    float
        Charge in proportion to the height, in kg: the same density in the same mould.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    mass-balance

    Examples
    --------
    2.60 kg came out 104 mm high, 100 mm are wanted:

    >>> round(charge_for_height_kg(charge_kg=2.60, height_mm=104, wanted_mm=100), 6)
    2.5
    """
    require(positive={"charge_kg": charge_kg, "height_mm": height_mm, "wanted_mm": wanted_mm})
    return charge_kg * wanted_mm / height_mm


def what_to_cut(groups: Sequence[GroupNeed], *, short_kg: float, least_blocks: int = LEAST_BLOCKS) -> Cuts:
    """Return which groups to make smaller, and in which order, when a material does not reach.

    Blocks crushed dry go first, from the largest group down: walls fail wet, so the soaked ones are kept longest.

    Parameters
    ----------
    groups : Sequence[GroupNeed]
        Groups that take of the material, recipes in order.
    short_kg : float
        What is missing, in kg dry; 0 or more.
    least_blocks : int
        No group is made smaller than this; above 0.

    Returns
    -------
    Cuts
        Steps in order, none when nothing is missing; and what is missing after all of them, in kg dry.

    Raises
    ------
    Invalid
        If a number is out of range.

    Source
    ------
    own-rule

    Examples
    --------
    1.5 kg are missing at 1 kg a block: the larger dry group gives two blocks.

    >>> found = what_to_cut(
    ...     [GroupNeed("A", "as cured, 7 days", False, 6, 1.0), GroupNeed("A", "soaked 4 h, 7 days", True, 6, 1.0)],
    ...     short_kg=1.5,
    ... )
    >>> [(cut.condition, cut.blocks_from, cut.blocks_to) for cut in found.steps], found.still_short_kg
    ([('as cured, 7 days', 6, 4)], 0.0)
    """
    require(positive={"least_blocks": least_blocks}, not_negative={"short_kg": short_kg})
    left, missing = list(groups), short_kg
    for soaked in (False, True):
        while missing > 0 and (index := _largest(left, soaked=soaked, least=least_blocks)) is not None:
            missing -= left[index].kg_per_block
            left[index] = replace(left[index], blocks=left[index].blocks - 1)
    steps = [_cut(before, after) for before, after in zip(groups, left, strict=True) if after.blocks < before.blocks]
    return Cuts(tuple(sorted(steps, key=lambda one: _soaked(groups, one))), max(0.0, missing))


def _largest(groups: Sequence[GroupNeed], *, soaked: bool, least: int) -> int | None:
    # Of groups of one size the last recipe gives first: recipes are planned in the order in which they matter.
    fit = [
        index
        for index, one in enumerate(groups)
        if one.soaked == soaked and one.blocks > least and one.kg_per_block > 0
    ]
    return max(fit, key=lambda index: (groups[index].blocks, index), default=None)


def _cut(before: GroupNeed, after: GroupNeed) -> Cut:
    saved = (before.blocks - after.blocks) * before.kg_per_block
    return Cut(before.recipe, before.condition, before.blocks, after.blocks, saved)


def _soaked(groups: Sequence[GroupNeed], cut: Cut) -> bool:
    return next(one.soaked for one in groups if (one.recipe, one.condition) == (cut.recipe, cut.condition))
