"""A press session of crushing at one gauge: what it showed unloaded before the first block and after the last."""

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
def open_press_session(session: Session, caller: Caller, *, gauge_id: UUID, zero_before_mpa: Typed) -> Done:
    """Begin a press session of crushing: what the gauge shows with nothing on the press."""
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
    press_session = PressSession(
        gauge_id=gauge.id,
        opened_at=caller.stores.clock(),
        opened_by=caller.doer,
        zero_before_mpa=zero_before_mpa.value,
        as_read=as_read({"zero_before_mpa": zero_before_mpa}),
    )
    session.add(press_session)
    session.flush()
    return Done("press_session", press_session.id, {"gauge": gauge.name, "press": press.name})


@act("crushing.close_spell", by=STAFF)
def close_press_session(session: Session, caller: Caller, *, press_session_id: UUID, zero_after_mpa: Typed) -> Done:
    """End a press session of crushing: what the gauge shows unloaded after the last block."""
    press_session, gauge = _locked(session, press_session_id)
    if press_session.closed_at is not None:
        raise Conflict("This crushing session has ended.")
    check_zero(zero_after_mpa, gauge, field="zero_after_mpa")
    press_session.closed_at, press_session.closed_by = caller.stores.clock(), caller.doer
    press_session.zero_after_mpa = zero_after_mpa.value
    press_session.as_read = {**press_session.as_read, **as_read({"zero_after_mpa": zero_after_mpa})}
    session.add(press_session)
    return Done("press_session", press_session.id, {"gauge": gauge.name})


@act("crushing.correct_spell", by=STAFF)
def correct_press_session(
    session: Session,
    caller: Caller,
    *,
    press_session_id: UUID,
    zero_before_mpa: Typed,
    zero_after_mpa: Typed | None,
    because: str,
) -> Done:
    """Correct what the gauge showed unloaded; every stress of that press session follows."""
    press_session, gauge = _locked(session, press_session_id)
    check_zero(zero_before_mpa, gauge, field="zero_before_mpa")
    typed: dict[str, Typed | None] = {"zero_before_mpa": zero_before_mpa}
    if press_session.closed_at is not None:
        if zero_after_mpa is None:
            raise Invalid("This crushing session has ended.", {"zero_after_mpa": "Enter the gauge reading after it."})
        check_zero(zero_after_mpa, gauge, field="zero_after_mpa")
        typed["zero_after_mpa"] = zero_after_mpa
    kept = corrected(
        session, press_session, typed=typed, words={}, at=caller.stores.clock(), by=caller.doer, because=because
    )
    return Done("press_session", press_session.id, {"changed": kept is not None, "because": because.strip()})


def _locked(session: Session, press_session_id: UUID) -> tuple[PressSession, Gauge]:
    question = select(PressSession).where(PressSession.id == press_session_id).with_for_update()
    press_session = session.exec(question).one_or_none()
    if press_session is None:
        raise NotFound("This crushing session was not found.")
    return press_session, session.get_one(Gauge, press_session.gauge_id)
