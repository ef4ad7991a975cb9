"""The reading itself: recorded once, corrected with a reason, withdrawn, never overwritten."""

from collections.abc import Mapping, Sequence
from dataclasses import replace as with_other
from datetime import datetime
from typing import Any, NamedTuple
from uuid import UUID

from sqlmodel import Session, select

from service.desk.crushing.given import OFFERED, Given
from service.desk.doorway import STAFF, Caller, Done, act
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.measured.gauge import above, limit_faults, line_on
from service.measured.water import ended_by, in_water, out_at
from service.records import at_press, block_queries, versions
from service.records.as_read import as_read, corrected
from service.records.blocks import STILL_IN, Block, Soak, soaks_of
from service.records.corrections import amend
from service.records.crushings import LOADED, Crushing
from service.records.people import Person
from service.records.presses import Gauge, Press, PressSession, calibrations_of
from service.shop_clock import as_kept
from service.trade.block.durability_tests import PLANNED_TESTS, USED_UP
from service.typed import Typed, as_shown

QUANTITIES = (
    "gauge_mpa",
    "length_mm",
    "width_mm",
    "height_mm",
    "mass_kg",
    "water_hours",
    "out_of_water_min",
    "loading_s",
)
# A form is filled in when the page opens and sent when the block has broken.
HOURS_APART = 1.0
ABOVE_ZERO = ("length_mm", "width_mm", "height_mm", "mass_kg", "loading_s")


@act("crushing.record", by=STAFF)
def record(session: Session, caller: Caller, *, block_id: UUID, given: Given) -> Done:
    """Record how a block ended at the press; the second of two people is told who was first and with what."""
    block = block_queries.locked_block(session, block_id)
    before = at_press.before_crushing(session, block.id)
    _refuse_twice(caller, block, before)
    if block.lost_at is not None:
        raise Conflict(
            f"{block.label} is damaged or missing: {block.lost_because}. Record first that it can be tested."
        )
    _refuse_for_a_test(block, before)
    at_gauge = _at_gauge(session, given)
    gauge, press_session = (at_gauge.gauge, at_gauge.press_session) if at_gauge else (None, None)
    given = _checked(given, block, _stop(session, caller, given, gauge, press_session))
    at = _crushed_at(caller, given, block)
    _refuse_closed(press_session, at)
    crushing = _row(
        caller, block, given, gauge=gauge, press_session=press_session, crushed_at=at, crushed_by=caller.doer
    )
    session.add(crushing)
    if before.was_in_water:
        _out_of_the_water(session, caller, crushing)
    session.flush()
    return Done("crushing", crushing.id, _told(block, crushing))


@act("crushing.correct", by=STAFF)
def correct(
    session: Session,
    caller: Caller,
    *,
    crushing_id: UUID,
    given: Given,
    because: str,
    gauge_id: UUID | None = None,
    block_id: UUID | None = None,
) -> Done:
    """Put a corrected reading in the place of a standing one, which is kept with the reason."""
    old, block = _standing(session, crushing_id, because)
    of_its_address(block.id, block_id)
    gauge = session.get(Gauge, gauge_id or old.gauge_id) if (gauge_id or old.gauge_id) else None
    same_gauge = gauge is not None and gauge.id == old.gauge_id
    press_session = session.get(PressSession, old.press_session_id) if old.press_session_id and same_gauge else None
    given = with_other(given, crushed_at=as_kept(old.crushed_at, given.crushed_at) or old.crushed_at)
    given = _checked(given, block, _stop(session, caller, given, gauge, press_session))
    at = _crushed_at(caller, given, block)
    _refuse_closed(press_session, at)
    new = _row(caller, block, given, gauge=gauge, press_session=press_session, crushed_at=at, crushed_by=old.crushed_by)
    versions.replace(session, old, new, at=caller.stores.clock(), by=caller.doer, because=because.strip())
    _out_at_another_time(session, caller, old, new, because)
    return Done("crushing", new.id, {**_told(block, new), "because": because.strip(), "replaces": str(old.id)})


@act("crushing.withdraw", by=STAFF)
def withdraw(
    session: Session, caller: Caller, *, crushing_id: UUID, because: str, block_id: UUID | None = None
) -> Done:
    """Take back a reading that was typed for the wrong block; the block waits again."""
    old, block = _standing(session, crushing_id, because)
    of_its_address(block.id, block_id)
    versions.end(session, old, at=caller.stores.clock(), by=caller.doer, because=because.strip())
    stay = ended_by(old, soaks_of(session, block.id))
    if stay is not None:
        _correct_stay(session, caller, stay, STILL_IN, because)
    return Done("crushing", old.id, {**_told(block, old), "because": because.strip()})


@act("crushing.note", by=STAFF)
def add_note(session: Session, caller: Caller, *, block_id: UUID, remark: str) -> Done:
    """Write a note on a block, for instance that it was loaded once more: a note is no reading."""
    block = block_queries.locked_block(session, block_id)
    if not remark.strip():
        raise Invalid("Nothing is written.", {"remark": "Write the note."})
    now, by = caller.stores.clock(), session.get_one(Person, caller.doer)
    line = f"{caller.clock.said(now)}, {by.name}: {remark.strip()}"
    lines = f"{block.remark}\n{line}" if block.remark else line
    amend(session, block, {"remark": lines}, as_read={}, at=now, by=by.id, because="A note was added.")
    return Done("block", block.id, {"label": block.label, "remark": remark.strip()})


def _refuse_for_a_test(block: Block, before: at_press.Before) -> None:
    if before.test is not None:
        raise Conflict(f"{block.label} is for the test {PLANNED_TESTS[before.test]}, so it is not crushed.")
    if before.used_up is not None:
        raise Conflict(f"{block.label} was used up: it was {USED_UP[before.used_up]}.")


def _refuse_twice(caller: Caller, block: Block, before: at_press.Before) -> None:
    crushing, by = before.crushing, before.crushed_by
    if crushing is None:
        return
    what = _what(crushing)
    raise Conflict(
        f"{block.label} was crushed already: {by} recorded “{what}” on {caller.clock.said(crushing.crushed_at)}."
    )


def _refuse_closed(press_session: PressSession | None, at: datetime) -> None:
    if press_session is not None and press_session.closed_at is not None and at > press_session.closed_at:
        raise Conflict("Someone ended this crushing session. Start again: read the gauge unloaded.")


def _what(crushing: Crushing) -> str:
    typed = crushing.as_read.get("gauge_mpa")
    if typed is None:
        return crushing.outcome if crushing.spoiled_because is None else f"spoiled, {crushing.spoiled_because}"
    return f"{'held to' if crushing.outcome == 'held' else 'broke at'} {typed['text']} {typed['unit']} on the gauge"


def _told(block: Block, crushing: Crushing) -> dict[str, Any]:
    return {"block": block.label, "what": _what(crushing)}


def _at_gauge(session: Session, given: Given) -> at_press.AtGauge | None:
    if given.press_session_id is None:
        return None
    found = at_press.at_gauge(session, given.press_session_id)
    if found is None:
        raise Invalid("This crushing session was not found.", {"press_session_id": "Read the gauge unloaded first."})
    return found


def _standing(session: Session, crushing_id: UUID, because: str) -> tuple[Crushing, Block]:
    old = session.exec(select(Crushing).where(Crushing.id == crushing_id)).one_or_none()
    if old is None:
        raise NotFound("There is no such reading.")
    block = block_queries.locked_block(session, old.block_id)
    if not because.strip():
        raise Invalid("Give a reason.", {"because": "Give a reason."})
    return old, block


class Stop(NamedTuple):
    """A gauge and where it is to stop in a press session of crushing."""

    gauge: Gauge
    mpa: float


def _stop(
    session: Session, caller: Caller, given: Given, gauge: Gauge | None, press_session: PressSession | None
) -> Stop | None:
    """Return where a gauge is to stop on the day of a crushing, None where no gauge is read."""
    if gauge is None:
        return None
    press, clock = session.get_one(Press, gauge.press_id), caller.clock
    day = clock.day(given.crushed_at or clock.now)
    line = line_on(calibrations_of(session, [gauge.id])[gauge.id], press, on=day)
    return Stop(gauge, line.stop_mpa(press, gauge, press_session))


def _checked(given: Given, block: Block, stop: Stop | None) -> Given:
    """Return what is kept of what was typed, refused with one sentence a field where it cannot be meant."""
    faults = {name: "Choose one from the list." for name, words in OFFERED.items() if _unknown(given, name, words)}
    faults |= {name: "This must be above 0." for name in ABOVE_ZERO if (q := getattr(given, name)) and q.value <= 0}
    faults |= _load_faults(given, stop) if given.outcome in LOADED else {}
    if given.outcome == "held" and not given.held_because:
        faults["held_because"] = "Say why it was stopped."
    if given.outcome == "spoiled" and not (given.spoiled_because or "").strip():
        faults["spoiled_because"] = "Say what spoiled it."
    if given.outcome == "fell apart" and given.state != "soaked":
        faults["state"] = "Only a block that was in the water falls apart in it."
    if faults:
        raise Invalid(next(iter(faults.values())) if len(faults) == 1 else "Check the marked fields.", faults)
    return _kept(given, block)


def _unknown(given: Given, name: str, words: tuple[str, ...]) -> bool:
    value = getattr(given, name)
    return value is not None and value not in words


def _load_faults(given: Given, stop: Stop | None) -> dict[str, str]:
    if stop is None:
        return {"press_session_id": "Read the gauge unloaded first."}
    if given.gauge_mpa is None:
        return {"gauge_mpa": "Enter the gauge reading."}
    if above(given.gauge_mpa.value, stop.gauge.full_scale_mpa):
        return {"gauge_mpa": "The dial does not go that high. Check the number and its unit."}
    if given.outcome == "held" and given.gauge_mpa.value <= 0:
        return {"gauge_mpa": "Enter the highest gauge reading of the block that did not break."}
    return limit_faults(given.gauge_mpa, stop.mpa, field="gauge_mpa", above_limit=given.above_limit)


def _kept(given: Given, block: Block) -> Given:
    """Return the reading without what does not belong to its outcome; what the gauge showed is kept in words."""
    loaded, soaked = given.outcome in LOADED, given.state == "soaked"
    remark = given.remark
    if not loaded and given.gauge_mpa is not None:
        shown = f"The gauge had shown {as_shown(given.gauge_mpa.as_read())}; not a reading."
        remark = f"{remark}\n{shown}" if remark else shown
    return with_other(
        given,
        gauge_mpa=given.gauge_mpa if loaded else None,
        peak_read=given.peak_read if loaded else None,
        held_because=given.held_because if given.outcome == "held" else None,
        spoiled_because=(given.spoiled_because or "").strip() if given.outcome == "spoiled" else None,
        failure=given.failure if given.outcome == "broke" else None,
        length_mm=given.length_mm or _own(block, "length_mm"),
        width_mm=given.width_mm or _own(block, "width_mm"),
        water_hours=given.water_hours if soaked else None,
        out_of_water_min=given.out_of_water_min if soaked else None,
        loading_s=given.loading_s if loaded else None,
        remark=remark,
    )


def _own(block: Block, side: str) -> Typed:
    value: float = getattr(block, side)
    typed = block.as_read.get(side, {"text": repr(value), "unit": "mm"})
    return Typed(value, typed["text"], typed["unit"])


def _crushed_at(caller: Caller, given: Given, block: Block) -> datetime:
    at = caller.clock.past(given.crushed_at, field="crushed_at")
    if at <= block.pressed_at:
        sentence = f"It was pressed on {caller.clock.said(block.pressed_at)}; it was crushed after that."
        raise Invalid("This time is too early.", {"crushed_at": sentence})
    return at


def _row(
    caller: Caller,
    block: Block,
    given: Given,
    *,
    gauge: Gauge | None,
    press_session: PressSession | None,
    crushed_at: datetime,
    crushed_by: UUID,
) -> Crushing:
    typed: dict[str, Typed | None] = {name: getattr(given, name) for name in QUANTITIES}
    columns: dict[str, Any] = {name: one.value if one else None for name, one in typed.items()}
    loaded = given.outcome in LOADED
    return Crushing(
        block_id=block.id,
        gauge_id=gauge.id if gauge and loaded else None,
        press_session_id=press_session.id if press_session and loaded else None,
        outcome=given.outcome,
        state=given.state,
        peak_read=given.peak_read,
        held_because=given.held_because,
        spoiled_because=given.spoiled_because,
        failure=given.failure,
        orientation=given.orientation,
        faces=given.faces,
        remark=given.remark,
        crushed_at=crushed_at,
        typed_at=caller.stores.clock(),
        crushed_by=crushed_by,
        device_id=caller.device_id,
        as_read=as_read(typed),
        **columns,
    )


def _out_of_the_water(session: Session, caller: Caller, crushing: Crushing) -> None:
    """End the stay in the water of a block that went from there to the press."""
    stays = soaks_of(session, crushing.block_id)
    running = next((one for one in stays if one.ended_at is None), None)
    if running is not None:
        _check_out(caller, running, crushing)
        running.ended_at, running.ended_by = out_at(crushing), caller.doer
        session.add(running)
    _refuse_other_hours(crushing, stays)


def _out_at_another_time(session: Session, caller: Caller, old: Crushing, new: Crushing, because: str) -> None:
    """Move the end of the stay in the water with the reading that ended it."""
    stays = soaks_of(session, new.block_id)
    stay = ended_by(old, stays)
    if stay is not None and out_at(old) != out_at(new):
        _check_out(caller, stay, new)
        _correct_stay(session, caller, stay, {"ended_at": out_at(new)}, because)
    _refuse_other_hours(new, stays)


def _check_out(caller: Caller, stay: Soak, crushing: Crushing) -> None:
    if stay.started_at >= crushing.crushed_at:
        sentence = f"It went into the water on {caller.clock.said(stay.started_at)}; it was crushed after that."
        raise Invalid("This time is too early.", {"crushed_at": sentence})
    if out_at(crushing) <= stay.started_at:
        raise Invalid(
            "That is longer than since it went in.", {"out_of_water_min": "Fewer minutes than since it went in."}
        )


def _correct_stay(session: Session, caller: Caller, stay: Soak, words: Mapping[str, Any], because: str) -> None:
    corrected(session, stay, typed={}, words=words, at=caller.stores.clock(), by=caller.doer, because=because)


def _refuse_other_hours(crushing: Crushing, stays: Sequence[Soak]) -> None:
    """Refuse hours in the water that the stays contradict: one of the two is wrong, and only one is judged."""
    if crushing.water_hours is None:
        return
    measured = in_water(crushing, stays).hours
    if measured is not None and abs(measured - crushing.water_hours) > HOURS_APART:
        sentence = f"It was in the water for {measured:.1f} h by the times written down. Correct those, or empty this."
        raise Invalid("The time under water is another.", {"water_hours": sentence})
