"""Recipes as they stand, and those of which nothing is mixed yet."""

from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.errors import Conflict, NotFound
from service.records import batches as batch_records
from service.records import jobs as job_records
from service.records import recipes as records
from service.records.recipes import WholeRecipe


def whole_recipe(session: Session, caller: Caller, recipe_id: UUID) -> WholeRecipe:
    """Return a recipe that the caller may see."""
    whole = records.recipe(session, recipe_id)
    if whole is None:
        raise NotFound("There is no such recipe.")
    job_records.visible(session, whole.recipe.job_id, seen_by=caller.seen_by)
    return whole


def unmixed(session: Session, caller: Caller, recipe_id: UUID) -> WholeRecipe:
    """Return a recipe of which nothing is mixed yet, locked."""
    whole = whole_recipe(session, caller, recipe_id)
    # Whoever begins a batch of it locks the same row, so that a plan cannot change under a mix.
    session.refresh(whole.recipe, with_for_update=True)
    if batch_records.batches_of_recipe(session, recipe_id):
        raise Conflict("This recipe was mixed, so you cannot change it. Plan another to replace it.")
    if whole.recipe.dropped_at is not None:
        raise Conflict("This recipe was taken out of the plan.")
    return whole
