"""Undo of a correction: a correction back, with the reason "slip", so that both values stay in the history."""

import json
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import Uuid, inspect
from sqlmodel import Session
from sqlmodel.sql.sqltypes import UTCDateTime

from service.desk.doorway import Caller
from service.errors import Conflict
from service.records import block_queries, blocks, crushings, durability_tests, versions
from service.records.base import Raw, Versioned, canonical
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block, BlockHeight, Soak
from service.records.corrections import Correction, amend, before_and_after
from service.records.crushings import Crushing
from service.records.presses import PressSession
from service.records.soil_tests import MoistureCan

SLIP = "slip"
LATER = "Something else was done with this since then. Correct it on its own page."
ROWS: dict[str, type[Raw]] = {
    table.__name__: table for table in (Batch, BatchPart, Block, BlockHeight, Soak, PressSession)
}
READINGS: dict[str, type[Versioned]] = {
    str(table.__tablename__): table for table in (Crushing, MoistureCan, *durability_tests.TABLES.values())
}
# What a reading says of itself as a version, and not of the block.
OF_THE_VERSION = {"id", "created_at", "ended_at", "ended_by", "ended_because", "replaces_id"}


def correct_back(session: Session, caller: Caller, told: Mapping[str, Any]) -> None:
    """Take back what an act corrected: versions first, then rows, the last one first."""
    for table, old_id, new_id in reversed(told.get("versions", [])):
        _stand_again(session, caller, READINGS[table], UUID(old_id), UUID(new_id) if new_id else None)
    for correction_id in reversed(told.get("corrections", [])):
        _say_as_before(session, caller, session.get_one(Correction, UUID(correction_id)))
    if told.get("heights_added"):
        block = blocks.block_by_label(session, told["label"])
        heights = blocks.heights_of(session, [block.id]).get(block.id, []) if block else []
        for height in heights[-told["heights_added"] :]:
            session.delete(height)


def _stand_again(session: Session, caller: Caller, table: type[Versioned], old_id: UUID, new_id: UUID | None) -> None:
    old = session.get_one(table, old_id)
    _refuse_used_since(session, old, is_replaced=new_id is not None)
    again = table(**old.model_dump(exclude=OF_THE_VERSION))
    if new_id is None:
        again.replaces_id = old.id
        session.add(again)
        session.flush()
        return
    new = session.get_one(table, new_id)
    if new.ended_at is not None:
        raise Conflict("This reading was corrected since then. Correct it on its own page.")
    versions.replace(session, new, again, at=caller.stores.clock(), by=caller.doer, because=SLIP)


def _refuse_used_since(session: Session, old: Versioned, *, is_replaced: bool) -> None:
    """Refuse where the block of a reading was crushed, lost or tested otherwise since the act."""
    block_id = getattr(old, "block_id", None)
    if block_id is None or is_replaced:
        return
    block = block_queries.locked_block(session, block_id)
    if block.lost_at or _is_used(session, block.id):
        raise Conflict(LATER)


def _is_used(session: Session, block_id: UUID) -> bool:
    return bool(crushings.standing_of(session, [block_id]) or durability_tests.use_of(session, block_id))


def _say_as_before(session: Session, caller: Caller, correction: Correction) -> None:
    row = session.get_one(ROWS[correction.subject_kind], correction.subject_id, with_for_update=True)
    pairs = before_and_after(correction)
    if any(json.loads(canonical(getattr(row, column))) != became["value"] for column, (_, became) in pairs.items()):
        raise Conflict(LATER)
    if isinstance(row, Block) and "lost_at" in pairs and _is_used(session, row.id):
        raise Conflict(LATER)
    if isinstance(row, Soak) and block_queries.soaks_with_people(session, row.block_id)[-1][0].id != row.id:
        raise Conflict(LATER)
    values = {column: _kept(row, column, was["value"]) for column, (was, _) in pairs.items()}
    typed = {column: was["typed"] for column, (was, _) in pairs.items() if was["typed"]}
    amend(session, row, values, as_read=typed, at=caller.stores.clock(), by=caller.doer, because=SLIP)


def _kept(row: Raw, column: str, value: Any) -> Any:
    """Return a value of a correction as its column has it: moments and ids are texts there."""
    kind = inspect(type(row)).columns[column].type
    if isinstance(value, str) and isinstance(kind, UTCDateTime):
        return datetime.fromisoformat(value)
    return UUID(value) if isinstance(value, str) and isinstance(kind, Uuid) else value
