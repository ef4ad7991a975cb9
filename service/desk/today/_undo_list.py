"""What can be undone for ten minutes: the last acts of a person, read from the trail."""

import json
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.records import today
from service.records.audit_log import Trail

UNDONE_WITHIN = timedelta(minutes=10)
# So many entries of a busy shop at most are looked through for those of one person.
NEWEST = 300
SHOWN = 3
UNDO = "slip.undo"
# Each act that can be undone, and what it is called when it was done.
CALLED = {
    "curing.put_to_soak": "Put to soak",
    "curing.take_out": "Taken out of the water",
    "curing.cover": "Covered",
    "curing.uncover": "Cover taken off",
    "curing.lose_block": "Recorded as damaged or missing",
    "crushing.record": "Crushed",
    "block.press": "Pressed",
    "batch.weigh": "Weighed",
    "batch.start": "Batch started",
    "batch.cancel": "Batch cancelled",
    "batch.try_charge": "Trial fill saved",
    "batch.weigh_can": "Can weighed",
    "moisture.weigh": "Cans weighed",
    "enduring.record": "Test saved",
    "crushing.open_spell": "Gauge read unloaded",
    "crushing.close_spell": "Crushing session ended",
    "block.lose": "Recorded as damaged or missing",
    "plan.repeat": "Planned",
    "photo.add": "Photo added",
    "photo.remove": "Photo removed",
}
# What corrected something that stood already, and what each is called; taken back, it is corrected once more.
CORRECTED = {
    "crushing.correct": "Reading corrected",
    "crushing.withdraw": "Reading removed",
    "crushing.note": "Note saved",
    "crushing.correct_spell": "Zero corrected",
    "curing.correct_soak": "Soak times corrected",
    "curing.correct_cover": "Cover times corrected",
    "curing.find_block": "Recorded as found",
    "batch.correct": "Weighing corrected",
    "batch.set_aside_can": "Can excluded",
    "moisture.correct": "Can corrected",
    "moisture.set_aside": "Can excluded",
    "block.correct_pressing": "Pressing corrected",
    "enduring.weigh_again": "Weighed after the water",
    "enduring.correct": "Test corrected",
    "enduring.set_aside": "Test excluded",
}


@dataclass(frozen=True)
class Slip:
    """One act of a person that can still be undone."""

    position: int
    at: datetime
    act: str
    called: str
    what: str


def slips_of(session: Session, caller: Caller, *, now: datetime) -> list[Slip]:
    """Return the last acts of the caller that can still be undone, the newest first."""
    if caller.person_id is None:
        return []
    entries = today.acts_since(session, caller.person_id, now - UNDONE_WITHIN, newest=NEWEST)
    undone = {json.loads(entry.details).get("position") for entry in entries if entry.act == UNDO}
    found = [entry for entry in entries if _is_undone_by_a_tap(entry) and entry.position not in undone]
    called = CALLED | CORRECTED
    return [Slip(one.position, one.at, one.act, called[one.act], _what(one)) for one in found[:SHOWN]]


def _is_undone_by_a_tap(entry: Trail) -> bool:
    """Whether an act can be undone; a correction that changed nothing has nothing to be undone."""
    told = json.loads(entry.details)
    return entry.act in CALLED or (entry.act in CORRECTED and bool(told.get("corrections") or told.get("versions")))


def _what(entry: Trail) -> str:
    told: dict[str, Any] = json.loads(entry.details)
    blocks = told.get("blocks")
    if isinstance(blocks, list):
        return ", ".join(blocks) if len(blocks) <= 4 else f"{len(blocks)} blocks"
    return str(told.get("label") or told.get("block") or told.get("gauge") or "")


def subject_of(entry: Trail) -> UUID:
    """Return what an entry of the trail is about."""
    return UUID(entry.subject_id)
