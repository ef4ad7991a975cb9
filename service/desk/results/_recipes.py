"""What each recipe is, was and costs: shares on both bases, mixes as weighed, dry density and wall."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from math import fsum
from statistics import fmean
from uuid import UUID

from service.desk.results.recipe_facts import MixFacts, PartFacts, WallFacts
from service.desk.results.result_facts import GroupFacts, ReadingFacts
from service.records.batches import Batch, BatchPart
from service.records.jobs import Job
from service.records.materials import Material, Price
from service.records.recipes import RecipePart, WholeRecipe
from service.records.result_queries import TriedBlock
from service.trade.mix.batch import Achieved, Stabiliser, Weighed, achieved_mix, shares_on_both_bases
from service.trade.sentences.tried_recipes import Dose, Part, Recipe
from service.trade.wall.wall_load import foot_stress_mpa, slenderness, unit_strength_ratio

Materials = Mapping[UUID, tuple[Material, Price | None]]


def mixed(
    whole: Sequence[WholeRecipe],
    tried: Iterable[TriedBlock],
    parts: Mapping[UUID, list[BatchPart]],
    materials: Materials,
) -> tuple[dict[UUID, list[MixFacts]], dict[UUID, float]]:
    """Return the mixes of each recipe as they were weighed, and the moisture over dry mix of each batch."""
    by_id = {one.recipe.id: one for one in whole}
    batches = {one.batch.id: one.batch for one in tried}
    mixes: dict[UUID, list[MixFacts]] = {}
    moistures: dict[UUID, float] = {}
    for batch in batches.values():
        recipe = by_id[batch.recipe_id]
        was = _achieved(batch, parts.get(batch.id, []), recipe, materials)
        moistures[batch.id] = was.moisture if was else _target_over_dry_mix(recipe, materials)
        shares = {name: share.dry_soil for name, share in was.stabilisers.items()} if was else {}
        shares |= dict(was.components) if was else {}
        fact = MixFacts(
            batch.number,
            batch.mixed_at,
            was.moisture if was else None,
            shares,
            batch.covered_at,
            batch.uncovered_at,
        )
        mixes.setdefault(batch.recipe_id, []).append(fact)
    return mixes, moistures


def _achieved(batch: Batch, parts: Sequence[BatchPart], recipe: WholeRecipe, materials: Materials) -> Achieved | None:
    if batch.water_kg is None or not parts or any(part.weighed_kg is None for part in parts):
        return None
    by_id = {part.id: part for part in recipe.parts}
    weighed: dict[str, dict[str, list[BatchPart]]] = {"component": {}, "stabiliser": {}}
    for part in parts:
        planned = by_id[part.recipe_part_id]
        weighed[planned.role].setdefault(materials[planned.material_id][0].name, []).append(part)
    return achieved_mix(
        components=[_together(name, found) for name, found in weighed["component"].items()],
        stabilisers=[_together(name, found) for name, found in weighed["stabiliser"].items()],
        water_kg=batch.water_kg,
    )


def _together(name: str, parts: Sequence[BatchPart]) -> Weighed:
    """Return one material out of several sacks, with the moisture of all of it."""
    wet = fsum(part.weighed_kg or 0.0 for part in parts)
    dry = fsum((part.weighed_kg or 0.0) / (1 + part.moisture) for part in parts)
    return Weighed(name, wet, wet / dry - 1 if dry else 0.0)


def _stabilisers(recipe: WholeRecipe, materials: Materials) -> list[Stabiliser]:
    return [
        Stabiliser(materials[part.material_id][0].name, part.share, part.basis)  # type: ignore[arg-type]
        for part in recipe.parts
        if part.role == "stabiliser"
    ]


def _mix_over_soil(recipe: WholeRecipe, materials: Materials) -> float:
    """Return dry mix over dry soil."""
    return 1 + fsum(both.dry_soil for both in shares_on_both_bases(_stabilisers(recipe, materials)).values())


def _target_over_dry_mix(recipe: WholeRecipe, materials: Materials) -> float:
    over = 1.0 if recipe.recipe.moisture_basis == "dry mix" else _mix_over_soil(recipe, materials)
    return recipe.recipe.target_moisture / over


def dry_share(recipe: WholeRecipe, materials: Materials) -> dict[str, float]:
    """Return the share of each material in the dry mix."""
    over = _mix_over_soil(recipe, materials)
    both = shares_on_both_bases(_stabilisers(recipe, materials))
    shares = {name: share.dry_mix for name, share in both.items()}
    return shares | {
        materials[part.material_id][0].name: part.share / over for part in recipe.parts if part.role == "component"
    }


def part_facts(recipe: WholeRecipe, materials: Materials) -> tuple[PartFacts, ...]:
    """Return what goes into a recipe; a stabiliser's share on both bases."""
    both = shares_on_both_bases(_stabilisers(recipe, materials))
    return tuple(_part(part, *materials[part.material_id], both=both) for part in recipe.parts)


def _part(part: RecipePart, material: Material, price: Price | None, *, both: Mapping[str, object]) -> PartFacts:
    shares = both.get(material.name)
    return PartFacts(
        name=material.name,
        role=part.role,
        share=part.share,
        basis=part.basis,
        over_dry_soil=getattr(shares, "dry_soil", None),
        over_dry_mix=getattr(shares, "dry_mix", None),
        hauled_in=part.role == "component" and material.customer_id is None,
        per_kg=price.per_kg if price else None,
        carbon_kg_per_kg=price.carbon_kg_per_kg if price else None,
        carbon_source=price.source if price else None,
    )


def wall_facts(job: Job, *, dry_density_kg_m3: float | None, groups: Sequence[GroupFacts]) -> WallFacts | None:
    """Return the stress at the foot of the customer's wall beside what is sure of one soaked block."""
    density = job.machine_density_kg_m3 or dry_density_kg_m3
    if density is None or job.wall_height_m is None or job.wall_thickness_mm is None:
        return None
    foot = foot_stress_mpa(
        density_kg_m3=density,
        height_m=job.wall_height_m,
        thickness_mm=job.wall_thickness_mm,
        line_load_kn_m=job.roof_line_load_kn_m or 0.0,
    )
    fell_apart = any(one.soaked and one.said.fell_apart for one in groups)
    # A recipe of which a block fell apart in the water has no soaked strength to speak of, however others stood.
    sure_of = {
        one.said.condition: sure
        for one in groups
        if one.soaked and not fell_apart and (sure := one.measured(one.said.characteristic_low_mpa))
    }
    condition = min(sure_of, key=lambda name: sure_of[name], default=None)
    sure = sure_of[condition] if condition else None
    return WallFacts(
        foot_stress_mpa=foot,
        slenderness=slenderness(height_m=job.wall_height_m, thickness_mm=job.wall_thickness_mm),
        density_kg_m3=density,
        strength_mpa=sure,
        condition=condition,
        fell_apart=fell_apart,
        unit_strength_ratio=unit_strength_ratio(strength_mpa=sure, foot_stress_mpa=foot) if sure else None,
    )


def density_of(readings: Iterable[ReadingFacts]) -> float | None:
    """Return the mean dry density of the blocks whose density is known."""
    known = [one.dry_density_kg_m3 for one in readings if one.dry_density_kg_m3 is not None]
    return fmean(known) if known else None


def tried_recipe(label: str, parts: Sequence[PartFacts], *, cost: Decimal | None = None, mixes: int = 1) -> Recipe:
    """Return a recipe as the words need it."""
    return Recipe(
        label=label,
        parts=tuple(Part(part.name, part.share, part.hauled_in) for part in parts if part.role == "component"),
        doses=tuple(Dose(part.name, part.share, part.basis) for part in parts if part.role == "stabiliser"),  # type: ignore[arg-type]
        cost=cost,
        batches=max(1, mixes),
    )
