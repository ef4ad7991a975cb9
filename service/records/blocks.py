"""Blocks from the mould to the water: how each was pressed, what it measured, and when it was put to soak."""

from datetime import datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, UniqueConstraint, bindparam
from sqlmodel import Field, Session, col, func, select

from service.errors import NotFound
from service.records.base import Raw, not_blank, not_negative, positive, together
from service.records.batches import Batch
from service.records.recipes import Recipe, RecipeGroup
from service.records.versions import one_where


class Block(Raw, table=True):
    """One pressed block. A cracked one is still crushed; a lost one is counted and never silently replaced."""

    __table_args__ = (
        UniqueConstraint("batch_id", "position"),
        *not_blank("label"),
        *positive("position", "crush_order", "length_mm", "width_mm", "wet_mass_kg", "charge_kg", "pressed_stroke_mm"),
        *not_negative("pressed_gauge_mpa", "dwell_s"),
        CheckConstraint("pressed_gauge_mpa IS NULL OR press_gauge_id IS NOT NULL", name="gauge_reading_has_gauge"),
        together("lost_at", "lost_because"),
        CheckConstraint("wet_mass_kg IS NOT NULL OR lost_at IS NOT NULL", name="kept_has_mass"),
        Index(None, "created_at"),
        Index(None, "pressed_at"),
    )

    batch_id: UUID = Field(foreign_key="batch.id")
    recipe_group_id: UUID = Field(foreign_key="recipe_group.id", index=True)
    position: int
    crush_order: int
    label: str = Field(unique=True)
    press_gauge_id: UUID | None = Field(default=None, foreign_key="gauge.id")
    pressed_gauge_mpa: float | None = None
    pressed_stroke_mm: float | None = None
    charge_kg: float | None = None
    dwell_s: float | None = None
    mould_release: str | None = None
    pressed_at: datetime
    pressed_by: UUID = Field(foreign_key="person.id")
    length_mm: float
    width_mm: float
    wet_mass_kg: float | None = None
    cracked_because: str | None = None
    remark: str | None = None
    lost_at: datetime | None = None
    lost_because: str | None = None


class BlockHeight(Raw, table=True):
    """The height at one corner."""

    __table_args__ = (UniqueConstraint("block_id", "position"), *positive("position", "height_mm"))

    block_id: UUID = Field(foreign_key="block.id")
    position: int
    height_mm: float


class Soak(Raw, table=True):
    """A stay in the water."""

    __table_args__ = (
        CheckConstraint("ended_at > started_at", name="ended_after"),
        together("ended_at", "ended_by"),
        one_where("uq_soak_running", "block_id", "ended_at IS NULL"),
    )

    block_id: UUID = Field(foreign_key="block.id", index=True)
    started_at: datetime
    started_by: UUID = Field(foreign_key="person.id")
    ended_at: datetime | None = None
    ended_by: UUID | None = Field(default=None, foreign_key="person.id")


# What a stay in the water says until the block comes out.
STILL_IN = {"ended_at": None, "ended_by": None}


class PlacedBlock(NamedTuple):
    """A block with the group, batch and recipe it belongs to."""

    block: Block
    group: RecipeGroup
    batch: Batch
    recipe: Recipe


def _placed() -> Any:
    return (
        select(Block, RecipeGroup, Batch, Recipe)
        .join(RecipeGroup, col(RecipeGroup.id) == col(Block.recipe_group_id))
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
    )


def placed(session: Session, block_id: UUID) -> PlacedBlock:
    """Return one block with the group, batch and recipe it belongs to."""
    found = session.exec(_placed().where(Block.id == block_id)).one_or_none()
    if found is None:
        raise NotFound("There is no such block.")
    return PlacedBlock(*found)


def block_by_label(session: Session, label: str) -> Block | None:
    """Return the block that carries a label."""
    return session.exec(select(Block).where(Block.label == label)).one_or_none()


def heights_of(session: Session, block_ids: list[UUID]) -> dict[UUID, list[BlockHeight]]:
    """Return the heights of blocks, corner by corner."""
    question = select(BlockHeight).where(col(BlockHeight.block_id).in_(block_ids))
    by_block: dict[UUID, list[BlockHeight]] = {}
    for height in session.exec(question.order_by(col(BlockHeight.position))):
        by_block.setdefault(height.block_id, []).append(height)
    return by_block


def measured_of(session: Session, batch_id: UUID) -> list[tuple[Block, float | None]]:
    """Return the blocks of a batch, each with the mean of its heights, in one statement."""
    return [(block, tall) for block, tall in session.execute(_measured(), {"batch_id": batch_id})]


@cache
def _measured() -> Any:
    height = select(func.avg(BlockHeight.height_mm)).where(BlockHeight.block_id == Block.id).scalar_subquery()
    of_batch = col(Block.batch_id) == bindparam("batch_id")
    return select(Block, height).where(of_batch).order_by(col(Block.position))


def soaks_of(session: Session, block_id: UUID) -> list[Soak]:
    """Return the stays in the water of a block, oldest first."""
    return list(session.exec(select(Soak).where(Soak.block_id == block_id).order_by(col(Soak.started_at))))
