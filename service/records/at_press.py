"""What stands before a crushing is recorded, in statements written once: this is asked for every block of every day."""

from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, bindparam
from sqlalchemy import select as select_many
from sqlmodel import Session, col, select

from service.records.blocks import Block, Soak
from service.records.crushings import Crushing
from service.records.durability_tests import used_up
from service.records.people import Person
from service.records.presses import Gauge, Press, PressSession
from service.records.recipes import Recipe, RecipeGroup


class Before(NamedTuple):
    """The test a block was set aside for, the one that used it up, whether it was in the water, who crushed it."""

    test: str | None
    used_up: str | None
    was_in_water: bool
    crushing: Crushing | None
    crushed_by: str | None


class AtGauge(NamedTuple):
    """A press session of crushing with its gauge and press."""

    press_session: PressSession
    gauge: Gauge
    press: Press


def before_crushing(session: Session, block_id: UUID) -> Before:
    """Return what stands of a block that is locked."""
    return Before(*session.execute(_before(), {"block_id": block_id}).one())


@cache
def _before() -> Any:
    wet = select_many(col(Soak.id)).where(col(Soak.block_id) == col(Block.id)).exists()
    standing = and_(col(Crushing.block_id) == col(Block.id), col(Crushing.ended_at).is_(None))
    return (
        select_many(col(RecipeGroup.test), used_up(col(Block.id)), wet, Crushing, col(Person.name))
        .select_from(Block)
        .join(RecipeGroup, col(RecipeGroup.id) == col(Block.recipe_group_id))
        .outerjoin(Crushing, standing)
        .outerjoin(Person, col(Person.id) == col(Crushing.crushed_by))
        .where(col(Block.id) == bindparam("block_id"))
    )


def at_gauge(session: Session, press_session_id: UUID) -> AtGauge | None:
    """Return a press session of crushing with its gauge and press, None where there is none."""
    found = session.execute(_at_gauge(), {"press_session_id": press_session_id}).one_or_none()
    return None if found is None else AtGauge(*found)


@cache
def _at_gauge() -> Any:
    return (
        select(PressSession, Gauge, Press)
        .join(Gauge, col(Gauge.id) == col(PressSession.gauge_id))
        .join(Press, col(Press.id) == col(Gauge.press_id))
        .where(col(PressSession.id) == bindparam("press_session_id"))
    )


def job_of(session: Session, block_id: UUID) -> UUID | None:
    """Return the job of a block, None where there is no such block."""
    found: UUID | None = session.execute(_job(), {"block_id": block_id}).scalar_one_or_none()
    return found


@cache
def _job() -> Any:
    of_block = select_many(col(Recipe.job_id)).join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
    return of_block.join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id)).where(
        col(Block.id) == bindparam("block_id")
    )
