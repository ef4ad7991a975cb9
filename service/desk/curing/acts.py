"""Into the water and out of it, under the cover and from under it, lost and found again."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session, col, select

from service.desk.doorway import STAFF, Caller, Done, act
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.records import block_queries, durability_tests
from service.records.as_read import corrected
from service.records.batches import Batch
from service.records.blocks import STILL_IN, Block, Soak
from service.records.crushings import standing_of
from service.records.recipes import RecipeGroup
from service.shop_clock import as_kept
from service.trade.block.durability_tests import PLANNED_TESTS, USED_UP


def _moment(caller: Caller, given: datetime | None, *, field: str, not_before: datetime, what: str) -> datetime:
    """Return when something happened, refused when it is still to come or came before what it follows."""
    clock = caller.clock
    at = clock.past(given, field=field)
    if at < not_before:
        raise Invalid(
            "This time is too early.", {field: f"{what} on {clock.said(not_before)}; this cannot be earlier."}
        )
    return at


def _blocks_at_hand(session: Session, block_ids: Sequence[UUID]) -> list[Block]:
    """Return blocks of one batch that are neither lost, crushed nor used up, locked."""
    if not block_ids:
        raise Invalid("No block is ticked.", {"block_ids": "Tick the blocks you are moving."})
    blocks = block_queries.locked_blocks(session, list(block_ids))
    if len({block.batch_id for block in blocks}) > 1:
        raise Invalid("These are of several batches.", {"block_ids": "Do it batch by batch."})
    for block in blocks:
        if block.lost_at is not None:
            raise Conflict(f"{block.label} is damaged or missing: {block.lost_because}.")
    crushed = standing_of(session, [block.id for block in blocks])
    for block in blocks:
        if block.id in crushed:
            raise Conflict(f"{block.label} was crushed already.")
        used = durability_tests.use_of(session, block.id)
        if used is not None:
            raise Conflict(f"{block.label} was used up: it was {USED_UP[used]}.")
    return blocks


@act("curing.put_to_soak", by=STAFF)
def put_to_soak(
    session: Session, caller: Caller, *, block_ids: Sequence[UUID], started_at: datetime | None = None
) -> Done:
    """Put blocks of one batch into the water, those that are meant to be soaked."""
    by, blocks = caller.doer, _blocks_at_hand(session, block_ids)
    _check_meant_to_soak(session, blocks)
    at = _moment(
        caller,
        started_at,
        field="started_at",
        not_before=max(block.pressed_at for block in blocks),
        what="The last of them was pressed",
    )
    for block in blocks:
        _check_dry_since(session, caller, block, at)
        session.add(Soak(block_id=block.id, started_at=at, started_by=by, as_read={}))
    return Done("batch", blocks[0].batch_id, {"blocks": [block.label for block in blocks], "started_at": at})


def _check_meant_to_soak(session: Session, blocks: Sequence[Block]) -> None:
    groups = select(RecipeGroup).where(col(RecipeGroup.id).in_({block.recipe_group_id for block in blocks}))
    dry = {group.id: group for group in session.exec(groups) if group.soak_hours is None}
    wrong = next((block for block in blocks if block.recipe_group_id in dry), None)
    if wrong is not None:
        group = dry[wrong.recipe_group_id]
        meant = f"for the test {PLANNED_TESTS[group.test]}" if group.test else f"to be crushed {group.condition}"
        sentence = f"{wrong.label} is {meant}, not soaked."
        raise Invalid(sentence, {"block_ids": sentence})


def _check_dry_since(session: Session, caller: Caller, block: Block, at: datetime) -> None:
    for soak, by, _ in block_queries.soaks_with_people(session, block.id):
        if soak.ended_at is None:
            raise Conflict(f"{by.name} put {block.label} into the water on {caller.clock.said(soak.started_at)}.")
        if soak.ended_at > at:
            sentence = f"{block.label} was in the water until {caller.clock.said(soak.ended_at)}."
            raise Invalid(sentence, {"started_at": sentence})


@act("curing.take_out", by=STAFF)
def take_out(session: Session, caller: Caller, *, block_ids: Sequence[UUID], ended_at: datetime | None = None) -> Done:
    """Take blocks of one batch out of the water."""
    by, blocks = caller.doer, _blocks_at_hand(session, block_ids)
    for block in blocks:
        stays = block_queries.soaks_with_people(session, block.id)
        soak = stays[-1][0] if stays else None
        if soak is None or soak.ended_at is not None:
            raise Conflict(f"{block.label} is not in the water.")
        at = _moment(caller, ended_at, field="ended_at", not_before=soak.started_at, what="It went into the water")
        if at == soak.started_at:
            raise Invalid("It has only just gone in.", {"ended_at": "Write a time after it went into the water."})
        soak.ended_at, soak.ended_by = at, by
        session.add(soak)
    return Done("batch", blocks[0].batch_id, {"blocks": [block.label for block in blocks], "ended_at": at})


@act("curing.correct_soak", by=STAFF)
def correct_soak(
    session: Session,
    caller: Caller,
    *,
    soak_id: UUID,
    started_at: datetime,
    ended_at: datetime | None,
    because: str,
    block_id: UUID | None = None,
) -> Done:
    """Correct when a block went into the water or came out; a stay that has ended keeps an end."""
    soak = session.get(Soak, soak_id)
    if soak is None:
        raise NotFound("There is no such stay in the water.")
    of_its_address(soak.block_id, block_id)
    block = block_queries.locked_block(session, soak.block_id)
    wanted = as_kept(soak.started_at, started_at)
    start = _moment(caller, wanted, field="started_at", not_before=block.pressed_at, what="It was pressed")
    end = None
    if soak.ended_at is not None:
        end = _moment(
            caller,
            as_kept(soak.ended_at, ended_at) or soak.ended_at,
            field="ended_at",
            not_before=start,
            what="It went into the water",
        )
        if end == start:
            raise Invalid("It was not in the water at all.", {"ended_at": "Write a time after it went in."})
    _check_apart(session, caller, soak, start, end)
    words = {"started_at": start, "ended_at": end}
    kept = corrected(session, soak, typed={}, words=words, at=caller.stores.clock(), by=caller.doer, because=because)
    return Done("block", block.id, {"label": block.label, "changed": kept is not None, "because": because.strip()})


def _check_apart(session: Session, caller: Caller, soak: Soak, start: datetime, end: datetime | None) -> None:
    for other, _, _ in block_queries.soaks_with_people(session, soak.block_id):
        ended = other.ended_at or caller.stores.clock()
        if other.id != soak.id and start < ended and (end is None or end > other.started_at):
            raise Invalid(
                "These two stays in the water overlap.",
                {"started_at": f"It was in the water from {caller.clock.said(other.started_at)} too."},
            )


def _locked_batch(session: Session, batch_id: UUID) -> Batch:
    batch = session.exec(select(Batch).where(Batch.id == batch_id).with_for_update()).one_or_none()
    if batch is None:
        raise NotFound("There is no such batch.")
    return batch


def _pressed_first(session: Session, batch_id: UUID) -> datetime:
    question = select(Block.pressed_at).where(Block.batch_id == batch_id).order_by(col(Block.pressed_at)).limit(1)
    pressed_at = session.exec(question).one_or_none()
    if pressed_at is None:
        raise Conflict("No block of this batch was pressed yet.")
    return pressed_at


@act("curing.cover", by=STAFF)
def cover(session: Session, caller: Caller, *, batch_id: UUID, covered_at: datetime | None = None) -> Done:
    """Cover the blocks of a batch so that they stay damp."""
    batch = _locked_batch(session, batch_id)
    if batch.covered_at is not None:
        raise Conflict(f"This batch was covered on {caller.clock.said(batch.covered_at)}.")
    pressed = _pressed_first(session, batch.id)
    batch.covered_at = _moment(
        caller, covered_at, field="covered_at", not_before=pressed, what="Its first block was pressed"
    )
    session.add(batch)
    return Done("batch", batch.id, {"covered_at": batch.covered_at})


@act("curing.uncover", by=STAFF)
def uncover(session: Session, caller: Caller, *, batch_id: UUID, uncovered_at: datetime | None = None) -> Done:
    """Take the cover off the blocks of a batch so that they dry."""
    batch = _locked_batch(session, batch_id)
    if batch.covered_at is None:
        raise Conflict("This batch is not covered.")
    if batch.uncovered_at is not None:
        raise Conflict(f"The cover came off on {caller.clock.said(batch.uncovered_at)}.")
    batch.uncovered_at = _moment(
        caller, uncovered_at, field="uncovered_at", not_before=batch.covered_at, what="It was covered"
    )
    session.add(batch)
    return Done("batch", batch.id, {"uncovered_at": batch.uncovered_at})


@act("curing.correct_cover", by=STAFF)
def correct_cover(
    session: Session,
    caller: Caller,
    *,
    batch_id: UUID,
    covered_at: datetime | None,
    uncovered_at: datetime | None,
    because: str,
) -> Done:
    """Correct when a batch was covered and uncovered; left empty, it was not."""
    batch = _locked_batch(session, batch_id)
    covered_at, uncovered_at = as_kept(batch.covered_at, covered_at), as_kept(batch.uncovered_at, uncovered_at)
    if covered_at is None and uncovered_at is not None:
        raise Invalid("A cover that came off was on before.", {"covered_at": "Write when it was put on."})
    if covered_at is not None:
        pressed = _pressed_first(session, batch.id)
        _moment(caller, covered_at, field="covered_at", not_before=pressed, what="Its first block was pressed")
    if covered_at is not None and uncovered_at is not None:
        _moment(caller, uncovered_at, field="uncovered_at", not_before=covered_at, what="It was covered")
    words = {"covered_at": covered_at, "uncovered_at": uncovered_at}
    kept = corrected(session, batch, typed={}, words=words, at=caller.stores.clock(), by=caller.doer, because=because)
    return Done("batch", batch.id, {"changed": kept is not None, "because": because.strip()})


@act("curing.lose_block", by=STAFF)
def lose(session: Session, caller: Caller, *, block_id: UUID, because: str, lost_at: datetime | None = None) -> Done:
    """Count a block as lost while it cured, with the reason; it leaves the water and is never silently replaced."""
    by, (block,) = caller.doer, _blocks_at_hand(session, [block_id])
    if not because.strip():
        raise Invalid("Say what happened to the block.", {"because": "Say what happened to the block."})
    at = _moment(caller, lost_at, field="lost_at", not_before=block.pressed_at, what="It was pressed")
    for soak, _, _ in block_queries.soaks_with_people(session, block.id):
        if soak.ended_at is None and soak.started_at < at:
            soak.ended_at, soak.ended_by = at, by
            session.add(soak)
    block.lost_at, block.lost_because = at, because.strip()
    session.add(block)
    return Done("block", block.id, {"label": block.label, "because": block.lost_because})


@act("curing.find_block", by=STAFF)
def find_again(session: Session, caller: Caller, *, block_id: UUID, because: str) -> Done:
    """Take back that a block was lost; one that was never weighed was lost at the press and stays so."""
    block = block_queries.locked_block(session, block_id)
    if block.lost_at is None:
        raise Conflict(f"{block.label} is not recorded as damaged or missing.")
    if block.wet_mass_kg is None:
        raise Conflict(f"{block.label} broke at the press before it was weighed, so it cannot be crushed.")
    by: dict[str, Any] = {"at": caller.stores.clock(), "by": caller.doer, "because": because}
    for soak, _, _ in block_queries.soaks_with_people(session, block.id):
        # The stay was ended because the block was counted as lost, so it goes on.
        if soak.ended_at == block.lost_at:
            corrected(session, soak, typed={}, words=STILL_IN, **by)
    corrected(session, block, typed={}, words={"lost_at": None, "lost_because": None}, **by)
    return Done("block", block.id, {"label": block.label, "because": because.strip()})
