"""What one crushing comes to, what is to be said against it, and what the next one will probably be."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from service.desk.crushing._scale import Scale, peak_of, scale_on
from service.desk.crushing.shape import CrushingFacts, HowCrushed, Proposed
from service.phrase import Phrase
from service.records.block_queries import CrushedOnce, WholeBlock
from service.records.blocks import Soak
from service.records.crushings import Crushing
from service.records.presses import Calibrated
from service.trade.block.curing_steps import Meant, left_out_because
from service.trade.press.gauge_to_stress import Peak, zero_moved


@dataclass(frozen=True)
class Meeting:
    """What a crushing of a block is read against."""

    whole: WholeBlock
    meant: Meant
    soaks: Sequence[Soak]
    calibrations: Mapping[UUID, list[Calibrated]]
    zone: ZoneInfo


def facts_of(crushed: CrushedOnce, meeting: Meeting) -> CrushingFacts:
    """Return what one crushing comes to, by the calibration that counted on its day."""
    crushing, gauge, press = crushed.crushing, crushed.gauge, crushed.press
    scale = None
    if gauge is not None and press is not None:
        day = crushing.crushed_at.astimezone(meeting.zone).date()
        scale = scale_on(meeting.calibrations.get(gauge.id, []), press, on=day)
    peak = peak_of(crushing, gauge, crushed.spell, scale)
    pressed_at = meeting.whole.block.pressed_at
    return CrushingFacts(
        id=crushing.id,
        how=_how(crushing),
        gauge_id=crushing.gauge_id,
        gauge_name=f"{press.name}, {gauge.name}" if gauge and press else "",
        stress_mpa=peak.stress_mpa if peak else None,
        force_kn=peak.force_kn if peak else None,
        length_mm=crushing.length_mm,
        width_mm=crushing.width_mm,
        mass_kg=crushing.mass_kg,
        water_hours=_water_hours(crushing, meeting.soaks),
        crushed_at=crushing.crushed_at,
        crushed_by=crushed.by.name,
        age_days=(crushing.crushed_at - pressed_at) / timedelta(days=1),
        left_out=_left_out(crushing, peak, meeting),
        flags=_flags(crushed, scale, peak, meeting.zone),
        ended_at=crushing.ended_at,
        ended_by=crushed.ended_by.name if crushed.ended_by else "",
        ended_because=crushing.ended_because or "",
    )


def _how(crushing: Crushing) -> HowCrushed:
    typed = crushing.as_read.get("gauge_mpa")
    return HowCrushed(
        outcome=crushing.outcome,
        state=crushing.state,
        gauge=f"{typed['text']} {typed['unit']}" if typed else "",
        peak_read=crushing.peak_read,
        held_because=crushing.held_because,
        spoiled_because=crushing.spoiled_because,
        failure=crushing.failure,
        orientation=crushing.orientation,
        faces=crushing.faces,
        remark=crushing.remark,
        as_read=crushing.as_read,
    )


def _water_hours(crushing: Crushing, soaks: Sequence[Soak]) -> float | None:
    if crushing.water_hours is not None or not soaks:
        return crushing.water_hours
    return (crushing.crushed_at - soaks[0].started_at) / timedelta(hours=1)


def _left_out(crushing: Crushing, peak: Peak | None, meeting: Meeting) -> tuple[Phrase, ...]:
    if crushing.outcome not in ("broke", "held"):
        return ()
    reasons = left_out_because(
        meeting.meant,
        pressed_at=meeting.whole.block.pressed_at,
        crushed_at=crushing.crushed_at,
        state=crushing.state,
        water_hours=_water_hours(crushing, meeting.soaks),
    )
    return reasons if peak else (*reasons, Phrase("the gauge reading gives no force above zero"))


def _flags(crushed: CrushedOnce, scale: Scale | None, peak: Peak | None, zone: ZoneInfo) -> tuple[Phrase, ...]:
    if scale is None or peak is None or crushed.press is None:
        return ()
    found = []
    if not peak.calibrated:
        found.append(Phrase("No calibration counted on that day: the force comes from the size of the ram alone."))
    if peak.in_range is False and scale.least_mpa is not None and scale.most_mpa is not None:
        found.append(
            Phrase(
                "The gauge stood beyond the calibration, which goes from {least_mpa} to {most_mpa}.",
                {"least_mpa": scale.least_mpa, "most_mpa": scale.most_mpa},
            )
        )
    if scale.valid_until is not None and crushed.crushing.crushed_at.astimezone(zone).date() > scale.valid_until:
        found.append(Phrase("The calibration had ended on {day}.", {"day": scale.valid_until.isoformat()}))
    if crushed.press.working_limit_kn is not None and peak.force_kn > crushed.press.working_limit_kn:
        found.append(
            Phrase(
                "This is above the working limit of the press, {limit_kn}.",
                {"limit_kn": crushed.press.working_limit_kn},
            )
        )
    return (*found, *_wandered(crushed))


def _wandered(crushed: CrushedOnce) -> tuple[Phrase, ...]:
    spell, gauge = crushed.spell, crushed.gauge
    if spell is None or gauge is None or spell.zero_after_mpa is None:
        return ()
    before, after = spell.zero_before_mpa, spell.zero_after_mpa
    if not zero_moved(before_mpa=before, after_mpa=after, graduation_mpa=gauge.graduation_mpa):
        return ()
    said = {"before_mpa": spell.zero_before_mpa, "after_mpa": spell.zero_after_mpa}
    return (Phrase("The zero of the gauge wandered from {before_mpa} to {after_mpa} in that spell.", said),)


def proposed(whole: WholeBlock, soaks: Sequence[Soak], last: Crushing | None, *, now: datetime) -> Proposed:
    """Return what the form is filled in with, so that nothing is asked twice."""
    orientation = last.orientation if last else "flat"
    soak = soaks[-1] if soaks else None
    return Proposed(
        state=_state(whole, soak),
        water_hours=((soak.ended_at or now) - soak.started_at) / timedelta(hours=1) if soak else None,
        out_of_water_min=(now - soak.ended_at) / timedelta(minutes=1) if soak and soak.ended_at else None,
        orientation=orientation,
        faces=last.faces if last else "bare",
        peak_read=(last.peak_read if last else None) or "",
        held_because=(last.held_because if last else None) or "",
        sides=_sides(whole, orientation),
        units={name: typed["unit"] for name, typed in (last.as_read if last else {}).items()},
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
