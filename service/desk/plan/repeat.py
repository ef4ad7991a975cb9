"""Plan a job as an earlier one: its recipes, groups and blocks, with this job's own soil in the place of the other."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.desk.plan._adding import add_one
from service.desk.plan._checks import ComponentGiven, GroupGiven, RecipeGiven, StabiliserGiven
from service.errors import Conflict, Invalid
from service.records import jobs as job_records
from service.records import recipes as records
from service.records import sack_stock
from service.records.jobs import Job
from service.records.materials import Material
from service.records.recipes import Recipe, RecipeGroup, RecipePart, WholeRecipe
from service.typed import Typed


@dataclass(frozen=True)
class EarlierPlan:
    """A job whose plan can be repeated."""

    number: int
    customer: str
    recipes: str


@look("plan.earlier", by=STAFF)
def earlier(session: Session, caller: Caller, *, job_id: UUID) -> list[EarlierPlan]:
    """Return the plans that were made last: those of the job's customer first, then others of the shop."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    found = records.planned_lately(session, job.customer_id, but=job.id)
    return [EarlierPlan(one.number, one.customer, ", ".join(one.labels)) for one in found]


@act("plan.repeat", by=STAFF)
def repeat(session: Session, caller: Caller, *, job_id: UUID, number: int) -> Done:
    """Plan a job of which nothing is planned yet as an earlier one; parts by volume come as shares by mass."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    if job.closed_at is not None:
        raise Conflict("This job is finished. Open it again first.")
    session.refresh(job, with_for_update=True)
    if records.recipes_of_job(session, job.id):
        raise Conflict("This job has recipes already. Plan the others one by one.")
    like = job_records.by_number(session, number)
    recipes = _in_force(records.recipes_of_job(session, like.id)) if like is not None and like.id != job.id else []
    if like is None or not recipes:
        sentence = "No other job of this number has a plan."
        raise Invalid(sentence, {"number": sentence})
    soils = _own_soils(session, job, like, recipes)
    planned = [_repeated(session, caller, job, one, soils) for one in recipes]
    said = f"as job {number}: {', '.join(one.label for one in planned)}"
    parts = [part.id for one in records.recipes_of_job(session, job.id) for part in one.parts]
    return Done("job", job.id, {"label": said, "recipes": [one.id for one in planned], "parts": parts})


def _in_force(planned: Sequence[WholeRecipe]) -> list[WholeRecipe]:
    replaced = {one.recipe.replaces_id for one in planned}
    return [one for one in planned if one.recipe.dropped_at is None and one.recipe.id not in replaced]


def _own_soils(session: Session, job: Job, like: Job, recipes: Sequence[WholeRecipe]) -> dict[UUID, UUID]:
    """Return what stands in the place of each soil of the other customer: the one that this job has."""
    here = {sack.material.id: sack.material for sack in sack_stock.sacks_in_hand(session, job.id)}
    own = [one for one in here.values() if one.customer_id is not None]
    theirs = {one.id: one for one in sack_stock.materials_of(session, customer_id=like.customer_id)}
    used = {part.material_id for recipe in recipes for part in recipe.parts}
    others = [theirs[one] for one in used if _is_foreign(theirs.get(one), here)]
    if not others:
        return {}
    if len(others) != 1 or len(own) != 1:
        sentence = f"Job {like.number} used {_soils(len(others))} of its own, and this job has {_soils(len(own))}."
        raise Invalid(f"{sentence} Plan the recipes one by one.", {"number": sentence})
    return {others[0].id: own[0].id}


def _is_foreign(material: Material | None, here: Mapping[UUID, Material]) -> bool:
    return material is not None and material.customer_id is not None and material.id not in here


def _soils(count: int) -> str:
    return f"{count} soil" if count == 1 else f"{count} soils"


def _repeated(session: Session, caller: Caller, job: Job, whole: WholeRecipe, soils: Mapping[UUID, UUID]) -> Recipe:
    recipe = whole.recipe
    asked = RecipeGiven(
        components=tuple(_component(one, soils) for one in whole.parts if one.role == "component"),
        stabilisers=tuple(_stabiliser(one) for one in whole.parts if one.role == "stabiliser"),
        groups=tuple(_group(one) for one in whole.groups),
        target_moisture=_typed(recipe.as_read, "target_moisture", recipe.target_moisture),
        moisture_basis=recipe.moisture_basis,
        mould_id=recipe.mould_id,
        batches=recipe.batches,
        press_stress_mpa=_maybe(recipe.as_read, "press_stress_mpa", recipe.press_stress_mpa),
        press_stroke_mm=_maybe(recipe.as_read, "press_stroke_mm", recipe.press_stroke_mm),
        label=recipe.label,
    )
    try:
        return add_one(session, caller, job, asked)
    except Invalid as fault:
        # There is no form of this recipe to mark: what cannot be repeated is said of the whole.
        because = " ".join(dict.fromkeys(fault.fields.values())) or fault.sentence
        raise Invalid(f"Recipe {recipe.label} cannot be repeated here. {because}", {"number": because}) from fault


def _component(part: RecipePart, soils: Mapping[UUID, UUID]) -> ComponentGiven:
    return ComponentGiven(soils.get(part.material_id, part.material_id), _share(part.share))


def _stabiliser(part: RecipePart) -> StabiliserGiven:
    return StabiliserGiven(part.material_id, _share(part.share), part.basis)


def _share(share: float) -> Typed:
    return Typed(share, f"{100 * share:.6g}", "%")


def _group(group: RecipeGroup) -> GroupGiven:
    return GroupGiven(
        group.condition,
        Typed(group.age_days, f"{group.age_days:g}", "d"),
        group.blocks,
        Typed(group.tolerance_hours, f"{group.tolerance_hours:g}", "h"),
        Typed(group.soak_hours, f"{group.soak_hours:g}", "h") if group.soak_hours else None,
        Typed(group.soak_hours_max, f"{group.soak_hours_max:g}", "h") if group.soak_hours_max else None,
        test=group.test,
    )


def _typed(read: Mapping[str, Mapping[str, str]], column: str, value: float) -> Typed:
    """Return a quantity as it was typed for the other job."""
    said = read.get(column, {"text": f"{value:g}", "unit": ""})
    return Typed(value, said["text"], said["unit"])


def _maybe(read: Mapping[str, Mapping[str, str]], column: str, value: float | None) -> Typed | None:
    return None if value is None else _typed(read, column, value)
