"""What is left in the sacks of a job: what came, what was taken off as too coarse, and what was weighed out since."""

from collections.abc import Sequence
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, func
from sqlalchemy import select as select_many
from sqlmodel import Session, col, or_, select

from service.records.batches import BatchPart
from service.records.materials import Material, Preparation, Receipt
from service.records.recipes import RecipePart
from service.records.soil_tests import MoistureCan


class SackInHand(NamedTuple):
    """A sack with what is in it, what was taken off and out of it, and its standing cans."""

    receipt: Receipt
    material: Material
    oversize_kg: float
    taken_kg: float
    cans: list[MoistureCan]


def sacks_in_hand(session: Session, job_id: UUID) -> list[SackInHand]:
    """Return the sacks of a job in order of arrival, in two statements."""
    # What is planned counts as taken until it is weighed, so that two batches do not count on the same soil.
    taken = (
        select_many(
            col(BatchPart.receipt_id),
            func.sum(func.coalesce(col(BatchPart.weighed_kg), col(BatchPart.planned_kg))).label("kg"),
        )
        .group_by(col(BatchPart.receipt_id))
        .subquery()
    )
    question: Any = (
        select_many(Receipt, Material, Preparation, taken.c.kg)
        .join(Material, col(Material.id) == col(Receipt.material_id))
        .outerjoin(
            Preparation, and_(col(Preparation.receipt_id) == col(Receipt.id), col(Preparation.ended_at).is_(None))
        )
        .outerjoin(taken, taken.c.receipt_id == col(Receipt.id))
        .where(col(Receipt.job_id) == job_id)
        .order_by(col(Receipt.received_at), col(Receipt.label))
    )
    found = list(session.exec(question))
    cans = _standing_cans(session, [row[0].id for row in found])
    return [
        SackInHand(receipt, material, (off.oversize_kg or 0.0) if off else 0.0, kg or 0.0, cans.get(receipt.id, []))
        for receipt, material, off, kg in found
    ]


def _standing_cans(session: Session, receipt_ids: list[UUID]) -> dict[UUID, list[MoistureCan]]:
    question = select(MoistureCan).where(
        col(MoistureCan.receipt_id).in_(receipt_ids), col(MoistureCan.ended_at).is_(None)
    )
    by_sack: dict[UUID, list[MoistureCan]] = {}
    for can in session.exec(question.order_by(col(MoistureCan.done_at))):
        by_sack.setdefault(can.receipt_id or UUID(int=0), []).append(can)
    return by_sack


def materials_of(session: Session, *, customer_id: UUID) -> list[Material]:
    """Return the shop's materials and those of one customer, those out of use too, by name."""
    question = select(Material).where(
        or_(col(Material.customer_id).is_(None), col(Material.customer_id) == customer_id)
    )
    return list(session.exec(question.order_by(col(Material.name), col(Material.id))))


def last_moistures(session: Session, material_ids: Sequence[UUID]) -> dict[UUID, float]:
    """Return the moisture with which each material was weighed out last, in any job."""
    question: Any = (
        select_many(col(RecipePart.material_id), col(BatchPart.moisture))
        .join(RecipePart, col(RecipePart.id) == col(BatchPart.recipe_part_id))
        .where(col(RecipePart.material_id).in_(material_ids))
        .order_by(col(BatchPart.created_at))
    )
    return dict(tuple(row) for row in session.exec(question))
