"""A spell of crushing at one gauge: what it showed unloaded before the first block and after the last."""

from uuid import UUID

from sqlmodel import Session, select

from service.desk.doorway import STAFF, Caller, Done, act
from service.errors import Conflict, Invalid, NotFound
from service.measured.gauge import check_zero
from service.records.as_read import as_read, corrected
from service.records.people import Person
from service.records.presses import Gauge, Press, PressSession, open_session
from service.typed import Typed


@act("crushing.open_spell", by=STAFF)
def open_spell(session: Session, caller: Caller, *, gauge_id: UUID, zero_before_mpa: Typed) -> Done:
    """Begin a spell of crushing: what the gauge shows with nothing on the press."""
    gauge = session.exec(select(Gauge).where(Gauge.id == gauge_id).with_for_update()).one_or_none()
    press = session.get(Press, gauge.press_id) if gauge is not None else None
    if gauge is None or press is None:
        raise NotFound("There is no such gauge.")
    if not press.crushes or press.ended_at is not None or gauge.ended_at is not None:
        raise Invalid("This press crushes no blocks.", {"gauge_id": "Choose a press in use that crushes."})
    check_zero(zero_before_mpa, gauge, field="zero_before_mpa")
    already = open_session(session, gauge.id)
    if already is not None:
        by = session.get_one(Person, already.opened_by)
        raise Conflict(f"{by.name} has opened this gauge already; go on with that.")
    spell = PressSession(
        gauge_id=gauge.id,
        opened_at=caller.stores.clock(),
        opened_by=caller.doer,
        zero_before_mpa=zero_before_mpa.value,
        as_read=as_read({"zero_before_mpa": zero_before_mpa}),
    )
    session.add(spell)
    session.flush()
    return Done("press_session", spell.id, {"gauge": gauge.name, "press": press.name})


@act("crushing.close_spell", by=STAFF)
def close_spell(session: Session, caller: Caller, *, press_session_id: UUID, zero_after_mpa: Typed) -> Done:
    """End a spell of crushing: what the gauge shows unloaded after the last block."""
    spell, gauge = _locked(session, press_session_id)
    if spell.closed_at is not None:
        raise Conflict("This crushing session has ended.")
    check_zero(zero_after_mpa, gauge, field="zero_after_mpa")
    spell.closed_at, spell.closed_by = caller.stores.clock(), caller.doer
    spell.zero_after_mpa = zero_after_mpa.value
    spell.as_read = {**spell.as_read, **as_read({"zero_after_mpa": zero_after_mpa})}
    session.add(spell)
    return Done("press_session", spell.id, {"gauge": gauge.name})


@act("crushing.correct_spell", by=STAFF)
def correct_spell(
    session: Session,
    caller: Caller,
    *,
    press_session_id: UUID,
    zero_before_mpa: Typed,
    zero_after_mpa: Typed | None,
    because: str,
) -> Done:
    """Correct what the gauge showed unloaded; every stress of that spell follows."""
    spell, gauge = _locked(session, press_session_id)
    check_zero(zero_before_mpa, gauge, field="zero_before_mpa")
    typed: dict[str, Typed | None] = {"zero_before_mpa": zero_before_mpa}
    if spell.closed_at is not None:
        if zero_after_mpa is None:
            raise Invalid("This crushing session has ended.", {"zero_after_mpa": "Enter the gauge reading after it."})
        check_zero(zero_after_mpa, gauge, field="zero_after_mpa")
        typed["zero_after_mpa"] = zero_after_mpa
    kept = corrected(session, spell, typed=typed, words={}, at=caller.stores.clock(), by=caller.doer, because=because)
    return Done("press_session", spell.id, {"changed": kept is not None, "because": because.strip()})


def _locked(session: Session, press_session_id: UUID) -> tuple[PressSession, Gauge]:
    question = select(PressSession).where(PressSession.id == press_session_id).with_for_update()
    spell = session.exec(question).one_or_none()
    if spell is None:
        raise NotFound("This crushing session was not found.")
    return spell, session.get_one(Gauge, spell.gauge_id)
