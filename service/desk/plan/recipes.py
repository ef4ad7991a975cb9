"""Recipes: planned, changed until a batch exists, then replaced by another, or dropped with a reason."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.plan._adding import add_one, add_recipe_row, columns, fill, free_label, in_shares
from service.desk.plan._checks import ComponentGiven, GroupGiven, RecipeGiven, StabiliserGiven
from service.desk.plan._like import like_with
from service.desk.plan._planned import unmixed, whole_recipe
from service.desk.plan._volumes import VolumeGiven, VolumesGiven, Weighed
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.records import batches as batch_records
from service.records import jobs as job_records
from service.records import recipes as records
from service.records import sack_stock
from service.records.as_read import as_read
from service.records.recipes import WholeRecipe
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
        raise Conflict("This job is finished. Open it again first.")
    asked, weighed = in_shares(session, caller, job, asked, volumes)
    if replaces_id is not None:
        _may_be_replaced(session, records.recipes_of_job(session, job.id), replaces_id)
    recipe = add_recipe_row(session, job, asked, weighed, replaces_id=replaces_id)
    return Done("recipe", recipe.id, {"label": recipe.label, "replaces": replaces_id, **_details(asked, weighed)})


@act("recipe.add_shares", by=STAFF)
def add_shares(
    session: Session, caller: Caller, *, job_id: UUID, shares: tuple[Typed, ...], blocks: int, mixes: int
) -> Done:
    """Plan a recipe for each share of the stabiliser, like the last one planned but for share, blocks and mixes."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    if job.closed_at is not None:
        raise Conflict("This job is finished. Open it again first.")
    like = records.newest_of_job(session, job.id) or records.newest_recipe(session)
    if like is None:
        raise Conflict("No recipe was planned yet. Plan the first one in its form.")
    materials = {one.id: one for one in sack_stock.materials_of(session, customer_id=job.customer_id)}
    sacks = sack_stock.sacks_in_hand(session, job.id)
    labels = []
    for share in shares:
        asked = like_with(like, share=share, blocks=blocks, mixes=mixes, materials=materials, sacks=sacks)
        labels.append(add_one(session, caller, job, asked).label)
    return Done("job", job.id, {"recipes": labels, "shares": [one.as_read() for one in shares], "blocks": blocks})


@act("recipe.change", by=STAFF)
def change_recipe(
    session: Session, caller: Caller, *, recipe_id: UUID, asked: RecipeGiven, volumes: VolumesGiven | None = None
) -> Done:
    """Put another plan in the place of one of which nothing is mixed yet; the trail keeps what it was."""
    whole = unmixed(session, caller, recipe_id)
    recipe = whole.recipe
    job = job_records.visible(session, recipe.job_id, seen_by=caller.seen_by)
    asked, weighed = in_shares(session, caller, job, asked, volumes)
    was = _said(whole)
    recipe.label = free_label(records.recipes_of_job(session, job.id), asked.label or recipe.label, own=recipe.id)
    for column, value in columns(asked).items():
        setattr(recipe, column, value)
    for rows in (whole.volumes.values(), (*whole.parts, *whole.groups)):
        for row in rows:
            session.delete(row)
        session.flush()
    fill(session, recipe, asked, weighed)
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


def _may_be_replaced(session: Session, planned: list[WholeRecipe], replaces_id: UUID) -> None:
    if replaces_id not in {one.recipe.id for one in planned}:
        raise NotFound("There is no such recipe.")
    if not batch_records.batches_of_recipe(session, replaces_id):
        raise Conflict("This recipe is not mixed yet. Change it instead.")
    if any(one.recipe.replaces_id == replaces_id for one in planned):
        raise Conflict("Another recipe replaced this one already.")


def _details(asked: RecipeGiven, weighed: Mapping[UUID, Weighed]) -> dict[str, Any]:
    return {
        **({"volumes": list(weighed.values())} if weighed else {}),
        "components": [(one.material_id, one.share.as_read()) for one in asked.components],
        "stabilisers": [(one.material_id, one.share.as_read(), one.basis) for one in asked.stabilisers],
        "groups": [(one.test or one.condition, one.blocks, as_read(_typed_of(one))) for one in asked.groups],
    }


def _typed_of(group: GroupGiven) -> dict[str, Any]:
    return {name: value for name, value in vars(group).items() if name not in ("condition", "blocks", "test")}


def _said(whole: WholeRecipe) -> dict[str, Any]:
    return {
        "recipe": whole.recipe.model_dump(exclude={"id", "created_at", "job_id"}),
        "parts": [part.model_dump(exclude={"id", "created_at", "recipe_id"}) for part in whole.parts],
        "volumes": [one.model_dump(exclude={"id", "created_at"}) for one in whole.volumes.values()],
        "groups": [group.model_dump(exclude={"id", "created_at", "recipe_id"}) for group in whole.groups],
    }
