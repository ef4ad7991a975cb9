"""What stands at the mixer and under covers in the whole shop: the batches of the open jobs, begun or not."""

from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, func
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.records.audit_log import Trail
from service.records.batches import Batch
from service.records.blocks import Block
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.recipes import Recipe, RecipeGroup


class InHand(NamedTuple):
    """A recipe in force of an open job with one of its batches, or with none that was begun."""

    recipe_id: UUID
    recipe: str
    batches: int
    mix_on: date | None
    planned: int
    job_id: UUID
    job_number: int
    customer: str
    batch_id: UUID | None
    batch_number: int | None
    mixed_at: datetime | None
    covered_at: datetime | None
    uncovered_at: datetime | None
    pressed: int
    lost: int
    first_pressed_at: datetime | None
    last_pressed_at: datetime | None


def batches_in_hand(session: Session) -> list[InHand]:
    """Return every recipe in force of the open jobs with each batch that was begun, in one statement."""
    return [InHand(*row) for row in session.execute(_batches_in_hand())]


@cache
def _batches_in_hand() -> Any:
    successor = aliased(Recipe)
    replaced = select_many(col(successor.id)).where(col(successor.replaces_id) == col(Recipe.id)).exists()
    asked = (
        select_many(func.sum(col(RecipeGroup.blocks)))
        .where(col(RecipeGroup.recipe_id) == col(Recipe.id))
        .scalar_subquery()
    )
    job, recipe, batch = aliased(Job), aliased(Recipe), aliased(Batch)
    made = (
        select_many(
            col(Block.batch_id),
            func.count().label("pressed"),
            func.count(col(Block.lost_at)).label("lost"),
            func.min(col(Block.pressed_at)).label("first_at"),
            func.max(col(Block.pressed_at)).label("last_at"),
        )
        .select_from(job)
        .join(recipe, col(recipe.job_id) == col(job.id))
        .join(batch, col(batch.recipe_id) == col(recipe.id))
        .join(Block, col(Block.batch_id) == col(batch.id))
        .where(col(job.closed_at).is_(None))
        .group_by(col(Block.batch_id))
        .subquery()
    )
    return (
        select_many(
            *(col(Recipe.id), col(Recipe.label), col(Recipe.batches), col(Recipe.mix_on), asked),
            *(col(Job.id), col(Job.number), col(Customer.name)),
            *(col(Batch.id), col(Batch.number), col(Batch.mixed_at), col(Batch.covered_at), col(Batch.uncovered_at)),
            *(func.coalesce(made.c.pressed, 0), func.coalesce(made.c.lost, 0), made.c.first_at, made.c.last_at),
        )
        .select_from(Recipe)
        .join(Job, col(Job.id) == col(Recipe.job_id))
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .outerjoin(Batch, col(Batch.recipe_id) == col(Recipe.id))
        .outerjoin(made, made.c.batch_id == col(Batch.id))
        .where(col(Job.closed_at).is_(None), col(Recipe.dropped_at).is_(None), ~replaced, asked.is_not(None))
        .order_by(col(Job.number), col(Recipe.label), col(Batch.number))
    )


def acts_since(session: Session, person_id: UUID, since: datetime, *, newest: int) -> list[Trail]:
    """Return what a person did since then, the newest first; only the newest entries of the trail are looked at."""
    head = select_many(func.max(col(Trail.position))).scalar_subquery()
    question: Any = (
        select_many(Trail)
        .where(col(Trail.position) > head - newest)
        .where(and_(col(Trail.person_id) == person_id, col(Trail.at) >= since))
        .order_by(col(Trail.position).desc())
    )
    return [row[0] for row in session.exec(question)]


def act_at(session: Session, position: int) -> Trail | None:
    """Return the entry of the trail at a position."""
    return session.get(Trail, position)
