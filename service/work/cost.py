"""`cost`: money and carbon of a block and of a square metre."""

from decimal import Decimal
from typing import Any

from pydantic import Field

from service.trade.wall.cost_and_carbon import block_cost, money_text
from service.work.calculation import Calculation, Given, Money, Name, NotNegative, Positive


class CostGiven(Given):
    """Masses of one finished block, prices as decimal text, carbon factors."""

    dry_kg: dict[Name, NotNegative]
    prices_per_kg: dict[Name, Money]
    carbon_per_kg: dict[Name, NotNegative] = Field(default_factory=dict)
    blocks_per_m2: Positive | None = None


def calculate(given: CostGiven) -> dict[str, Any]:
    """Return cost as text with six decimals, carbon in kg, and the materials without a factor."""
    done = block_cost(
        dry_kg=given.dry_kg,
        prices_per_kg={name: Decimal(price) for name, price in given.prices_per_kg.items()},
        carbon_per_kg=given.carbon_per_kg,
        blocks_per_m2=given.blocks_per_m2,
    )
    return {
        "cost_per_block": money_text(done.cost_per_block),
        "cost_per_m2": None if done.cost_per_m2 is None else money_text(done.cost_per_m2),
        "carbon_kg_per_block": done.carbon_kg_per_block,
        "carbon_kg_per_m2": done.carbon_kg_per_m2,
        "carbon_missing": list(done.carbon_missing),
    }


CALCULATION = Calculation(
    model=CostGiven,
    run=calculate,
    formula="cost = sum of dry mass x price; carbon = sum of dry mass x factor; per m2 = per block x blocks",
    source_keys=("money", "mass-balance"),
)
