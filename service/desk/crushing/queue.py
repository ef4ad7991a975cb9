"""The queue at the press: what is due, at which gauges, and the press sessions of crushing."""

from dataclasses import dataclass, replace
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.crushing._at_press import press_of_blocks
from service.desk.crushing._due import DueBlock, due_blocks
from service.desk.crushing._scale import PressSessionView, press_session_view
from service.desk.doorway import STAFF, Caller, look
from service.errors import NotFound
from service.records import at_press, block_queries
from service.records.presses import calibrations_of

PAGE_SIZE = 25


@dataclass(frozen=True)
class GaugeChoice:
    """A gauge that a press session of crushing may be opened at."""

    id: UUID
    name: str
    unit: str


@dataclass(frozen=True)
class CrushingQueue:
    """One page of the due blocks in their order, and the gauges in use."""

    blocks: list[DueBlock]
    total: int
    page: int
    pages: int
    next_at: datetime | None
    press_sessions: list[PressSessionView]
    gauges: list[GaugeChoice]
    closed_gauges: list[GaugeChoice]


@dataclass(frozen=True)
class NextBlock:
    """The job of a block, and which of its other blocks is due first, None when no other is."""

    job_id: UUID
    block_id: UUID | None


@look("crushing.next", by=STAFF)
def next_block(session: Session, caller: Caller, *, block_id: UUID) -> NextBlock:
    """Return where the press goes on after a block: with the next one of its job."""
    job_id = at_press.job_of(session, block_id)
    if job_id is None:
        raise NotFound("There is no such block.")
    due = due_blocks(block_queries.waiting(session, job_id=job_id), now=caller.stores.clock()).blocks
    return NextBlock(job_id, next((one.id for one in due if one.id != block_id), None))


@look("crushing.queue", by=STAFF)
def queue(session: Session, caller: Caller, *, job_id: UUID | None = None, page: int = 1) -> CrushingQueue:
    """Return the due blocks of the shop, or of one job."""
    clock = caller.clock
    waiting = block_queries.waiting(session, job_id=job_id)
    due = due_blocks(waiting, now=clock.now)
    hands = block_queries.gauges_at_hand(session)
    opened = [hand.gauge.id for hand in hands if hand.press_session is not None]
    calibrations = calibrations_of(session, opened)
    views = [press_session_view(hand, calibrations.get(hand.gauge.id, []), today=clock.today) for hand in hands]
    gauges = [GaugeChoice(hand.gauge.id, f"{hand.press.name}, {hand.gauge.name}", hand.gauge.unit) for hand in hands]
    first = (page - 1) * PAGE_SIZE
    shown, groups = due.blocks[first : first + PAGE_SIZE], {row.block_id: row.group_id for row in waiting}
    presses = press_of_blocks(session, {one.id: groups[one.id] for one in shown}, hands)
    return CrushingQueue(
        blocks=[replace(one, press=presses.get(one.id, "")) for one in shown],
        total=len(due.blocks),
        page=page,
        pages=max(1, -(-len(due.blocks) // PAGE_SIZE)),
        next_at=due.next_at,
        press_sessions=[view for view in views if view is not None],
        gauges=gauges,
        closed_gauges=[gauge for gauge in gauges if gauge.id not in opened],
    )
