"""What one block came to, in as few questions as that takes: the page of the next block waits for it."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.crushing._facts import Meeting, facts_of
from service.desk.crushing.crushing_facts import CrushingFacts
from service.desk.doorway import STAFF, Caller, look
from service.measured.crushed import meant_of
from service.records import block_queries
from service.records.presses import calibrations_of


@dataclass(frozen=True)
class CameTo:
    """A block with its standing reading, if it has one."""

    id: UUID
    label: str
    standing: CrushingFacts | None
    lost_at: datetime | None


@look("crushing.came_to", by=STAFF)
def came_to(session: Session, caller: Caller, *, block_id: UUID) -> CameTo:
    """Return what a block came to."""
    whole = block_queries.whole_block(session, block_id)
    standing = next(
        (one for one in block_queries.crushings_of(session, block_id) if one.crushing.ended_at is None), None
    )
    facts = None
    if standing is not None:
        soaks = [soak for soak, _, _ in block_queries.soaks_with_people(session, block_id)]
        calibrations = calibrations_of(session, {standing.gauge.id} if standing.gauge else set())
        facts = facts_of(standing, Meeting(whole, meant_of(whole.group), soaks, calibrations, caller.clock))
    return CameTo(whole.block.id, whole.block.label, facts, whole.block.lost_at)
