"""Labels: where each leads, and what is printed on it."""

from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from sqlmodel import Session, select

from service.desk.doorway import STAFF, Caller, look
from service.errors import NotFound
from service.measured.crushed import name_of, step_of
from service.records import batch_queries, block_queries
from service.records.batches import Batch
from service.records.blocks import Block, block_by_label
from service.records.jobs import Job
from service.records.materials import Material, Receipt
from service.records.people import Customer
from service.records.recipes import RecipeGroup

Act = Literal["soak", "crush", "test", "block", "press", "batch", "sack"]


@dataclass(frozen=True)
class LeadsTo:
    """What a label is stuck on, and what is to be done with it; ``test`` is the kind of the test that is due."""

    act: Act
    id: UUID
    test: str = ""


@look("label.leads_to", by=STAFF)
def leads_to(session: Session, caller: Caller, *, thing_id: UUID) -> LeadsTo:
    """Return where the address on a label leads."""
    block = session.get(Block, thing_id)
    if block is not None:
        return _of_block(session, caller, block)
    if session.get(Batch, thing_id) is not None:
        return _of_batch(session, thing_id)
    if session.get(Receipt, thing_id) is not None:
        return LeadsTo("sack", thing_id)
    raise NotFound("Nothing in this shop carries that label.")


@look("label.by_label", by=STAFF)
def by_label(session: Session, caller: Caller, *, label: str) -> LeadsTo | None:
    """Return where a typed label leads, or None when nothing carries it."""
    wanted = label.strip()
    block = block_by_label(session, wanted.upper())
    if block is not None:
        return _of_block(session, caller, block)
    sacks = session.exec(select(Receipt.id).where(Receipt.label.in_([wanted, wanted.upper()]))).all()  # type: ignore[attr-defined]
    return LeadsTo("sack", sacks[0]) if len(sacks) == 1 else None


def _of_block(session: Session, caller: Caller, block: Block) -> LeadsTo:
    row = next((one for one in block_queries.waiting(session, block_id=block.id)), None)
    if row is None:
        return LeadsTo("block", block.id)
    step = step_of(row)
    if step.when(caller.stores.clock()) == "ahead":
        return LeadsTo("block", block.id)
    return LeadsTo("crush" if step.do == "take out" else step.do, block.id, row.test or "")


def _of_batch(session: Session, batch_id: UUID) -> LeadsTo:
    placed = batch_queries.placed_batch(session, batch_id)
    wanted = sum(group.blocks for group in batch_queries.groups_of(session, placed.recipe.id))
    pressed = len(batch_queries.blocks_of_batch(session, batch_id))
    unfinished = placed.batch.mixed_at is not None and pressed * placed.recipe.batches < wanted
    return LeadsTo("press" if unfinished else "batch", batch_id)


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
