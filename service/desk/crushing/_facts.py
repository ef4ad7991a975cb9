"""What one crushing comes to, what is to be said against it, and what the next one will probably be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from service.desk.crushing.crushing_facts import CrushingFacts, HowCrushed, Proposed
from service.measured.crushed import gauge_typed, left_out, peak_of, zero_wandered
from service.measured.gauge import GaugeLine, above, line_on
from service.measured.water import in_water
from service.phrase import Phrase
from service.records.block_queries import CrushedOnce, WholeBlock
from service.records.blocks import Soak
from service.records.crushings import Crushing
from service.records.presses import Calibrated
from service.shop_clock import ShopClock
from service.trade.block.soak_and_crush_steps import Meant
from service.trade.press.gauge_to_stress import Peak
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
    pressed_at = meeting.whole.block.pressed_at
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
        water_hours=in_water(crushing, meeting.soaks).hours,
        crushed_at=crushing.crushed_at,
        crushed_by=crushed.by.name,
        age_days=(crushing.crushed_at - pressed_at) / timedelta(days=1),
        left_out=left_out(crushing, meeting.meant, pressed_at=pressed_at, stays=meeting.soaks, peak=peak),
        flags=_flags(crushed, known, peak, meeting.clock),
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


def _flags(crushed: CrushedOnce, known: GaugeLine | None, peak: Peak | None, clock: ShopClock) -> tuple[Phrase, ...]:
    if known is None or peak is None or crushed.press is None or crushed.gauge is None:
        return ()
    found = []
    if known.range_mpa is None:
        found.append(Phrase("No calibration was valid that day: force comes from the ram size alone."))
    elif peak.in_range is False:
        least_mpa, most_mpa = known.range_mpa
        found.append(
            Phrase(
                "The gauge was outside the calibration, which goes from {least_mpa} to {most_mpa}.",
                {"least_mpa": least_mpa, "most_mpa": most_mpa},
            )
        )
    if known.valid_until is not None and known.over_on(clock.day(crushed.crushing.crushed_at)):
        found.append(Phrase("The calibration had ended on {day}.", {"day": known.valid_until.isoformat()}))
    if crushed.press.working_limit_kn is not None and above(
        peak.gauge_mpa, known.stop_mpa(crushed.press, crushed.gauge, crushed.press_session)
    ):
        found.append(
            Phrase(
                "This is above the working limit of the press, {limit_kn}.",
                {"limit_kn": crushed.press.working_limit_kn},
            )
        )
    return (*found, *_wandered(crushed))


def _wandered(crushed: CrushedOnce) -> tuple[Phrase, ...]:
    press_session = crushed.press_session
    if press_session is None or press_session.zero_after_mpa is None or not zero_wandered(crushed.gauge, press_session):
        return ()
    said = {"before_mpa": press_session.zero_before_mpa, "after_mpa": press_session.zero_after_mpa}
    return (Phrase("The unloaded gauge went from {before_mpa} to {after_mpa} in that session.", said),)


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
