"""`site`: the mixer's card, one bag of stabiliser and what goes with it."""

from dataclasses import asdict
from typing import Any, Literal

from service.trade.mix.site_sheet import card_for_bag
from service.work.batch import ComponentGiven, StabiliserGiven, achieved_shares, in_shares
from service.work.calculation import Calculation, Count, Given, Name, NotNegative, Positive


class SiteGiven(Given):
    """A recipe, the bag, the bucket, and the blocks wanted."""

    components: list[ComponentGiven]
    stabilisers: list[StabiliserGiven]
    moisture: NotNegative
    moisture_basis: Literal["dry mix", "dry soil"] = "dry mix"
    bag_kg: Positive
    bucket_l: Positive
    bulk_density_kg_l: dict[Name, Positive]
    dry_mass_per_block_kg: Positive
    waste: NotNegative = 0.0
    blocks: Count


def calculate(given: SiteGiven) -> dict[str, Any]:
    """Return what goes with one bag, what quarter buckets achieve, and the bags for all blocks."""
    components, stabilisers = in_shares(given.components, given.stabilisers)
    card = card_for_bag(
        components=components,
        stabilisers=stabilisers,
        moisture=given.moisture,
        moisture_basis=given.moisture_basis,
        bag_kg=given.bag_kg,
        bucket_l=given.bucket_l,
        bulk_density_kg_l=given.bulk_density_kg_l,
        dry_mass_per_block_kg=given.dry_mass_per_block_kg,
        waste=given.waste,
        blocks=given.blocks,
    )
    return {
        "per_bag": {
            "dry_soil_kg": card.dry_soil_kg,
            "components": {name: asdict(buckets) for name, buckets in card.components.items()},
            "stabilisers": dict(card.stabilisers),
            "water_l": card.water_l,
            "blocks": card.blocks,
        },
        "achieved": achieved_shares(card.achieved),
        "bags": card.bags,
    }


CALCULATION = Calculation(
    model=SiteGiven,
    run=calculate,
    formula="dry soil = bag / share of dry soil; buckets = damp mass / (bucket x bulk density), to the quarter",
    source_keys=("mass-balance",),
)
