"""What is left in the sacks of a job: what came, what was taken off as too coarse, and what was weighed out since."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, func
from sqlalchemy import select as select_many
from sqlmodel import Session, col, or_, select

from service.records.batches import Batch, BatchPart
from service.records.materials import Material, Preparation, Receipt
from service.records.recipes import RecipePart
from service.records.soil_tests import MoistureCan

# Batches of the whole shop among which the last moisture of a material is looked for.
LATELY = 300


class SackInHand(NamedTuple):
    """A sack with what is in it, what was taken off and out of it, and its standing cans."""

    receipt: Receipt
    material: Material
    oversize_kg: float
    taken_kg: float
    cans: list[MoistureCan]


def sacks_in_hand(session: Session, job_id: UUID) -> list[SackInHand]:
    """Return the sacks of a job in order of arrival, in one statement."""
    # What is planned counts as taken until it is weighed, so that two batches do not count on the same soil.
    taken = (
        select_many(func.sum(func.coalesce(col(BatchPart.weighed_kg), col(BatchPart.planned_kg))))
        .where(col(BatchPart.receipt_id) == col(Receipt.id))
        .scalar_subquery()
    )
    question: Any = (
        select_many(Receipt, Material, Preparation, taken, MoistureCan)
        .join(Material, col(Material.id) == col(Receipt.material_id))
        .outerjoin(
            Preparation, and_(col(Preparation.receipt_id) == col(Receipt.id), col(Preparation.ended_at).is_(None))
        )
        .outerjoin(
            MoistureCan, and_(col(MoistureCan.receipt_id) == col(Receipt.id), col(MoistureCan.ended_at).is_(None))
        )
        .where(col(Receipt.job_id) == job_id)
        .order_by(col(Receipt.received_at), col(Receipt.label), col(MoistureCan.done_at))
    )
    found: dict[UUID, SackInHand] = {}
    for receipt, material, off, kg, can in session.exec(question):
        oversize_kg = (off.oversize_kg or 0.0) if off else 0.0
        sack = found.setdefault(receipt.id, SackInHand(receipt, material, oversize_kg, kg or 0.0, []))
        if can is not None:
            sack.cans.append(can)
    return list(found.values())


def materials_of(session: Session, *, customer_id: UUID) -> list[Material]:
    """Return the shop's materials and those of one customer, those out of use too, by name."""
    question = select(Material).where(
        or_(col(Material.customer_id).is_(None), col(Material.customer_id) == customer_id)
    )
    return list(session.exec(question.order_by(col(Material.name), col(Material.id))))


class LastMoisture(NamedTuple):
    """The moisture with which a material was weighed out, and when."""

    moisture: float
    at: datetime


def last_moistures(session: Session, material_ids: Sequence[UUID]) -> dict[UUID, LastMoisture]:
    """Return the moisture with which each material was weighed out last, in any job; one of long ago says nothing."""
    lately = select(Batch.id).order_by(col(Batch.created_at).desc()).limit(LATELY)
    question: Any = (
        select_many(col(RecipePart.material_id), col(BatchPart.moisture), col(BatchPart.created_at))
        .join(RecipePart, col(RecipePart.id) == col(BatchPart.recipe_part_id))
        .where(col(BatchPart.batch_id).in_(lately), col(RecipePart.material_id).in_(material_ids))
        .order_by(col(BatchPart.created_at))
    )
    return {material_id: LastMoisture(moisture, at) for material_id, moisture, at in session.exec(question)}
