"""How a recipe comes into a plan: checked, in shares, with a letter of its own and a number for its lot."""

import re
from collections.abc import Mapping
from dataclasses import replace
from math import floor
from secrets import randbelow
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.desk.plan._checks import RecipeGiven, check, next_label
from service.desk.plan._volumes import VolumesGiven, Weighed, as_shares, weighed_parts
from service.errors import Invalid
from service.measured.forming import forming_gauges, most_mpa, within_reach
from service.records import presses as press_records
from service.records import recipes as records
from service.records import sack_stock
from service.records.as_read import columns_of
from service.records.jobs import Job
from service.records.materials import Material
from service.records.recipes import Recipe, RecipeGroup, RecipePart, WholeRecipe

# Letters alone: with the number of the batch behind them every block's label can be read in one way only.
LABEL = re.compile(r"[A-Z]{1,2}", re.ASCII)
SEEDS = 2**31


def add_one(session: Session, caller: Caller, job: Job, asked: RecipeGiven) -> Recipe:
    """Add a recipe in shares to the plan of a job."""
    asked, weighed = in_shares(session, caller, job, asked, None)
    return add_recipe_row(session, job, asked, weighed)


def add_recipe_row(
    session: Session, job: Job, asked: RecipeGiven, weighed: Mapping[UUID, Weighed], *, replaces_id: UUID | None = None
) -> Recipe:
    """Add a checked recipe with its parts and groups."""
    label = free_label(records.recipes_of_job(session, job.id), asked.label, own=None)
    recipe = Recipe(job_id=job.id, label=label, draw_seed=randbelow(SEEDS), replaces_id=replaces_id, **columns(asked))
    session.add(recipe)
    session.flush()
    fill(session, recipe, asked, weighed)
    return recipe


def in_shares(
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


def free_label(planned: list[WholeRecipe], wanted: str | None, *, own: UUID | None) -> str:
    """Return the letter of a recipe: the wanted one if it is free, else the next."""
    taken = {one.recipe.label for one in planned if one.recipe.id != own}
    label = (wanted or "").strip().upper() or next_label(taken)
    if not LABEL.fullmatch(label):
        raise Invalid("This cannot be the letter of a recipe.", {"label": "One or two letters, such as A or AB."})
    if label in taken:
        raise Invalid("Another recipe of this job has this letter.", {"label": "Choose a letter that is free."})
    return label


def columns(asked: RecipeGiven) -> dict[str, Any]:
    """Return the columns of a recipe."""
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


def fill(session: Session, recipe: Recipe, asked: RecipeGiven, weighed: Mapping[UUID, Weighed]) -> None:
    """Add the parts and groups of a recipe."""
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
                test=group.test,
            )
        )
    session.flush()
