"""A batch with all that stands around it, in few statements: whose it is, its parts by name, its blocks, its cans."""

from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.errors import NotFound
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block
from service.records.jobs import Job
from service.records.materials import Material, Receipt
from service.records.presses import Mould
from service.records.recipes import IN_ORDER, Recipe, RecipeGroup, RecipePart
from service.records.soil_tests import MoistureCan


class PlacedBatch(NamedTuple):
    """A batch with its recipe, its mould and its job."""

    batch: Batch
    recipe: Recipe
    mould: Mould
    job: Job


class NamedPart(NamedTuple):
    """A weighed part with what the recipe says of it, what it is, and out of which sack."""

    part: BatchPart
    planned: RecipePart
    material: Material
    receipt: Receipt | None


class PlacedRecipe(NamedTuple):
    """A recipe with its mould and its job, and the letter of the one that took its place."""

    recipe: Recipe
    mould: Mould
    job: Job
    replaced_by: str | None


def placed_recipe(session: Session, recipe_id: UUID, *, lock: bool = False) -> PlacedRecipe:
    """Return a recipe with its mould and job; ``lock`` keeps its plan from changing meanwhile."""
    successor = aliased(Recipe)
    question: Any = (
        select_many(Recipe, Mould, Job, col(successor.label))
        .join(Mould, col(Mould.id) == col(Recipe.mould_id))
        .join(Job, col(Job.id) == col(Recipe.job_id))
        .outerjoin(successor, col(successor.replaces_id) == col(Recipe.id))
        .where(col(Recipe.id) == recipe_id)
    )
    found = session.exec(question.with_for_update(of=Recipe) if lock else question).one_or_none()
    if found is None:
        raise NotFound("There is no such recipe.")
    return PlacedRecipe(*found)


def placed_batch(session: Session, batch_id: UUID, *, lock: bool = False) -> PlacedBatch:
    """Return a batch with its recipe, mould and job; ``lock`` keeps others from filling it at the same time."""
    question: Any = (
        select_many(Batch, Recipe, Mould, Job)
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .join(Mould, col(Mould.id) == col(Recipe.mould_id))
        .join(Job, col(Job.id) == col(Recipe.job_id))
        .where(col(Batch.id) == batch_id)
    )
    found = session.exec(question.with_for_update(of=Batch) if lock else question).one_or_none()
    if found is None:
        raise NotFound("There is no such batch.")
    return PlacedBatch(*found)


def parts_of_batch(session: Session, batch_id: UUID) -> list[NamedPart]:
    """Return the parts of a batch in the order in which they are weighed."""
    question: Any = (
        select_many(BatchPart, RecipePart, Material, Receipt)
        .join(RecipePart, col(RecipePart.id) == col(BatchPart.recipe_part_id))
        .join(Material, col(Material.id) == col(RecipePart.material_id))
        .outerjoin(Receipt, col(Receipt.id) == col(BatchPart.receipt_id))
        .where(col(BatchPart.batch_id) == batch_id)
        .order_by(col(RecipePart.position), col(Receipt.received_at), col(Receipt.label))
    )
    return [NamedPart(*row) for row in session.exec(question)]


def groups_of(session: Session, recipe_id: UUID) -> list[RecipeGroup]:
    """Return the groups of a recipe in the order in which the lot knows them."""
    question = select(RecipeGroup).where(RecipeGroup.recipe_id == recipe_id)
    return list(session.exec(question.order_by(*IN_ORDER)))


def blocks_of_batch(session: Session, batch_id: UUID) -> list[Block]:
    """Return the blocks of a batch, lost ones too, in order."""
    return list(session.exec(select(Block).where(Block.batch_id == batch_id).order_by(col(Block.position))))


def blocks_of_recipe(session: Session, recipe_id: UUID) -> list[Block]:
    """Return the blocks of all batches of a recipe, lost ones too."""
    question = select(Block).join(Batch, col(Batch.id) == col(Block.batch_id)).where(Batch.recipe_id == recipe_id)
    return list(session.exec(question.order_by(col(Block.pressed_at), col(Block.position))))


def masses_in_mould(session: Session, job_id: UUID, mould_id: UUID) -> list[float]:
    """Return what the blocks of a job weighed that were pressed in a mould, lost ones left out."""
    question = (
        select(Block.wet_mass_kg)
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Recipe.job_id) == job_id, col(Recipe.mould_id) == mould_id, col(Block.lost_at).is_(None))
    )
    return [mass for mass in session.exec(question) if mass]


def last_kept_blocks(session: Session) -> list[Block]:
    """Return the two blocks that were pressed last in the shop and not lost: what was used is offered again."""
    question = select(Block).where(col(Block.lost_at).is_(None)).order_by(col(Block.created_at).desc())
    return list(session.exec(question.limit(2)))


def last_batch(session: Session) -> Batch | None:
    """Return the batch that was begun last in the shop, for the scale that was used."""
    return session.exec(select(Batch).order_by(col(Batch.created_at).desc()).limit(1)).one_or_none()


def cans_of_batch(session: Session, batch_id: UUID) -> list[MoistureCan]:
    """Return the standing cans out of a mix, oldest first."""
    question = select(MoistureCan).where(MoistureCan.batch_id == batch_id, col(MoistureCan.ended_at).is_(None))
    return list(session.exec(question.order_by(col(MoistureCan.done_at), col(MoistureCan.created_at))))


def pressed_counts(session: Session, job_id: UUID) -> list[tuple[UUID, bool]]:
    """Return, for every block of a job, its batch and whether it was lost."""
    question: Any = (
        select_many(col(Block.batch_id), col(Block.lost_at))
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Recipe.job_id) == job_id)
    )
    return [(batch_id, lost_at is not None) for batch_id, lost_at in session.exec(question)]
