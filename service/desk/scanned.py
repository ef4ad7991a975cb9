"""Where a scanned or typed label leads: to its block, batch or sack, at the act that is due."""

from dataclasses import dataclass
from typing import Literal
from uuid import UUID

from sqlmodel import Session, select

from service.desk.doorway import STAFF, Caller, look
from service.errors import NotFound
from service.measured.crushed import step_of
from service.records import batch_queries, block_queries
from service.records.batches import Batch
from service.records.blocks import Block, block_by_label
from service.records.materials import Receipt

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
