"""From what was typed of a test to the row that is kept, refused with one sentence a field where it cannot be meant."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.block_tests.given import OFFERED, TEST_OF, Bending, Eroding, Given, Weighing, Wetting
from service.desk.doorway import Caller
from service.errors import Invalid
from service.measured.gauge import above, limit_faults, line_on
from service.records.as_read import as_read
from service.records.blocks import Block
from service.records.durability_tests import Absorption, Erosion, Flexure, Row, WetDryCycle
from service.records.presses import Gauge, Press, PressSession, calibrations_of
from service.typed import Typed

ABOVE_ZERO = "This must be above 0."


def refuse(faults: Mapping[str, str]) -> None:
    """Raise one refusal that names every field at fault, if there is one."""
    if faults:
        first = next(iter(faults.values()))
        raise Invalid(first if len(faults) == 1 else "Check the marked fields.", faults)


def moment(caller: Caller, block: Block, given: datetime | None, *, field: str) -> datetime:
    """Return when something happened, refused when it is still to come or came before the block was pressed."""
    at = caller.clock.past(given, field=field)
    if at <= block.pressed_at:
        sentence = f"It was pressed on {caller.clock.said(block.pressed_at)}; this was after that."
        raise Invalid("This time is too early.", {field: sentence})
    return at


def row_of(session: Session, caller: Caller, block: Block, given: Given, *, by: UUID) -> Row:
    """Return what is kept of a test as it was typed."""
    faults = _not_offered(given)
    if isinstance(given, Bending):
        return _bent(session, caller, block, given, faults, by=by)
    if isinstance(given, Wetting):
        return _wetted(caller, block, given, faults, by=by)
    if isinstance(given, Eroding):
        return _eroded(caller, block, given, faults, by=by)
    return _weighed(caller, block, given, faults, by=by)


def _not_offered(given: Given) -> dict[str, str]:
    offered = OFFERED[TEST_OF[type(given)]]
    chosen = {name: getattr(given, name) for name in offered}
    return {name: "Choose one from the list." for name, word in chosen.items() if word not in (*offered[name], None)}


def _positive(typed: Mapping[str, Typed | None]) -> dict[str, str]:
    return {name: ABOVE_ZERO for name, one in typed.items() if one is not None and one.value <= 0}


def _columns(typed: Mapping[str, Typed | None]) -> dict[str, Any]:
    return {name: one.value if one else None for name, one in typed.items()} | {"as_read": as_read(typed)}


def _bent(
    session: Session, caller: Caller, block: Block, given: Bending, faults: dict[str, str], *, by: UUID
) -> Flexure:
    sides = {"span_mm": given.span_mm, "width_mm": given.width_mm, "thickness_mm": given.thickness_mm}
    loads = {"gauge_mpa": given.gauge_mpa, "force_kn": given.force_kn}
    faults |= _positive({**sides, **loads})
    faults |= _load_faults(given)
    # A block can reach over two supports only where they stand closer than it is long.
    if given.span_mm.value >= max(block.length_mm, block.width_mm):
        faults["span_mm"] = "The supports cannot be further apart than the block is long."
    refuse(faults)
    at = moment(caller, block, given.done_at, field="done_at")
    gauge = _gauge(session, caller, given, at) if given.gauge_mpa else None
    return Flexure(
        block_id=block.id,
        outcome=given.outcome,
        state=given.state,
        laid=given.laid,
        gauge_id=gauge.id if gauge else None,
        press_session_id=given.press_session_id if gauge else None,
        remark=given.remark,
        done_at=at,
        done_by=by,
        **_columns({**sides, **loads}),
    )


def _load_faults(given: Bending) -> dict[str, str]:
    if given.gauge_mpa is None and given.force_kn is None:
        return {"force_kn": "Write the force, or what the gauge showed."}
    if given.gauge_mpa is not None and given.force_kn is not None:
        return {"force_kn": "Write the force or what the gauge showed, not both."}
    if given.gauge_mpa is not None and given.press_session_id is None:
        return {"gauge_mpa": "Read the gauge unloaded first, under Crushing."}
    return {}


def _gauge(session: Session, caller: Caller, given: Bending, at: datetime) -> Gauge:
    press_session = session.get(PressSession, given.press_session_id)
    if press_session is None or (press_session.closed_at is not None and at > press_session.closed_at):
        raise Invalid(
            "The zero of this gauge was not read.", {"gauge_mpa": "Read the gauge unloaded first, under Crushing."}
        )
    gauge = session.get_one(Gauge, press_session.gauge_id)
    if given.gauge_mpa is not None and above(given.gauge_mpa.value, gauge.full_scale_mpa):
        sentence = "The dial does not go that high. Check the number and its unit."
        raise Invalid(sentence, {"gauge_mpa": sentence})
    press = session.get_one(Press, gauge.press_id)
    line = line_on(calibrations_of(session, [gauge.id])[gauge.id], press, on=caller.clock.day(at))
    stop = line.stop_mpa(press, gauge, press_session)
    refuse(limit_faults(given.gauge_mpa, stop, field="gauge_mpa", above_limit=given.above_limit))
    return gauge


def _wetted(caller: Caller, block: Block, given: Wetting, faults: dict[str, str], *, by: UUID) -> Absorption:
    masses = {"before_kg": given.before_kg, "after_kg": given.after_kg if given.outcome == "weighed" else None}
    faults |= _positive(masses) | _weighing_faults(given)
    refuse(faults)
    wetted = moment(caller, block, given.wetted_at, field="wetted_at")
    weighed = None
    if given.outcome is not None:
        weighed = moment(caller, block, given.weighed_at, field="weighed_at")
        if weighed <= wetted:
            sentence = f"It went to the water on {caller.clock.said(wetted)}; it was weighed again after that."
            raise Invalid("This time is too early.", {"weighed_at": sentence})
    return Absorption(
        block_id=block.id,
        manner=given.manner,
        state_before=given.state_before,
        wetted_at=wetted,
        outcome=given.outcome,
        weighed_at=weighed,
        remark=given.remark,
        done_by=by,
        **_columns(masses),
    )


def _weighing_faults(given: Wetting) -> dict[str, str]:
    if given.outcome != "weighed":
        return {}
    if given.after_kg is None:
        return {"after_kg": "Write what it weighs now."}
    if given.after_kg.value < given.before_kg.value:
        return {"after_kg": "It weighs less than before, so material came off. Choose “fell apart”, or weigh again."}
    return {}


def _eroded(caller: Caller, block: Block, given: Eroding, faults: dict[str, str], *, by: UUID) -> Erosion:
    measured = given.outcome == "measured"
    typed = {
        "water_min": given.water_min,
        "depth_mm": given.depth_mm if measured else None,
        "pressure_mpa": given.pressure_mpa if given.manner == "spray" else None,
    }
    faults |= _positive({"water_min": given.water_min, "pressure_mpa": typed["pressure_mpa"]})
    if measured and given.depth_mm is None:
        faults["depth_mm"] = "Write how deep it went; 0 if you see nothing."
    refuse(faults)
    return Erosion(
        block_id=block.id,
        manner=given.manner,
        outcome=given.outcome,
        remark=given.remark,
        done_at=moment(caller, block, given.done_at, field="done_at"),
        done_by=by,
        **_columns(typed),
    )


def _weighed(caller: Caller, block: Block, given: Weighing, faults: dict[str, str], *, by: UUID) -> WetDryCycle:
    mass = given.mass_kg if given.outcome == "weighed" else None
    faults |= _positive({"mass_kg": mass})
    if given.outcome == "weighed" and mass is None:
        faults["mass_kg"] = "Write what it weighs oven-dry."
    if given.number == 0 and given.outcome == "fell apart":
        faults["outcome"] = "Weigh it before the first cycle. Do not start with a block in pieces."
    refuse(faults)
    return WetDryCycle(
        block_id=block.id,
        number=given.number,
        outcome=given.outcome,
        remark=given.remark,
        done_at=moment(caller, block, given.done_at, field="done_at"),
        done_by=by,
        **_columns({"mass_kg": mass}),
    )
