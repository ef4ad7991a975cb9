"""A test of a block: recorded once, corrected with a reason, set aside with one, never overwritten."""

from dataclasses import replace as with_other
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session, select

from service.desk.block_tests._rows import row_of
from service.desk.block_tests.given import TEST_OF, Given, Weighing, Wetting
from service.desk.doorway import STAFF, Caller, Done, act
from service.errors import Conflict, Invalid, NotFound
from service.records import block_queries, durability_tests, versions
from service.records.blocks import Block
from service.records.durability_tests import Absorption, Row, WetDryCycle
from service.records.people import Person
from service.shop_clock import as_kept
from service.trade.block.durability_tests import USED_UP
from service.typed import Typed

# What stands beside the version that the second weighing ends: the row itself is never changed.
WEIGHED_AGAIN = "Weighed again after the water."


@act("enduring.record", by=STAFF)
def record(session: Session, caller: Caller, *, block_id: UUID, given: Given) -> Done:
    """Record a test of a block; the second of two people is told who was first."""
    block = block_queries.locked_block(session, block_id)
    if block.lost_at is not None:
        raise Conflict(
            f"{block.label} is damaged or missing: {block.lost_because}. Record first that it can be tested."
        )
    test = TEST_OF[type(given)]
    _refuse_twice(session, caller, block, given)
    row = row_of(session, caller, block, given, by=caller.doer)
    if _uses_up(row):
        _refuse_used(session, block, test)
    if isinstance(row, WetDryCycle):
        _check_turn(session, caller, block, row)
    session.add(row)
    session.flush()
    return _done(block, test, row)


@act("enduring.weigh_again", by=STAFF)
def weigh_again(
    session: Session,
    caller: Caller,
    *,
    block_id: UUID,
    outcome: str,
    after_kg: Typed | None = None,
    weighed_at: datetime | None = None,
) -> Done:
    """Record what a block weighs after the water, or that it fell apart in it."""
    block = block_queries.locked_block(session, block_id)
    old = session.exec(_standing(Absorption, block_id)).one_or_none()
    if old is None:
        raise Conflict(f"{block.label} was not put to the water for a test.")
    if old.outcome is not None:
        raise Conflict(f"{block.label} was weighed again already. Correct that, if it is wrong.")
    before = old.as_read["before_kg"]
    given = Wetting(
        manner=old.manner,
        state_before=old.state_before,
        before_kg=Typed(old.before_kg, before["text"], before["unit"]),
        wetted_at=old.wetted_at,
        outcome=outcome,
        after_kg=after_kg,
        weighed_at=weighed_at,
        remark=old.remark,
    )
    new = row_of(session, caller, block, given, by=caller.doer)
    versions.replace(session, old, new, at=caller.stores.clock(), by=caller.doer, because=WEIGHED_AGAIN)
    return _done(block, "absorption", new)


@act("enduring.correct", by=STAFF)
def correct(session: Session, caller: Caller, *, block_id: UUID, reading_id: UUID, given: Given, because: str) -> Done:
    """Put a corrected test in the place of a standing one, which is kept with the reason."""
    test = TEST_OF[type(given)]
    old, block = _found(session, block_id, test, reading_id, because)
    given = _as_kept(old, given)
    if isinstance(given, Weighing) and isinstance(old, WetDryCycle) and given.number != old.number:
        raise Invalid("This is another cycle.", {"number": "Exclude this one and record the other."})
    new = row_of(session, caller, block, given, by=old.done_by)
    if _uses_up(new) and not _uses_up(old):
        _refuse_used(session, block, test)
    versions.replace(session, old, new, at=caller.stores.clock(), by=caller.doer, because=because.strip())
    return _done(block, test, new, because=because.strip(), replaces=str(old.id))


@act("enduring.set_aside", by=STAFF)
def exclude(session: Session, caller: Caller, *, block_id: UUID, test: str, reading_id: UUID, because: str) -> Done:
    """Set a test aside that was typed for the wrong block or went wrong; it is kept with the reason."""
    old, block = _found(session, block_id, test, reading_id, because)
    if isinstance(old, WetDryCycle) and any(one.number > old.number for one in _cycles(session, block_id)):
        raise Conflict("Later cycles depend on this one. Exclude those first.")
    versions.end(session, old, at=caller.stores.clock(), by=caller.doer, because=because.strip())
    return _done(block, test, old, because=because.strip())


def _uses_up(row: Row) -> bool:
    return not isinstance(row, Absorption) or row.state_before == "oven-dry"


def _standing(table: Any, block_id: UUID) -> Any:
    return select(table).where(table.block_id == block_id, table.ended_at.is_(None))


def _cycles(session: Session, block_id: UUID) -> list[WetDryCycle]:
    return list(session.exec(_standing(WetDryCycle, block_id).order_by(WetDryCycle.number)))


def _refuse_twice(session: Session, caller: Caller, block: Block, given: Given) -> None:
    table: Any = durability_tests.TABLES[TEST_OF[type(given)]]
    question = _standing(table, block.id)
    if isinstance(given, Weighing):
        question = question.where(table.number == given.number)
    row = session.exec(question).one_or_none()
    if row is None:
        return
    by, at = session.get_one(Person, row.done_by).name, row.wetted_at if isinstance(row, Absorption) else row.done_at
    raise Conflict(f"{block.label} has this test already: {by} recorded it for {caller.clock.said(at)}.")


def _refuse_used(session: Session, block: Block, test: str) -> None:
    used = durability_tests.use_of(session, block.id)
    if used is not None and used != test:
        raise Conflict(f"{block.label} was used up: it was {USED_UP[used]}.")
    crushed = block_queries.standing_with_person(session, block.id)
    if crushed is not None:
        raise Conflict(f"{block.label} was crushed already, by {crushed[1].name}. Take another block.")


def _check_turn(session: Session, caller: Caller, block: Block, row: WetDryCycle) -> None:
    """Refuse a cycle before the first weighing, out of its order, or of a block that fell apart."""
    before = _cycles(session, block.id)
    if not before:
        if row.number > 0:
            raise Invalid("Begin with the mass before.", {"number": "Weigh it oven-dry first (cycle 0)."})
        return
    last = before[-1]
    if last.outcome == "fell apart":
        raise Conflict(f"{block.label} fell apart after cycle {last.number}.")
    if row.number < last.number:
        raise Invalid("This cycle is over.", {"number": f"Cycle {last.number} was recorded; write a later one."})
    if row.done_at <= last.done_at:
        sentence = f"Cycle {last.number} was weighed on {caller.clock.said(last.done_at)}; this was after that."
        raise Invalid("This time is too early.", {"done_at": sentence})


def _found(session: Session, block_id: UUID, test: str, reading_id: UUID, because: str) -> tuple[Row, Block]:
    table: Any = durability_tests.TABLES.get(test)
    row: Row | None = session.get(table, reading_id) if table is not None else None
    if row is None or row.block_id != block_id:
        raise NotFound("There is no such test of this block.")
    block = block_queries.locked_block(session, block_id)
    if not because.strip():
        raise Invalid("Give a reason.", {"because": "Give a reason."})
    return row, block


def _as_kept(old: Row, given: Given) -> Given:
    """Return the times as they were kept where the form shows whole minutes of them or leaves them out."""
    if isinstance(given, Wetting) and isinstance(old, Absorption):
        wetted, weighed = _as_before(old.wetted_at, given.wetted_at), _as_before(old.weighed_at, given.weighed_at)
        return with_other(given, wetted_at=wetted, weighed_at=weighed)
    if isinstance(given, Wetting) or isinstance(old, Absorption):
        raise NotFound("There is no such test of this block.")
    return with_other(given, done_at=_as_before(old.done_at, given.done_at))


def _as_before(was: datetime | None, given: datetime | None) -> datetime | None:
    return was if given is None else as_kept(was, given)


def _done(block: Block, test: str, row: Row, **more: Any) -> Done:
    return Done("block", block.id, {"label": block.label, "test": test, "reading_id": str(row.id), **more})
