"""What a block costs and what carbon its materials carry."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal, localcontext

from service.trade.bounds import refuse, require

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
