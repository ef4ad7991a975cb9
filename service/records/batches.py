"""Batches: what was to be weighed, what was weighed, and the trial block that settled the charge."""

from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlmodel import Field, Session, col, select

from service.records.base import Raw, not_negative, positive, together
from service.records.recipes import Recipe
from service.records.versions import one_where


class Batch(Raw, table=True):
    """One mix of a recipe; covered and uncovered say how its blocks were kept from drying."""

    __table_args__ = (
        UniqueConstraint("recipe_id", "number"),
        *positive("number", "dry_soil_kg", "scale_graduation_kg"),
        *not_negative("waste", "water_planned_kg", "water_kg"),
        together("mixed_at", "mixed_by"),
        CheckConstraint("uncovered_at >= covered_at", name="uncovered_after"),
        CheckConstraint("uncovered_at IS NULL OR covered_at IS NOT NULL", name="uncovered_was_covered"),
        Index(None, "created_at"),
    )

    recipe_id: UUID = Field(foreign_key="recipe.id")
    number: int
    dry_soil_kg: float
    waste: float = 0.0
    scale_graduation_kg: float
    water_planned_kg: float
    water_kg: float | None = None
    mixed_at: datetime | None = None
    mixed_by: UUID | None = Field(default=None, foreign_key="person.id")
    wetted_at: datetime | None = None
    covered_at: datetime | None = None
    uncovered_at: datetime | None = None
    remark: str | None = None


class BatchPart(Raw, table=True):
    """One material of a batch, out of one sack: its moisture, what was to be weighed and what was."""

    __table_args__ = (
        UniqueConstraint("batch_id", "recipe_part_id", "receipt_id"),
        one_where("uq_batch_part_no_receipt", ("batch_id", "recipe_part_id"), "receipt_id IS NULL"),
        *not_negative("moisture"),
        *positive("planned_kg"),
        *not_negative("weighed_kg"),
    )

    batch_id: UUID = Field(foreign_key="batch.id")
    recipe_part_id: UUID = Field(foreign_key="recipe_part.id", index=True)
    receipt_id: UUID | None = Field(default=None, foreign_key="receipt.id", index=True)
    moisture: float
    planned_kg: float
    weighed_kg: float | None = None


class TrialBlock(Raw, table=True):
    """A block pressed to find the charge, before those that count."""

    __table_args__ = (
        UniqueConstraint("batch_id", "position"),
        *positive("charge_kg", "height_mm", "wet_mass_kg", "pressed_gauge_mpa", "pressed_stroke_mm"),
    )

    batch_id: UUID = Field(foreign_key="batch.id")
    position: int
    charge_kg: float
    pressed_gauge_mpa: float | None = None
    pressed_stroke_mm: float | None = None
    height_mm: float
    wet_mass_kg: float | None = None
    accepted: bool = False
    made_at: datetime
    made_by: UUID = Field(foreign_key="person.id")


class WholeBatch(NamedTuple):
    """A batch with what is weighed into it."""

    batch: Batch
    parts: list[BatchPart]


def batches_of_job(session: Session, job_id: UUID) -> list[WholeBatch]:
    """Return the batches of a job with their parts, in two statements."""
    return _whole(session, begun_in_job(session, job_id))


def begun_in_job(session: Session, job_id: UUID) -> list[Batch]:
    """Return the batches of a job without their parts, by recipe and number."""
    question = select(Batch).join(Recipe, col(Recipe.id) == col(Batch.recipe_id)).where(Recipe.job_id == job_id)
    return list(session.exec(question.order_by(col(Recipe.label), col(Batch.number))))


def batches_of_recipe(session: Session, recipe_id: UUID) -> list[Batch]:
    """Return the batches of a recipe, in order."""
    return list(session.exec(select(Batch).where(Batch.recipe_id == recipe_id).order_by(col(Batch.number))))


def batch(session: Session, batch_id: UUID) -> WholeBatch | None:
    """Return one batch with its parts."""
    found = session.get(Batch, batch_id)
    return None if found is None else _whole(session, [found])[0]


def _whole(session: Session, batches: list[Batch]) -> list[WholeBatch]:
    whole = {each.id: WholeBatch(each, []) for each in batches}
    if not whole:
        return []
    question = select(BatchPart).where(col(BatchPart.batch_id).in_(whole)).order_by(col(BatchPart.created_at))
    for part in session.exec(question):
        whole[part.batch_id].parts.append(part)
    return list(whole.values())


def trial_blocks_of(session: Session, batch_ids: list[UUID]) -> list[TrialBlock]:
    """Return the trial blocks of batches, in order."""
    question = select(TrialBlock).where(col(TrialBlock.batch_id).in_(batch_ids))
    return list(session.exec(question.order_by(col(TrialBlock.batch_id), col(TrialBlock.position))))
