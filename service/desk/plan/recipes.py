"""Recipes: planned, changed until a batch exists, then replaced by another, or dropped with a reason."""

import re
from collections.abc import Mapping
from dataclasses import replace
from math import floor
from secrets import randbelow
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.plan._checks import ComponentGiven, GroupGiven, RecipeGiven, StabiliserGiven, check, next_label
from service.desk.plan._like import like_with
from service.desk.plan._planned import unmixed, whole_recipe
from service.desk.plan._volumes import VolumeGiven, VolumesGiven, Weighed, as_shares, weighed_parts
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.measured.forming import forming_gauges, most_mpa, within_reach
from service.records import batches as batch_records
from service.records import jobs as job_records
from service.records import presses as press_records
from service.records import recipes as records
from service.records import sack_stock
from service.records.as_read import as_read, columns_of
from service.records.jobs import Job
from service.records.materials import Material
from service.records.recipes import Recipe, RecipeGroup, RecipePart, WholeRecipe
from service.typed import Typed

__all__ = [
    "ComponentGiven",
    "GroupGiven",
    "RecipeGiven",
    "StabiliserGiven",
    "VolumeGiven",
    "VolumesGiven",
    "add_recipe",
    "add_shares",
    "change_recipe",
    "drop_recipe",
]

# Letters alone: with the number of the batch behind them every block's label can be read in one way only.
LABEL = re.compile(r"[A-Z]{1,2}", re.ASCII)
SEEDS = 2**31


@act("recipe.add", by=STAFF)
def add_recipe(
    session: Session,
    caller: Caller,
    *,
    job_id: UUID,
    asked: RecipeGiven,
    volumes: VolumesGiven | None = None,
    replaces_id: UUID | None = None,
) -> Done:
    """Plan a recipe, in the place of a mixed one if it replaces that; parts by volume take the place of shares."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    if job.closed_at is not None:
        raise Conflict("This job is closed.")
    asked, weighed = _in_shares(session, caller, job, asked, volumes)
    planned = records.recipes_of_job(session, job.id)
    if replaces_id is not None:
        _may_be_replaced(session, planned, replaces_id)
    label = _label(planned, asked.label, own=None)
    recipe = Recipe(job_id=job.id, label=label, draw_seed=randbelow(SEEDS), replaces_id=replaces_id, **_columns(asked))
    session.add(recipe)
    session.flush()
    _fill(session, recipe, asked, weighed)
    return Done("recipe", recipe.id, {"label": label, "replaces": replaces_id, **_details(asked, weighed)})


@act("recipe.add_shares", by=STAFF)
def add_shares(
    session: Session, caller: Caller, *, job_id: UUID, shares: tuple[Typed, ...], blocks: int, mixes: int
) -> Done:
    """Plan a recipe for each share of the stabiliser, like the last one planned but for share, blocks and mixes."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    if job.closed_at is not None:
        raise Conflict("This job is closed.")
    like = records.newest_of_job(session, job.id) or records.newest_recipe(session)
    if like is None:
        raise Conflict("No recipe was planned yet. Plan the first one in its form.")
    materials = {one.id: one for one in sack_stock.materials_of(session, customer_id=job.customer_id)}
    sacks = sack_stock.sacks_in_hand(session, job.id)
    labels = []
    for share in shares:
        asked = like_with(like, share=share, blocks=blocks, mixes=mixes, materials=materials, sacks=sacks)
        _check(session, caller, materials, asked)
        labels.append(_label(records.recipes_of_job(session, job.id), None, own=None))
        recipe = Recipe(job_id=job.id, label=labels[-1], draw_seed=randbelow(SEEDS), **_columns(asked))
        session.add(recipe)
        session.flush()
        _fill(session, recipe, asked, {})
    return Done("job", job.id, {"recipes": labels, "shares": [one.as_read() for one in shares], "blocks": blocks})


@act("recipe.change", by=STAFF)
def change_recipe(
    session: Session, caller: Caller, *, recipe_id: UUID, asked: RecipeGiven, volumes: VolumesGiven | None = None
) -> Done:
    """Put another plan in the place of one of which nothing is mixed yet; the trail keeps what it was."""
    whole = unmixed(session, caller, recipe_id)
    recipe = whole.recipe
    job = job_records.visible(session, recipe.job_id, seen_by=caller.seen_by)
    asked, weighed = _in_shares(session, caller, job, asked, volumes)
    was = _said(whole)
    recipe.label = _label(records.recipes_of_job(session, job.id), asked.label or recipe.label, own=recipe.id)
    for column, value in _columns(asked).items():
        setattr(recipe, column, value)
    for rows in (whole.volumes.values(), (*whole.parts, *whole.groups)):
        for row in rows:
            session.delete(row)
        session.flush()
    _fill(session, recipe, asked, weighed)
    return Done("recipe", recipe.id, {"label": recipe.label, "was": was, **_details(asked, weighed)})


@act("recipe.drop", by=STAFF)
def drop_recipe(session: Session, caller: Caller, *, recipe_id: UUID, because: str, job_id: UUID | None = None) -> Done:
    """Drop a recipe with a reason; what was mixed of it stays."""
    recipe = whole_recipe(session, caller, recipe_id).recipe
    of_its_address(recipe.job_id, job_id)
    session.refresh(recipe, with_for_update=True)
    if recipe.dropped_at is not None:
        raise Conflict("This recipe was taken out of the plan already.")
    if not because.strip():
        raise Invalid("Say why the recipe is taken out.", {"because": "Say why the recipe is taken out."})
    recipe.dropped_at, recipe.dropped_because = caller.stores.clock(), because.strip()
    session.add(recipe)
    return Done("recipe", recipe.id, {"label": recipe.label, "because": because.strip()})


def _in_shares(
    session: Session, caller: Caller, job: Job, asked: RecipeGiven, volumes: VolumesGiven | None
) -> tuple[RecipeGiven, dict[UUID, Weighed]]:
    """Return the recipe in shares, checked, and of parts by volume how heavily each material lay."""
    materials = {one.id: one for one in sack_stock.materials_of(session, customer_id=job.customer_id)}
    if volumes is None:
        _check(session, caller, materials, asked)
        return asked, {}
    weighed = weighed_parts(session, job, volumes, materials)
    components, stabilisers = as_shares(volumes, weighed)
    converted = replace(asked, components=components, stabilisers=stabilisers)
    try:
        _check(session, caller, materials, converted)
    except Invalid as fault:
        # What was typed were parts, so that is where the sentence belongs.
        told = {name.replace(".share", ".parts"): sentence for name, sentence in fault.fields.items()}
        raise Invalid(fault.sentence, told) from fault
    return converted, weighed


def _check(session: Session, caller: Caller, materials: Mapping[UUID, Material], asked: RecipeGiven) -> None:
    check(asked, materials)
    mould = next((one for one in press_records.moulds(session) if one.id == asked.mould_id), None)
    if mould is None:
        raise Invalid("This mould is not in use.", {"mould_id": "Choose one from the list."})
    forming = forming_gauges(session, today=caller.clock.today)
    if asked.press_stress_mpa is not None and not within_reach(forming, asked.press_stress_mpa.value, mould):
        most = floor(100 * most_mpa(forming, mould)) / 100
        sentence = f"No press makes this stress in this mould below its working limit. The most is {most} MPa."
        raise Invalid(sentence, {"press_stress_mpa": sentence})


def _may_be_replaced(session: Session, planned: list[WholeRecipe], replaces_id: UUID) -> None:
    if replaces_id not in {one.recipe.id for one in planned}:
        raise NotFound("There is no such recipe.")
    if not batch_records.batches_of_recipe(session, replaces_id):
        raise Conflict("This recipe is not mixed yet. Change it instead.")
    if any(one.recipe.replaces_id == replaces_id for one in planned):
        raise Conflict("Another recipe replaced this one already.")


def _label(planned: list[WholeRecipe], wanted: str | None, *, own: UUID | None) -> str:
    taken = {one.recipe.label for one in planned if one.recipe.id != own}
    label = (wanted or "").strip().upper() or next_label(taken)
    if not LABEL.fullmatch(label):
        raise Invalid("This cannot be the letter of a recipe.", {"label": "One or two letters, such as A or AB."})
    if label in taken:
        raise Invalid("Another recipe of this job has this letter.", {"label": "Choose a letter that is free."})
    return label


def _columns(asked: RecipeGiven) -> dict[str, Any]:
    typed = {
        "target_moisture": asked.target_moisture,
        "press_stress_mpa": asked.press_stress_mpa,
        "press_stroke_mm": asked.press_stroke_mm,
    }
    return {
        "press_stress_mpa": None,
        "press_stroke_mm": None,
        "moisture_basis": asked.moisture_basis,
        "mould_id": asked.mould_id,
        "batches": asked.batches,
        "mix_on": asked.mix_on,
        **columns_of(typed),
    }


def _fill(session: Session, recipe: Recipe, asked: RecipeGiven, weighed: Mapping[UUID, Weighed]) -> None:
    parts = [(one.material_id, "component", one.share.value, "blend") for one in asked.components]
    parts += [(one.material_id, "stabiliser", one.share.value, one.basis) for one in asked.stabilisers]
    for position, (material_id, role, share, basis) in enumerate(parts):
        volume = weighed.get(material_id)
        part = RecipePart(
            recipe_id=recipe.id,
            position=position,
            material_id=material_id,
            role=role,
            share=share,
            basis=basis,
            given_as="volume" if volume else "mass",
            typed_parts=volume.parts if volume else None,
        )
        session.add(part)
        session.flush()
        if volume is not None:
            session.add(volume.row(part.id))
    for group in asked.groups:
        session.add(
            RecipeGroup(
                recipe_id=recipe.id,
                condition=group.condition,
                age_days=group.age_days.value,
                tolerance_hours=group.tolerance_hours.value,
                soak_hours=group.soak_hours.value if group.soak_hours else None,
                soak_hours_max=group.soak_hours_max.value if group.soak_hours_max else None,
                blocks=group.blocks,
            )
        )
    session.flush()


def _details(asked: RecipeGiven, weighed: Mapping[UUID, Weighed]) -> dict[str, Any]:
    return {
        **({"volumes": list(weighed.values())} if weighed else {}),
        "components": [(one.material_id, one.share.as_read()) for one in asked.components],
        "stabilisers": [(one.material_id, one.share.as_read(), one.basis) for one in asked.stabilisers],
        "groups": [(one.condition, one.blocks, as_read(_typed_of(one))) for one in asked.groups],
    }


def _typed_of(group: GroupGiven) -> dict[str, Any]:
    return {name: value for name, value in vars(group).items() if name not in ("condition", "blocks")}


def _said(whole: WholeRecipe) -> dict[str, Any]:
    return {
        "recipe": whole.recipe.model_dump(exclude={"id", "created_at", "job_id"}),
        "parts": [part.model_dump(exclude={"id", "created_at", "recipe_id"}) for part in whole.parts],
        "volumes": [one.model_dump(exclude={"id", "created_at"}) for one in whole.volumes.values()],
        "groups": [group.model_dump(exclude={"id", "created_at", "recipe_id"}) for group in whole.groups],
    }
