"""What is printed on a label."""

from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session, select

from service.desk.doorway import STAFF, Caller, look
from service.errors import NotFound
from service.measured.crushed import name_of
from service.records import batch_queries
from service.records.blocks import Block
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.materials import Material, Receipt
from service.records.recipes import RecipeGroup


@dataclass(frozen=True)
class Label:
    """What is printed on one label: its code leads to the thing, the lines are for people."""

    id: UUID
    title: str
    lines: tuple[str, ...]


@look("label.of_batch", by=STAFF)
def of_batch(session: Session, caller: Caller, *, batch_id: UUID) -> list[Label]:
    """Return a label for a batch and one for each of its blocks that was not lost."""
    placed = batch_queries.placed_batch(session, batch_id)
    batch, name = placed.batch, f"{placed.job.number}-{placed.recipe.label}{placed.batch.number}"
    mixed = f"mixed {caller.clock.said(batch.mixed_at)}" if batch.mixed_at else "not mixed yet"
    own = Label(batch.id, name, (f"Job {placed.job.number}, recipe {placed.recipe.label}, batch {batch.number}", mixed))
    blocks = [one for one in batch_queries.blocks_of_batch(session, batch_id) if one.lost_at is None]
    groups = {group.id: group for group in batch_queries.groups_of(session, placed.recipe.id)}
    return [own, *(_of_one(caller, block, groups[block.recipe_group_id]) for block in blocks)]


@look("label.of_block", by=STAFF)
def of_block(session: Session, caller: Caller, *, block_id: UUID) -> list[Label]:
    """Return the label of one block."""
    block = session.get(Block, block_id)
    if block is None:
        raise NotFound("There is no such block.")
    return [_of_one(caller, block, session.get_one(RecipeGroup, block.recipe_group_id))]


def _of_one(caller: Caller, block: Block, group: RecipeGroup) -> Label:
    lines = (name_of(group), f"pressed {caller.clock.said(block.pressed_at)}")
    return Label(block.id, block.label, lines)


@look("label.of_sack", by=STAFF)
def of_sack(session: Session, caller: Caller, *, receipt_id: UUID) -> list[Label]:
    """Return the label of one sack."""
    question = select(Receipt, Material, Job, Customer).where(
        Receipt.id == receipt_id,
        Material.id == Receipt.material_id,
        Job.id == Receipt.job_id,
        Customer.id == Job.customer_id,
    )
    found = session.exec(question).one_or_none()
    if found is None:
        raise NotFound("There is no such sack.")
    sack, material, job, customer = found
    lines = (material.name, f"Job {job.number}, {customer.name}", f"came {caller.clock.said(sack.received_at)}")
    return [Label(sack.id, sack.label, lines)]
