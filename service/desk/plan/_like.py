"""A recipe like another one, with a share of the stabiliser and numbers of blocks of its own."""

from collections.abc import Mapping, Sequence
from uuid import UUID

from service.desk.plan._checks import STABILISERS, ComponentGiven, GroupGiven, RecipeGiven, StabiliserGiven
from service.errors import Conflict
from service.records.materials import Material
from service.records.recipes import RecipeGroup, RecipePart, WholeRecipe
from service.records.sack_stock import SackInHand
from service.typed import Typed

_WHOLE = Typed(1.0, "100", "%")


def like_with(
    like: WholeRecipe,
    *,
    share: Typed,
    blocks: int,
    mixes: int,
    materials: Mapping[UUID, Material],
    sacks: Sequence[SackInHand],
) -> RecipeGiven:
    """Return what is asked for: soil, water, pressing and tests as they were; of another job the soil is this one's."""
    recipe = like.recipe
    return RecipeGiven(
        components=_components(like, materials, sacks),
        stabilisers=(StabiliserGiven(_stabiliser(like, materials), share, "dry soil"),),
        groups=tuple(_group(one, blocks) for one in like.groups),
        target_moisture=_percent(recipe.target_moisture),
        mould_id=recipe.mould_id,
        moisture_basis=recipe.moisture_basis,
        batches=mixes,
        press_stress_mpa=_typed(recipe.press_stress_mpa, "MPa"),
        press_stroke_mm=_typed(recipe.press_stroke_mm, "mm"),
    )


def _components(
    like: WholeRecipe, materials: Mapping[UUID, Material], sacks: Sequence[SackInHand]
) -> tuple[ComponentGiven, ...]:
    parts = [part for part in like.parts if part.role == "component"]
    if all(part.material_id in materials for part in parts) and _own(parts, sacks):
        return tuple(ComponentGiven(part.material_id, _percent(part.share)) for part in parts)
    soil = next((one.material.id for one in sacks if one.material.kind == "soil"), None)
    if soil is None:
        raise Conflict("No sack of soil is here yet. Add one first.")
    return (ComponentGiven(soil, _WHOLE),)


def _own(parts: Sequence[RecipePart], sacks: Sequence[SackInHand]) -> bool:
    return bool({part.material_id for part in parts} & {one.material.id for one in sacks})


def _stabiliser(like: WholeRecipe, materials: Mapping[UUID, Material]) -> UUID:
    usable = [one for one in materials.values() if one.kind in STABILISERS and one.ended_at is None]
    was = {part.material_id for part in like.parts if part.role == "stabiliser"}
    found = next((one for one in usable if one.id in was), None) or next(iter(usable), None)
    if found is None:
        raise Conflict("No stabiliser is known yet. Add one under materials first.")
    return found.id


def _group(group: RecipeGroup, blocks: int) -> GroupGiven:
    return GroupGiven(
        condition=group.condition,
        age_days=Typed(group.age_days, f"{group.age_days:.6g}", "d"),
        blocks=group.blocks if group.test else blocks,
        test=group.test,
        tolerance_hours=Typed(group.tolerance_hours, f"{group.tolerance_hours:.6g}", "h"),
        soak_hours=_typed(group.soak_hours, "h"),
        soak_hours_max=_typed(group.soak_hours_max, "h"),
    )


def _percent(share: float) -> Typed:
    return Typed(share, f"{100 * share:.6g}", "%")


def _typed(value: float | None, unit: str) -> Typed | None:
    return None if value is None else Typed(value, f"{value:.6g}", unit)
