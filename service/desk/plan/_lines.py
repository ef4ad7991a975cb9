"""A recipe as the page of the plan shows it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from math import fsum
from uuid import UUID

from service.desk.plan._supply import block_mass_kg, over_dry_mix
from service.measured.crushed import name_of
from service.records.batches import Batch
from service.records.materials import Material
from service.records.presses import Mould
from service.records.recipes import PartVolume, RecipeGroup, RecipePart, WholeRecipe
from service.trade.block.random_order import blocks_of_batches, draw


@dataclass(frozen=True)
class VolumeLine:
    """The parts by volume a share came from, and how heavily the material lay: measured, or taken from somewhere."""

    parts: float
    density_kg_m3: float
    damp: bool
    moisture: float | None
    taken_from: str | None


@dataclass(frozen=True)
class PartLine:
    """A material of a recipe and its share on both bases."""

    material_id: UUID
    name: str
    role: str
    share: float
    basis: str
    dry_soil: float
    dry_mix: float
    volume: VolumeLine | None


@dataclass(frozen=True)
class GroupLine:
    """So many blocks in one state at one age; ``test`` is the kind of another test they are for."""

    condition: str
    name: str
    age_days: float
    tolerance_hours: float
    soak_hours: float | None
    soak_hours_max: float | None
    blocks: int
    test: str | None


@dataclass(frozen=True)
class DrawnLine:
    """A place in a batch, in random order."""

    batch: int
    position: int
    condition: str
    name: str
    crush_order: int


@dataclass(frozen=True)
class RecipeLine:
    """One recipe with everything that was decided of it."""

    id: UUID
    label: str
    state: str
    parts: tuple[PartLine, ...]
    target_moisture: float
    moisture_basis: str
    moisture_other: float
    other_basis: str
    press_stress_mpa: float | None
    press_stroke_mm: float | None
    mould_id: UUID
    mould: str
    batches: int
    batches_begun: int
    mix_on: date | None
    groups: tuple[GroupLine, ...]
    blocks: int
    blocks_of_batches: tuple[int, ...]
    block_kg: float
    draw_seed: int
    drawn: tuple[DrawnLine, ...]
    dropped_because: str | None
    replaced_by: str | None
    replaces: str | None


def recipe_lines(
    planned: Sequence[WholeRecipe],
    batches: Mapping[UUID, Sequence[Batch]],
    materials: Mapping[UUID, Material],
    moulds: Mapping[UUID, Mould],
    *,
    dry_density_kg_m3: float,
) -> list[RecipeLine]:
    """Return the recipes of a job, by letter."""
    labels = {one.recipe.id: one.recipe.label for one in planned}
    followers = {one.recipe.replaces_id: one.recipe.label for one in planned if one.recipe.replaces_id}
    lines = []
    for one in planned:
        recipe = one.recipe
        begun = len(batches.get(recipe.id, ()))
        mix_over_soil = 1 / _soil_share(one)
        on_mix = recipe.moisture_basis == "dry mix"
        groups = tuple(_group(group) for group in one.groups)
        blocks = sum(group.blocks for group in groups)
        lines.append(
            RecipeLine(
                id=recipe.id,
                label=recipe.label,
                state=_state(one, begun, replaced=recipe.id in followers),
                parts=_parts(one, materials),
                target_moisture=recipe.target_moisture,
                moisture_basis=recipe.moisture_basis,
                moisture_other=recipe.target_moisture * (mix_over_soil if on_mix else 1 / mix_over_soil),
                other_basis="dry soil" if on_mix else "dry mix",
                press_stress_mpa=recipe.press_stress_mpa,
                press_stroke_mm=recipe.press_stroke_mm,
                mould_id=recipe.mould_id,
                mould=moulds[recipe.mould_id].name,
                batches=recipe.batches,
                batches_begun=begun,
                mix_on=recipe.mix_on,
                groups=groups,
                blocks=blocks,
                blocks_of_batches=blocks_of_batches(blocks=blocks, batches=recipe.batches),
                block_kg=block_mass_kg(moulds[recipe.mould_id], dry_density_kg_m3=dry_density_kg_m3),
                draw_seed=recipe.draw_seed,
                drawn=_drawn(one, groups),
                dropped_because=recipe.dropped_because,
                replaced_by=followers.get(recipe.id),
                replaces=labels.get(recipe.replaces_id) if recipe.replaces_id else None,
            )
        )
    return lines


def _state(whole: WholeRecipe, begun: int, *, replaced: bool) -> str:
    if whole.recipe.dropped_at is not None:
        return "dropped"
    if replaced:
        return "replaced"
    if begun >= whole.recipe.batches:
        return "mixed"
    return "begun" if begun else "planned"


def _soil_share(whole: WholeRecipe) -> float:
    shares = over_dry_mix(whole)
    return 1 - fsum(shares[part.material_id] for part in whole.parts if part.role == "stabiliser")


def _parts(whole: WholeRecipe, materials: Mapping[UUID, Material]) -> tuple[PartLine, ...]:
    mix, soil = over_dry_mix(whole), _soil_share(whole)
    return tuple(
        PartLine(
            part.material_id,
            materials[part.material_id].name,
            part.role,
            part.share,
            part.basis,
            mix[part.material_id] / soil,
            mix[part.material_id],
            _volume(part, whole.volumes.get(part.id)),
        )
        for part in whole.parts
    )


def _volume(part: RecipePart, volume: PartVolume | None) -> VolumeLine | None:
    if volume is None or part.typed_parts is None:
        return None
    return VolumeLine(part.typed_parts, volume.density_kg_m3, volume.damp, volume.moisture, volume.taken_from)


def _group(group: RecipeGroup) -> GroupLine:
    return GroupLine(
        condition=group.condition,
        name=name_of(group),
        age_days=group.age_days,
        tolerance_hours=group.tolerance_hours,
        soak_hours=group.soak_hours,
        soak_hours_max=group.soak_hours_max,
        blocks=group.blocks,
        test=group.test,
    )


def _drawn(whole: WholeRecipe, groups: Sequence[GroupLine]) -> tuple[DrawnLine, ...]:
    places = draw([group.blocks for group in groups], batches=whole.recipe.batches, seed=whole.recipe.draw_seed)
    return tuple(
        DrawnLine(
            place.batch, place.position, groups[place.group].condition, groups[place.group].name, place.crush_order
        )
        for place in places
    )
