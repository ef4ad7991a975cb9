"""What one crushing comes to, and what the next one will probably be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from service.desk.crushing._remarks import remarks_on
from service.desk.crushing.crushing_facts import CrushingFacts, HowCrushed, Proposed
from service.measured.crushed import gauge_typed, left_out, peak_of
from service.measured.gauge import line_on
from service.measured.water import in_water
from service.records.block_queries import CrushedOnce, WholeBlock
from service.records.blocks import Soak
from service.records.crushings import Crushing
from service.records.presses import Calibrated
from service.shop_clock import ShopClock
from service.trade.block.soak_and_crush_steps import Meant
from service.typed import unit_of


@dataclass(frozen=True)
class Meeting:
    """What a crushing of a block is read against."""

    whole: WholeBlock
    meant: Meant
    soaks: Sequence[Soak]
    calibrations: Mapping[UUID, list[Calibrated]]
    clock: ShopClock


def facts_of(crushed: CrushedOnce, meeting: Meeting) -> CrushingFacts:
    """Return what one crushing comes to, by the calibration that counted on its day."""
    crushing, gauge, press = crushed.crushing, crushed.gauge, crushed.press
    known = None
    if gauge is not None and press is not None:
        known = line_on(meeting.calibrations.get(gauge.id, []), press, on=meeting.clock.day(crushing.crushed_at))
    peak = peak_of(crushing, gauge, crushed.press_session, known)
    pressed_at, water = meeting.whole.block.pressed_at, in_water(crushing, meeting.soaks)
    return CrushingFacts(
        id=crushing.id,
        how=_how(crushing),
        gauge_id=crushing.gauge_id,
        gauge_name=f"{press.name}, {gauge.name}" if gauge and press else "",
        stress_mpa=peak.stress_mpa if peak else None,
        step_mpa=peak.graduation_mpa if peak else None,
        force_kn=peak.force_kn if peak else None,
        length_mm=crushing.length_mm,
        width_mm=crushing.width_mm,
        mass_kg=crushing.mass_kg,
        water_hours=water.hours,
        crushed_at=crushing.crushed_at,
        crushed_by=crushed.by.name,
        age_days=(crushing.crushed_at - pressed_at) / timedelta(days=1),
        left_out=left_out(crushing, meeting.meant, pressed_at=pressed_at, water=water, peak=peak),
        flags=remarks_on(crushed, known, peak, meeting.clock),
        ended_at=crushing.ended_at,
        ended_by=crushed.ended_by.name if crushed.ended_by else "",
        ended_because=crushing.ended_because or "",
    )


def _how(crushing: Crushing) -> HowCrushed:
    return HowCrushed(
        outcome=crushing.outcome,
        state=crushing.state,
        gauge=gauge_typed(crushing),
        peak_read=crushing.peak_read,
        held_because=crushing.held_because,
        spoiled_because=crushing.spoiled_because,
        failure=crushing.failure,
        orientation=crushing.orientation,
        faces=crushing.faces,
        remark=crushing.remark,
        as_read=crushing.as_read,
    )


def proposed(whole: WholeBlock, soaks: Sequence[Soak], lately: Sequence[Crushing]) -> Proposed:
    """Return what the form is filled in with, so that nothing is asked twice; the newest reading comes first."""
    last = lately[0] if lately else None
    orientation = last.orientation if last else "flat"
    soak = soaks[-1] if soaks else None
    return Proposed(
        state=_state(whole, soak),
        orientation=orientation,
        faces=last.faces if last else "bare",
        peak_read=(last.peak_read if last else None) or "",
        held_because=(last.held_because if last else None) or "",
        sides=_sides(whole, orientation),
        units={
            name: unit
            for name in (last.as_read if last else {})
            if (unit := unit_of([one.as_read.get(name, {}) for one in lately]))
        },
    )


def _state(whole: WholeBlock, soak: Soak | None) -> str:
    """Return the state to propose; a block that was to be soaked and never was has none."""
    if soak is not None:
        return "soaked"
    return "" if whole.group.condition == "soaked" else whole.group.condition


def _sides(whole: WholeBlock, orientation: str) -> dict[str, dict[str, str]]:
    """Return the sides of the loaded face and the height above it, as typed where the block was measured."""
    block = whole.block
    length, width, height = _typed(block.length_mm), _typed(block.width_mm), _typed(whole.height_mm)
    length, width = block.as_read.get("length_mm", length), block.as_read.get("width_mm", width)
    face = {"flat": (length, width, height), "on edge": (length, height, width), "on end": (width, height, length)}
    return dict(zip(("length_mm", "width_mm", "height_mm"), face[orientation], strict=True))


def _typed(mm: float | None) -> dict[str, str]:
    return {"text": "" if mm is None else f"{mm:.6g}", "unit": "mm"}
