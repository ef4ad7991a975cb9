"""What the recipes still need of each material, what there is of it, and what to cut when it does not reach."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from uuid import UUID

from service.measured.crushed import name_of
from service.records.materials import Material
from service.records.presses import Mould
from service.records.recipes import WholeRecipe
from service.records.sack_stock import SackInHand
from service.trade.block.random_order import blocks_of_batches
from service.trade.mix.batch import Stabiliser, shares_on_both_bases
from service.trade.mix.soil_needed import (
    USUAL_TRIALS,
    Cut,
    Cuts,
    GroupNeed,
    dry_mass_per_block_kg,
    left_kg,
    what_to_cut,
)
from service.trade.soil.moisture import Can, dry_mass_kg, moisture_of_cans


@dataclass(frozen=True)
class SackLine:
    """What is left in a sack, damp and dry; without a can it counts as dry."""

    label: str
    left_kg: float
    moisture: float | None
    dry_kg: float


@dataclass(frozen=True)
class MaterialLine:
    """What is needed of a material and what there is of it, dry; materials of the shop's shelf are not counted."""

    name: str
    needed_kg: float
    in_hand_kg: float | None
    sacks: tuple[SackLine, ...]
    short_kg: float
    cuts: tuple[Cut, ...]
    still_short_kg: float


@dataclass(frozen=True)
class Open:
    """A recipe of which batches are still to be mixed: how many blocks and trial blocks, and the dry mass of one."""

    whole: WholeRecipe
    blocks: int
    trials: int
    block_kg: float


def open_recipes(
    planned: Sequence[WholeRecipe],
    begun: Mapping[UUID, int],
    moulds: Mapping[UUID, Mould],
    *,
    dry_density_kg_m3: float,
) -> list[Open]:
    """Return the recipes in force that are not all mixed; ``begun`` counts their batches."""
    replaced = {one.recipe.replaces_id for one in planned}
    found = []
    for one in planned:
        if one.recipe.dropped_at is not None or one.recipe.id in replaced:
            continue
        sizes = blocks_of_batches(blocks=sum(group.blocks for group in one.groups), batches=one.recipe.batches)
        to_mix = sizes[begun.get(one.recipe.id, 0) :]
        block_kg = block_mass_kg(moulds[one.recipe.mould_id], dry_density_kg_m3=dry_density_kg_m3)
        if to_mix:
            found.append(Open(one, sum(to_mix), USUAL_TRIALS * len(to_mix), block_kg))
    return found


def block_mass_kg(mould: Mould, *, dry_density_kg_m3: float) -> float:
    """Return the dry mass of a block that fills a mould."""
    return dry_mass_per_block_kg(
        length_mm=mould.length_mm,
        width_mm=mould.width_mm,
        height_mm=mould.height_mm,
        dry_density_kg_m3=dry_density_kg_m3,
    )


def over_dry_mix(whole: WholeRecipe) -> dict[UUID, float]:
    """Return the share of each material in the dry mix."""
    doses = [one for one in whole.parts if one.role == "stabiliser"]
    both = shares_on_both_bases([Stabiliser(str(one.material_id), one.share, one.basis) for one in doses])  # type: ignore[arg-type]
    soil = 1 - fsum(share.dry_mix for share in both.values())
    return {
        one.material_id: both[str(one.material_id)].dry_mix if one.role == "stabiliser" else one.share * soil
        for one in whole.parts
    }


def material_lines(
    recipes: Sequence[Open], sacks: Sequence[SackInHand], materials: Mapping[UUID, Material], *, waste: float
) -> list[MaterialLine]:
    """Return every material that is still needed, in order of first use."""
    shares = {one.whole.recipe.id: over_dry_mix(one.whole) for one in recipes}
    needed: dict[UUID, float] = {}
    for one in recipes:
        for material_id, share in shares[one.whole.recipe.id].items():
            mass = (one.blocks + one.trials) * one.block_kg * (1 + waste) * share
            needed[material_id] = needed.get(material_id, 0.0) + mass
    return [
        _line(materials[material_id], kg, [one for one in sacks if one.material.id == material_id], recipes, waste)
        for material_id, kg in needed.items()
    ]


def _line(
    material: Material, needed_kg: float, sacks: Sequence[SackInHand], recipes: Sequence[Open], waste: float
) -> MaterialLine:
    if not sacks and material.customer_id is None:
        return MaterialLine(material.name, needed_kg, None, (), 0.0, (), 0.0)
    lines = tuple(_sack(one) for one in sacks)
    in_hand = fsum(line.dry_kg for line in lines)
    short = max(0.0, needed_kg - in_hand)
    found = what_to_cut(_needs(material.id, recipes, waste), short_kg=short) if short else Cuts((), 0.0)
    return MaterialLine(material.name, needed_kg, in_hand, lines, short, found.steps, found.still_short_kg)


def _sack(one: SackInHand) -> SackLine:
    left = left_kg(received_kg=one.receipt.mass_kg, oversize_kg=one.oversize_kg, taken_kg=one.taken_kg)
    cans = [Can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg) for can in one.cans]
    moisture = moisture_of_cans(cans).moisture if cans else None
    return SackLine(one.receipt.label, left, moisture, dry_mass_kg(damp_kg=left, moisture=moisture or 0.0))


def _needs(material_id: UUID, recipes: Sequence[Open], waste: float) -> list[GroupNeed]:
    """Return the groups that take of a material; what is already mixed of a recipe cannot be cut any more."""
    return [
        GroupNeed(
            recipe=one.whole.recipe.label,
            condition=name_of(group),
            soaked=group.condition == "soaked",
            blocks=group.blocks,
            kg_per_block=one.block_kg * (1 + waste) * over_dry_mix(one.whole).get(material_id, 0.0),
        )
        for one in recipes
        if one.blocks == sum(group.blocks for group in one.whole.groups)
        for group in one.whole.groups
    ]
