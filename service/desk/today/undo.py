"""Undo for ten minutes: what was done by a slip is taken back, and the history says that it was one."""

import json
from collections.abc import Callable, Mapping
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session, col, select

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.today._correct_back import LATER, SLIP, correct_back
from service.desk.today._undo_list import CALLED, CORRECTED, UNDO, UNDONE_WITHIN, subject_of
from service.errors import Conflict, NotFound
from service.records import batch_queries, block_queries, blocks, crushings, durability_tests, recipes, today, versions
from service.records.as_read import corrected
from service.records.audit_log import Trail
from service.records.base import canonical
from service.records.batches import Batch, BatchPart, TrialBlock, batches_of_recipe, trial_blocks_of
from service.records.blocks import Block, Soak
from service.records.corrections import Correction
from service.records.crushings import Crushing
from service.records.jobs import Job
from service.records.moisture_trials import Pot, pot_of
from service.records.photos import Photo
from service.records.presses import PressSession, open_session
from service.records.soil_tests import MoistureCan


@act(UNDO, by=STAFF)
def undo(session: Session, caller: Caller, *, position: int) -> Done:
    """Take back one's own act of the last ten minutes; what was typed stays in the history with the reason "slip"."""
    entry, now = today.act_at(session, position), caller.stores.clock()
    if entry is None or entry.person_id != caller.doer or entry.act not in {*CALLED, *CORRECTED}:
        raise NotFound("There is nothing of yours to undo here.")
    if entry.at < now - UNDONE_WITHIN:
        raise Conflict("That was more than ten minutes ago. Correct it on its own page.")
    told = json.loads(entry.details)
    if entry.act in CORRECTED:
        correct_back(session, caller, told)
    else:
        UNDONE[entry.act](session, caller, entry, told)
    details = {"position": position, "undone": entry.act, "because": SLIP}
    return Done(entry.subject_kind, subject_of(entry), details)


def _by(caller: Caller) -> dict[str, Any]:
    return {"at": caller.stores.clock(), "by": caller.doer, "because": SLIP}


def _unsaid(
    session: Session, caller: Caller, *, kind: str, subject_id: UUID, was: Mapping[str, str | datetime | None]
) -> None:
    """Keep what a row said that is now gone, where the history of its subject is read."""
    session.add(
        Correction(
            subject_kind=kind,
            subject_id=subject_id,
            was=canonical({column: {"value": value, "typed": None} for column, value in was.items()}),
            became=canonical({column: {"value": None, "typed": None} for column in was}),
            corrected_at=caller.stores.clock(),
            corrected_by=caller.doer,
            because=SLIP,
        )
    )


def _blocks_of(session: Session, entry: Trail, told: Mapping[str, Any]) -> list[Block]:
    question = select(Block).where(Block.batch_id == subject_of(entry), col(Block.label).in_(told["blocks"]))
    found = block_queries.locked_blocks(session, [block.id for block in session.exec(question)])
    crushed = crushings.standing_of(session, [block.id for block in found])
    if crushed or any(block.lost_at or durability_tests.use_of(session, block.id) for block in found):
        raise Conflict(LATER)
    return found


def _last_soak(session: Session, block_id: UUID) -> Soak:
    stays = block_queries.soaks_with_people(session, block_id)
    if not stays:
        raise Conflict(LATER)
    return stays[-1][0]


def _soak(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    for block in _blocks_of(session, entry, told):
        soak = _last_soak(session, block.id)
        if soak.ended_at is not None or canonical(soak.started_at) != canonical(told["started_at"]):
            raise Conflict(LATER)
        _unsaid(session, caller, kind="Soak", subject_id=block.id, was={"started_at": soak.started_at})
        session.delete(soak)


def _take_out(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    for block in _blocks_of(session, entry, told):
        soak = _last_soak(session, block.id)
        if canonical(soak.ended_at) != canonical(told["ended_at"]):
            raise Conflict(LATER)
        corrected(session, soak, typed={}, words={"ended_at": None, "ended_by": None}, **_by(caller))


def _cover(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    batch = session.get_one(Batch, subject_of(entry), with_for_update=True)
    if batch.uncovered_at is not None or batch.covered_at is None:
        raise Conflict(LATER)
    corrected(session, batch, typed={}, words={"covered_at": None}, **_by(caller))


def _uncover(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    batch = session.get_one(Batch, subject_of(entry), with_for_update=True)
    if batch.uncovered_at is None:
        raise Conflict(LATER)
    corrected(session, batch, typed={}, words={"uncovered_at": None}, **_by(caller))


def _lose(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    block = block_queries.locked_block(session, subject_of(entry))
    if block.lost_at is None:
        raise Conflict(LATER)
    soak = next(
        (one for one, _, _ in block_queries.soaks_with_people(session, block.id) if one.ended_at == block.lost_at), None
    )
    corrected(session, block, typed={}, words={"lost_at": None, "lost_because": None}, **_by(caller))
    if soak is not None:
        corrected(session, soak, typed={}, words={"ended_at": None, "ended_by": None}, **_by(caller))


def _crush(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    crushing = session.get_one(Crushing, subject_of(entry))
    block_queries.locked_block(session, crushing.block_id)
    if crushing.ended_at is not None:
        raise Conflict("This reading was corrected since then. Correct it on its own page.")
    versions.end(session, crushing, **_by(caller))
    out = crushing.crushed_at - timedelta(minutes=crushing.out_of_water_min or 0.0)
    stays = [soak for soak, _, _ in block_queries.soaks_with_people(session, crushing.block_id)]
    if stays and stays[-1].ended_at == out:
        corrected(session, stays[-1], typed={}, words={"ended_at": None, "ended_by": None}, **_by(caller))


def _press(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    block = block_queries.locked_block(session, subject_of(entry))
    used = block_queries.soaks_with_people(session, block.id) or block_queries.crushings_of(session, block.id)
    shown = session.exec(select(Photo.id).where(Photo.block_id == block.id)).first()
    dried = session.exec(select(MoistureCan.id).where(MoistureCan.block_id == block.id)).first()
    if used or shown or dried or durability_tests.history_of(session, block.id):
        raise Conflict(LATER)
    batch_queries.placed_batch(session, block.batch_id, lock=True)
    _unsaid(session, caller, kind="Batch", subject_id=block.batch_id, was={"block": block.label})
    for height in blocks.heights_of(session, [block.id]).get(block.id, []):
        session.delete(height)
    session.flush()
    session.delete(block)


def _weigh(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    batch = batch_queries.placed_batch(session, subject_of(entry), lock=True).batch
    if batch_queries.blocks_of_batch(session, batch.id) or trial_blocks_of(session, [batch.id]):
        raise Conflict("Blocks were pressed of it since then. Correct what was weighed on the batch's page.")
    for part_id in told["parts"]:
        part = session.get_one(BatchPart, UUID(part_id))
        corrected(session, part, typed={"weighed_kg": None}, words={}, **_by(caller))
    words: dict[str, Any] = {"mixed_at": None, "mixed_by": None}
    if told["water"]:
        words |= {"water_kg": None, "wetted_at": None}
    corrected(session, batch, typed={}, words=words, **_by(caller))


def _start(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    batch = batch_queries.placed_batch(session, subject_of(entry), lock=True).batch
    parts = [one.part for one in batch_queries.parts_of_batch(session, batch.id)]
    weighed = batch.water_kg is not None or any(part.weighed_kg is not None for part in parts)
    if weighed or batch_queries.cans_of_batch(session, batch.id) or trial_blocks_of(session, [batch.id]):
        raise Conflict("Something was weighed into it since then. It stays.")
    pot = pot_of(session, batch.id)
    for row in [*parts, *([pot] if pot else [])]:
        session.delete(row)
    session.flush()
    session.delete(batch)


def _cancel(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    rows = told["rows"]
    batch = Batch.model_validate(rows["batch"])
    placed = batch_queries.placed_recipe(session, batch.recipe_id, lock=True)
    begun = {one.number for one in batches_of_recipe(session, batch.recipe_id)}
    is_over = placed.job.closed_at or placed.recipe.dropped_at or placed.replaced_by
    if is_over or batch.number in begun or batch.number > placed.recipe.batches:
        raise Conflict(LATER)
    session.add(batch)
    session.flush()
    session.add_all(BatchPart.model_validate(part) for part in rows["parts"])
    if "pot" in rows:
        session.add(Pot.model_validate(rows["pot"]))


def _repeat(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    job = session.get_one(Job, subject_of(entry), with_for_update=True)
    planned = {str(one.recipe.id): one for one in recipes.recipes_of_job(session, job.id)}
    ours = [planned[one] for one in told["recipes"] if one in planned]
    # A recipe that was changed since then has other parts.
    parts = {str(part.id) for one in ours for part in one.parts}
    is_used = any(one.recipe.dropped_at or batches_of_recipe(session, one.recipe.id) for one in ours)
    if job.closed_at or is_used or parts != set(told["parts"]) or len(ours) != len(told["recipes"]):
        raise Conflict(LATER)
    for one in ours:
        for row in (*one.volumes.values(), *one.parts, *one.groups):
            session.delete(row)
        session.flush()
        session.delete(one.recipe)


def _try(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    trial = session.get_one(TrialBlock, subject_of(entry))
    batch = batch_queries.placed_batch(session, trial.batch_id, lock=True).batch
    if batch_queries.blocks_of_batch(session, batch.id) or trial_blocks_of(session, [batch.id])[-1].id != trial.id:
        raise Conflict(LATER)
    typed = trial.as_read["charge_kg"]
    said = f"{trial.position}, mix {typed['text']} {typed['unit']}"
    _unsaid(session, caller, kind="Batch", subject_id=batch.id, was={"trial_block": said})
    session.delete(trial)


def _can(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    versions.end(session, session.get_one(MoistureCan, subject_of(entry)), **_by(caller))


def _sack_cans(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    for can_id in told["cans"]:
        versions.end(session, session.get_one(MoistureCan, UUID(can_id)), **_by(caller))


def _test(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    block_queries.locked_block(session, subject_of(entry))
    row = session.get_one(durability_tests.TABLES[told["test"]], UUID(told["reading_id"]))
    if row.ended_at is not None:
        raise Conflict("This reading was corrected since then. Correct it on its own page.")
    versions.end(session, row, **_by(caller))


def _zero(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    opened = session.get_one(PressSession, subject_of(entry), with_for_update=True)
    read = session.exec(select(Crushing.id).where(Crushing.press_session_id == opened.id)).first()
    bent = session.exec(
        select(durability_tests.Flexure.id).where(durability_tests.Flexure.press_session_id == opened.id)
    ).first()
    if read or bent or opened.closed_at is not None:
        raise Conflict("A block was crushed since then. Correct the zero on the page Crushing.")
    session.delete(opened)


def _close(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    closed = session.get_one(PressSession, subject_of(entry), with_for_update=True)
    if closed.closed_at is None or open_session(session, closed.gauge_id) is not None:
        raise Conflict("The gauge is in use again. Go on with that.")
    corrected(
        session, closed, typed={"zero_after_mpa": None}, words={"closed_at": None, "closed_by": None}, **_by(caller)
    )


def _photo(session: Session, caller: Caller, entry: Trail, told: Mapping[str, Any]) -> None:
    photo = session.get_one(Photo, subject_of(entry), with_for_update=True)
    is_added = entry.act == "photo.add"
    if is_added == (photo.removed_at is not None):
        raise Conflict(LATER)
    photo.removed_at = caller.stores.clock() if is_added else None
    session.add(photo)


UNDONE: dict[str, Callable[[Session, Caller, Trail, Mapping[str, Any]], None]] = {
    "curing.put_to_soak": _soak,
    "curing.take_out": _take_out,
    "curing.cover": _cover,
    "curing.uncover": _uncover,
    "curing.lose_block": _lose,
    "crushing.record": _crush,
    "block.press": _press,
    "batch.weigh": _weigh,
    "batch.start": _start,
    "batch.cancel": _cancel,
    "plan.repeat": _repeat,
    "batch.try_charge": _try,
    "batch.weigh_can": _can,
    "moisture.weigh": _sack_cans,
    "enduring.record": _test,
    "crushing.open_spell": _zero,
    "crushing.close_spell": _close,
    "block.lose": _lose,
    "photo.add": _photo,
    "photo.remove": _photo,
}
