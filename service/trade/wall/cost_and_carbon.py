"""What a block costs and what carbon its materials carry."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext

from service.trade.validation import refuse, require

MILLIONTH = Decimal("0.000001")
# Digits enough that no sum of products of a price and a mass is ever rounded on the way.
EXACT_DIGITS = 600


@dataclass(frozen=True)
class BlockCost:
    """Money exact, carbon in kg CO2e; None for a square metre when its blocks are not known."""

    cost_per_block: Decimal
    cost_per_m2: Decimal | None
    carbon_kg_per_block: float | None
    carbon_kg_per_m2: float | None
    carbon_missing: tuple[str, ...]


def block_cost(
    *,
    dry_kg: Mapping[str, float],
    prices_per_kg: Mapping[str, Decimal],
    carbon_per_kg: Mapping[str, float],
    blocks_per_m2: float | None = None,
) -> BlockCost:
    """Return cost and carbon of one block, and of a square metre of wall.

    Parameters
    ----------
    dry_kg : Mapping[str, float]
        Masses of one finished block by material, waste included, in kg; 0 or more, at least one material.
    prices_per_kg : Mapping[str, Decimal]
        Price of a kg of each material; 0 or more. Others are not looked at.
    carbon_per_kg : Mapping[str, float]
        kg CO2e for each kg; 0 or more. A material without one leaves the carbon open.
    blocks_per_m2 : float or None
        Blocks in a square metre of wall; above 0.

    Returns
    -------
    BlockCost
        Money exact and unrounded, carbon in kg unrounded, and the materials without a factor.

    Raises
    ------
    Invalid
        If a price is missing (field ``prices_per_kg.cement``) or a number is out of range.

    Source
    ------
    money, mass-balance

    Examples
    --------
    0.1 kg of cement at 0.18 a kg:

    >>> done = block_cost(dry_kg={"cement": 0.1}, prices_per_kg={"cement": Decimal("0.18")}, carbon_per_kg={})
    >>> done.cost_per_block, done.carbon_missing
    (Decimal('0.018'), ('cement',))
    """
    _check(dry_kg, prices_per_kg, carbon_per_kg)
    if blocks_per_m2 is not None:
        require(positive={"blocks_per_m2": blocks_per_m2})
    missing = tuple(name for name in dry_kg if name not in carbon_per_kg)
    carbon = None if missing else math.fsum(mass * carbon_per_kg[name] for name, mass in dry_kg.items())
    with localcontext(prec=EXACT_DIGITS):
        cost = sum((_exact(mass) * prices_per_kg[name] for name, mass in dry_kg.items()), Decimal(0))
        return BlockCost(
            cost_per_block=cost,
            cost_per_m2=None if blocks_per_m2 is None else cost * _exact(blocks_per_m2),
            carbon_kg_per_block=carbon,
            carbon_kg_per_m2=None if carbon is None or blocks_per_m2 is None else carbon * blocks_per_m2,
            carbon_missing=missing,
        )


def carbon_range_kg(
    *, dry_kg: Mapping[str, float], ranges_per_kg: Mapping[str, tuple[float, float]]
) -> tuple[float, float] | None:
    """Return the least and the most carbon of one block, every factor at the same end of its range.

    Parameters
    ----------
    dry_kg : Mapping[str, float]
        Masses of one finished block by material, waste included, in kg; 0 or more.
    ranges_per_kg : Mapping[str, tuple[float, float]]
        Least and most kg CO2e for each kg by material; 0 or more. A material known without a range has it twice.

    Returns
    -------
    tuple[float, float] or None
        In kg CO2e, unrounded; None where a material has no factor.

    Raises
    ------
    Invalid
        If a number is below 0.

    Source
    ------
    mass-balance

    Examples
    --------
    0.1 kg of cement between 0.54 and 0.91 kg a kg:

    >>> [round(end, 3) for end in carbon_range_kg(dry_kg={"cement": 0.1}, ranges_per_kg={"cement": (0.54, 0.91)})]
    [0.054, 0.091]
    """
    require(not_negative={f"dry_kg.{name}": mass for name, mass in dry_kg.items()})
    require(not_negative={f"carbon_per_kg.{name}": min(ends) for name, ends in ranges_per_kg.items()})
    if any(name not in ranges_per_kg for name in dry_kg):
        return None
    low, high = (math.fsum(mass * ranges_per_kg[name][end] for name, mass in dry_kg.items()) for end in (0, 1))
    return low, high


def blocks_per_m2(*, length_mm: float, width_mm: float, height_mm: float, thickness_mm: float | None = None) -> float:
    """Return how many blocks a square metre of wall one block thick holds, laid without joints.

    Parameters
    ----------
    length_mm, width_mm, height_mm : float
        Sides of the block as it is laid flat, in mm; above 0.
    thickness_mm : float or None
        Thickness of the wall, in mm; above 0. It says whether blocks lie along the wall or across it; None: along.

    Returns
    -------
    float
        Unrounded. Joints are left out: with them fewer blocks are needed.

    Raises
    ------
    Invalid
        If a length is not above 0.

    Source
    ------
    geometry

    Examples
    --------
    A face of 250 x 100 mm:

    >>> blocks_per_m2(length_mm=250, width_mm=125, height_mm=100)
    40.0
    """
    lengths = {"length_mm": length_mm, "width_mm": width_mm, "height_mm": height_mm}
    require(positive=lengths if thickness_mm is None else {**lengths, "thickness_mm": thickness_mm})
    across = thickness_mm is not None and abs(thickness_mm - length_mm) < abs(thickness_mm - width_mm)
    return 1e6 / ((width_mm if across else length_mm) * height_mm)


def blocks_per_bag(*, bag_kg: float, stabiliser_kg: float) -> float:
    """Return how many blocks one bag of stabiliser is enough for.

    Parameters
    ----------
    bag_kg : float
        Mass in a bag, in kg; above 0.
    stabiliser_kg : float
        Mass of that stabiliser in one finished block, waste included, in kg; above 0.

    Returns
    -------
    float
        Unrounded.

    Raises
    ------
    Invalid
        If a mass is not above 0.

    Source
    ------
    mass-balance

    Examples
    --------
    >>> blocks_per_bag(bag_kg=42.5, stabiliser_kg=0.5)
    85.0
    """
    require(positive={"bag_kg": bag_kg, "stabiliser_kg": stabiliser_kg})
    return bag_kg / stabiliser_kg


def money_text(amount: Decimal) -> str:
    """Return an amount as text with six decimals, half up.

    Parameters
    ----------
    amount : Decimal
        An amount of money, 0 or more.

    Returns
    -------
    str
        Plain digits with six decimals.

    Source
    ------
    money

    Examples
    --------
    >>> money_text(Decimal("0.0180005"))
    '0.018001'
    """
    with localcontext(prec=EXACT_DIGITS):
        return f"{amount.quantize(MILLIONTH, rounding=ROUND_HALF_UP):f}"


def _exact(number: float) -> Decimal:
    # A mass of 0.1 kg is a tenth, as it was typed, not the nearest binary number.
    return Decimal(repr(float(number)))


def _check(
    dry_kg: Mapping[str, float], prices_per_kg: Mapping[str, Decimal], carbon_per_kg: Mapping[str, float]
) -> None:
    if not dry_kg:
        refuse({"dry_kg": "At least one material is needed."})
    require(not_negative={f"dry_kg.{name}": mass for name, mass in dry_kg.items()})
    require(not_negative={f"carbon_per_kg.{name}": factor for name, factor in carbon_per_kg.items()})
    below = {f"prices_per_kg.{name}": "This must be 0 or more." for name, price in prices_per_kg.items() if price < 0}
    unpriced = {f"prices_per_kg.{name}": "This price is missing." for name in dry_kg if name not in prices_per_kg}
    if below or unpriced:
        refuse(below | unpriced)
