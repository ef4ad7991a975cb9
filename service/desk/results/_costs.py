"""What a recipe costs and carries: a block, a square metre, a bag, and against the customer's own soil."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from math import floor
from statistics import fmean, median
from typing import Any, TypeVar
from uuid import UUID

from service.desk.results._recipes import Materials, dry_share
from service.desk.results.recipe_facts import AgainstFacts, BagFacts, CostFacts, RecipeFacts, SquareFacts
from service.records.jobs import Job
from service.records.materials import Price
from service.records.recipes import WholeRecipe
from service.records.result_queries import TriedBlock
from service.trade.wall.cost_and_carbon import block_cost, blocks_per_bag, blocks_per_m2, carbon_range_kg, money_text

_Amount = TypeVar("_Amount", Decimal, float)


def cost_facts(
    recipe: WholeRecipe,
    materials: Materials,
    job: Job,
    *,
    tried: Sequence[TriedBlock],
    moistures: Mapping[UUID, float],
    dry_density_kg_m3: float | None,
) -> CostFacts | None:
    """Return cost and carbon of the customer's own block if its size is known, else of the bench block."""
    mine = [one for one in tried if one.batch.recipe_id == recipe.recipe.id]
    own = _own_block_kg(job, dry_density_kg_m3)
    mass = own or _bench_block_kg(mine, moistures)
    if mass is None:
        return None
    waste = fmean([one.batch.waste for one in mine]) if mine else 0.0
    dry_kg = {name: share * mass * (1 + waste) for name, share in dry_share(recipe, materials).items()}
    prices = {
        material.name: price for material, price in (materials[part.material_id] for part in recipe.parts) if price
    }
    missing = tuple(name for name in dry_kg if name not in prices or prices[name].per_kg is None)
    cost = None if missing else _cost(dry_kg, prices)
    carbon = _carbon(dry_kg, prices)
    return CostFacts(
        block="own block" if own else "bench block",
        dry_mass_kg=mass,
        waste=waste,
        cost_per_block=cost,
        price_missing=missing,
        **carbon,
        square=_square(job, cost, carbon["carbon_kg_per_block"]) if own else None,
        bag=_bag(recipe, materials, dry_kg, cost),
        against=None,
    )


def _cost(dry_kg: Mapping[str, float], prices: Mapping[str, Price]) -> Decimal:
    per_kg = {name: prices[name].per_kg or Decimal(0) for name in dry_kg}
    return Decimal(money_text(block_cost(dry_kg=dry_kg, prices_per_kg=per_kg, carbon_per_kg={}).cost_per_block))


def _carbon(dry_kg: Mapping[str, float], prices: Mapping[str, Price]) -> dict[str, Any]:
    """Return carbon with its range and what it rests on, by the names of ``CostFacts``."""
    known = {name: one for name, one in prices.items() if one.carbon_kg_per_kg is not None}
    done = block_cost(
        dry_kg=dry_kg,
        prices_per_kg=dict.fromkeys(dry_kg, Decimal(0)),
        carbon_per_kg={name: one.carbon_kg_per_kg or 0.0 for name, one in known.items()},
    )
    ends = carbon_range_kg(dry_kg=dry_kg, ranges_per_kg={name: _ends(one) for name, one in known.items()})
    ranged = any(one.carbon_low is not None or one.carbon_high is not None for one in known.values())
    low, high = ends if ends and ranged else (None, None)
    return {
        "carbon_kg_per_block": done.carbon_kg_per_block,
        "carbon_low_kg_per_block": low,
        "carbon_high_kg_per_block": high,
        "carbon_missing": done.carbon_missing,
        "carbon_sources": tuple(f"{name}: {one.source}" for name, one in known.items()),
    }


def _ends(price: Price) -> tuple[float, float]:
    usual = price.carbon_kg_per_kg or 0.0
    low, high = price.carbon_low, price.carbon_high
    return usual if low is None else low, usual if high is None else high


def _square(job: Job, cost: Decimal | None, carbon_kg: float | None) -> SquareFacts | None:
    if job.machine_length_mm is None or job.machine_width_mm is None or job.machine_height_mm is None:
        return None
    blocks = blocks_per_m2(
        length_mm=job.machine_length_mm,
        width_mm=job.machine_width_mm,
        height_mm=job.machine_height_mm,
        thickness_mm=job.wall_thickness_mm,
    )
    return SquareFacts(
        blocks=blocks,
        cost=None if cost is None else Decimal(money_text(cost * Decimal(repr(blocks)))),
        carbon_kg=None if carbon_kg is None else carbon_kg * blocks,
    )


def _bag(
    recipe: WholeRecipe, materials: Materials, dry_kg: Mapping[str, float], cost: Decimal | None
) -> BagFacts | None:
    """Return what one bag of the first stabiliser is enough for, where its bag is known."""
    for part in recipe.parts:
        material, price = materials[part.material_id]
        if part.role == "stabiliser" and price is not None and price.bag_kg is not None:
            blocks = blocks_per_bag(bag_kg=price.bag_kg, stabiliser_kg=dry_kg[material.name])
            # Exactly so many blocks are so many, whatever the last binary digit says.
            whole = floor(round(blocks, 9))
            return BagFacts(
                name=material.name,
                bag_kg=price.bag_kg,
                blocks=whole,
                per_hundred=100 / blocks,
                cost=None if cost is None else Decimal(money_text(cost * whole)),
            )
    return None


def _own_block_kg(job: Job, dry_density_kg_m3: float | None) -> float | None:
    density = job.machine_density_kg_m3 or dry_density_kg_m3
    if (
        density is None
        or job.machine_length_mm is None
        or job.machine_width_mm is None
        or job.machine_height_mm is None
    ):
        return None
    return job.machine_length_mm * job.machine_width_mm * job.machine_height_mm / 1e9 * density


def _bench_block_kg(tried: Iterable[TriedBlock], moistures: Mapping[UUID, float]) -> float | None:
    masses = [
        one.block.wet_mass_kg / (1 + moistures[one.batch.id]) for one in tried if one.block.wet_mass_kg is not None
    ]
    return median(masses) if masses else None


def against_native(recipes: Sequence[RecipeFacts]) -> tuple[RecipeFacts, ...]:
    """Return the recipes, each with what its addition costs or saves against the customer's own soil."""
    return tuple(_against(one, _native_of(one, recipes)) for one in recipes)


def _native_of(recipe: RecipeFacts, recipes: Sequence[RecipeFacts]) -> RecipeFacts | None:
    """Return the recipe without what was added: the hauled-in with the same stabiliser, else the soil alone."""
    others = [one for one in recipes if one.label != recipe.label and not any(part.hauled_in for part in one.parts)]
    same_dose = [one for one in others if _doses(one) == _doses(recipe)]
    if any(part.hauled_in for part in recipe.parts) and same_dose:
        return same_dose[0]
    alone = [one for one in others if not _doses(one)]
    added = bool(_doses(recipe)) or any(part.hauled_in for part in recipe.parts)
    return alone[0] if alone and added else None


def _doses(recipe: RecipeFacts) -> dict[str, float | None]:
    return {part.name: part.over_dry_soil for part in recipe.parts if part.role == "stabiliser"}


def _against(recipe: RecipeFacts, native: RecipeFacts | None) -> RecipeFacts:
    if native is None or recipe.cost is None or native.cost is None:
        return recipe
    mine, its = recipe.cost, native.cost
    facts = AgainstFacts(
        native=native.label,
        cost_per_block=_less(mine.cost_per_block, its.cost_per_block),
        carbon_kg_per_block=_less(mine.carbon_kg_per_block, its.carbon_kg_per_block),
    )
    return replace(recipe, cost=replace(mine, against=facts))


def _less(one: _Amount | None, other: _Amount | None) -> _Amount | None:
    return None if one is None or other is None else one - other
