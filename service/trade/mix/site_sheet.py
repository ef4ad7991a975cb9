"""The mixer's card: one bag of stabiliser, and what goes with it in buckets and litres."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from service.trade.mix.batch import (
    Achieved,
    Basis,
    Component,
    SoilInHand,
    Stabiliser,
    Weighed,
    achieved_mix,
    plan_batch,
    shares_on_both_bases,
)
from service.trade.validation import refuse, require

# Sums that are whole on paper stay whole, whatever the last binary digit says.
DIGITS = 9


@dataclass(frozen=True)
class Buckets:
    """One soil or sand for a bag: damp mass, buckets, and buckets to the quarter."""

    kg: float
    buckets: float
    buckets_quarter: float


@dataclass(frozen=True)
class SiteMixingSheet:
    """What goes with one bag, what quarter buckets make of the recipe, and the bags for all blocks."""

    dry_soil_kg: float
    components: Mapping[str, Buckets]
    stabilisers: Mapping[str, float]
    water_l: float
    blocks: int
    achieved: Achieved
    bags: int


def card_for_bag(
    *,
    components: Sequence[Component],
    stabilisers: Sequence[Stabiliser],
    moisture: float,
    bag_kg: float,
    bucket_l: float,
    bulk_density_kg_l: Mapping[str, float],
    dry_mass_per_block_kg: float,
    blocks: int,
    moisture_basis: Basis = "dry mix",
    waste: float = 0.0,
) -> SiteMixingSheet:
    """Return what to mix with one bag of the first stabiliser, and how many bags the blocks take.

    Parameters
    ----------
    components : Sequence[Component]
        As in `plan_batch`.
    stabilisers : Sequence[Stabiliser]
        As in `plan_batch`; at least one, and the first with a share above 0: the bag is of that one.
    moisture : float
        All water in the mix over the basis; 0 or more.
    bag_kg : float
        What a bag holds, in kg; above 0.
    bucket_l : float
        What a bucket holds, in litres; above 0.
    bulk_density_kg_l : Mapping[str, float]
        Mass of a litre of each component as it lies, damp, in kg; above 0. Others are not looked at.
    dry_mass_per_block_kg : float
        Dry mass of one block, in kg; above 0.
    blocks : int
        Blocks wanted in all; 1 or more.
    moisture_basis : {"dry mix", "dry soil"}
        What `moisture` is a share of.
    waste : float
        What is lost, as a share of what the blocks hold; 0 or more.

    Returns
    -------
    SiteMixingSheet
        Masses in kg and water in litres unrounded, buckets also to the quarter, half up; whole blocks of a bag
        after waste; what the quarter buckets achieve; bags for all blocks, up to a whole.

    Raises
    ------
    Invalid
        As `plan_batch` does; if there is no stabiliser, a bulk density is missing (field
        ``bulk_density_kg_l.sand``), or a component rounds to no bucket at all (field ``bucket_l``).

    Source
    ------
    mass-balance

    Examples
    --------
    A bag of 50 kg at 5 % of dry soil takes 1000 kg of soil; at 10 % moisture 1100 kg, in buckets of 10 l at
    1.1 kg/l 100 buckets; 1050 kg of mix at 7 kg a block give 150 blocks:

    >>> card = card_for_bag(components=[Component("native", 1.0, 0.1)],
    ...     stabilisers=[Stabiliser("cement", 0.05, "dry soil")], moisture=0.1, bag_kg=50, bucket_l=10,
    ...     bulk_density_kg_l={"native": 1.1}, dry_mass_per_block_kg=7.0, blocks=1000)
    >>> card.components["native"].buckets_quarter, card.blocks, card.bags
    (100.0, 150, 7)
    """
    _check(components, stabilisers, bulk_density_kg_l)
    require(
        positive={
            "bag_kg": bag_kg,
            "bucket_l": bucket_l,
            "dry_mass_per_block_kg": dry_mass_per_block_kg,
            "blocks": blocks,
        },
        not_negative={"waste": waste},
    )
    plan = plan_batch(
        start=SoilInHand(bag_kg / shares_on_both_bases(stabilisers)[stabilisers[0].name].dry_soil),
        components=components,
        stabilisers=stabilisers,
        moisture=moisture,
        moisture_basis=moisture_basis,
    )
    bucket_kg = {part.name: bucket_l * bulk_density_kg_l[part.name] for part in components}
    buckets = {name: _buckets(plan.weigh_kg[name], full) for name, full in bucket_kg.items()}
    filled = [
        Weighed(part.name, buckets[part.name].buckets_quarter * bucket_kg[part.name], part.moisture)
        for part in components
    ]
    added = {part.name: plan.weigh_kg[part.name] for part in stabilisers}
    per_bag = plan.total_dry_kg / (dry_mass_per_block_kg * (1 + waste))
    return SiteMixingSheet(
        dry_soil_kg=math.fsum(plan.dry_kg[part.name] for part in components),
        components=buckets,
        stabilisers=added,
        water_l=plan.water_kg,
        blocks=math.floor(round(per_bag, DIGITS)),
        achieved=achieved_mix(
            components=filled,
            stabilisers=[Weighed(name, kg) for name, kg in added.items()],
            water_kg=plan.water_kg,
            moisture_basis=moisture_basis,
        ),
        bags=max(math.ceil(round(blocks / per_bag, DIGITS)), 1),
    )


def _check(components: Sequence[Component], stabilisers: Sequence[Stabiliser], densities: Mapping[str, float]) -> None:
    if not stabilisers:
        refuse({"stabilisers": "The bag is of the first stabiliser, so there must be one."})
    require(positive={"stabilisers.0.share": stabilisers[0].share})
    require(positive={f"bulk_density_kg_l.{name}": density for name, density in densities.items()})
    missing = [part.name for part in components if part.name not in densities]
    if missing:
        refuse({f"bulk_density_kg_l.{name}": "This bulk density is missing." for name in missing})


def _buckets(kg: float, bucket_kg: float) -> Buckets:
    quarters = math.floor(round(4 * kg / bucket_kg, DIGITS) + 0.5)
    if kg > 0 and quarters == 0:
        refuse({"bucket_l": "One of the components comes to less than a quarter of such a bucket."})
    return Buckets(kg=kg, buckets=kg / bucket_kg, buckets_quarter=quarters / 4)
