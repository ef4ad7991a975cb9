"""What one crushing comes to: its force and stress, and what keeps it from counting."""

from dataclasses import replace
from datetime import datetime
from functools import lru_cache
from typing import Protocol

from service.errors import Invalid
from service.measured.gauge import GaugeLine
from service.measured.water import InWater
from service.phrase import Phrase
from service.records.crushings import LOADED, Crushing
from service.records.presses import Gauge, PressSession
from service.trade.block.durability_tests import PLANNED_TESTS
from service.trade.block.soak_and_crush_steps import Meant, Step, left_out_because, next_step
from service.trade.block.test_conditions import Condition
from service.trade.press.calibration import Calibration, Geometry
from service.trade.press.gauge_to_stress import Peak, peak_stress, zero_moved
from service.typed import as_shown

NO_FORCE = Phrase("the gauge reading gives no force above zero")


class Planned(Protocol):
    """What a group of blocks was planned for."""

    @property
    def condition(self) -> str: ...
    @property
    def age_days(self) -> float: ...
    @property
    def tolerance_hours(self) -> float: ...
    @property
    def soak_hours(self) -> float | None: ...
    @property
    def soak_hours_max(self) -> float | None: ...
    @property
    def test(self) -> str | None: ...


class Waits(Planned, Protocol):
    """A block that waits, what it was planned for, and its last stay in the water."""

    @property
    def pressed_at(self) -> datetime: ...
    @property
    def soak_started_at(self) -> datetime | None: ...
    @property
    def soak_ended_at(self) -> datetime | None: ...


def meant_of(group: Planned) -> Meant:
    """Return how the blocks of a group are meant to stand when they are crushed."""
    return _meant(group.condition, group.age_days, group.tolerance_hours, group.soak_hours, group.soak_hours_max)


# Of a thousand blocks that wait, hundreds are meant for the same.
_meant = lru_cache(maxsize=1000)(Meant)


def condition_of(group: Planned) -> Condition:
    """Return the condition that the blocks of a group are meant for."""
    return Condition(group.condition, group.soak_hours, group.age_days)  # type: ignore[arg-type]


def name_of(group: Planned) -> str:
    """Return what the blocks of a group are for, in the words of a plan: a condition, or another test and its age."""
    if group.test is None:
        return condition_of(group).name
    return f"{PLANNED_TESTS[group.test]}, {group.age_days:g} {'day' if group.age_days == 1 else 'days'}"


def step_of(row: Waits) -> Step:
    """Return what is to be done next with a block that waits; one that was set aside goes to its test."""
    step = next_step(
        meant_of(row), pressed_at=row.pressed_at, soak_started_at=row.soak_started_at, soak_ended_at=row.soak_ended_at
    )
    return step if row.test is None else replace(step, do="test")


def peak_of(
    crushing: Crushing, gauge: Gauge | None, press_session: PressSession | None, line: GaugeLine | None
) -> Peak | None:
    """Return force and stress at the peak, or None where the gauge stood at its zero or none was read."""
    if gauge is None or line is None or crushing.gauge_mpa is None:
        return None
    if crushing.length_mm is None or crushing.width_mm is None:
        return None
    zero_mpa = press_session.zero_before_mpa if press_session else line.zero_mpa
    face = crushing.length_mm, crushing.width_mm
    return _peak(line.line, crushing.gauge_mpa, face, gauge.graduation_mpa, zero_mpa, line.zero_mpa)


@lru_cache(maxsize=4096)
def _peak(
    line: Geometry | Calibration,
    gauge_mpa: float,
    face_mm: tuple[float, float],
    graduation_mpa: float,
    zero_mpa: float,
    calibrated_zero_mpa: float,
) -> Peak | None:
    # A gauge has some dozens of marks and a mould one face, so that most readings were met before.
    try:
        return peak_stress(
            line,
            gauge_mpa=gauge_mpa,
            face_length_mm=face_mm[0],
            face_width_mm=face_mm[1],
            graduation_mpa=graduation_mpa,
            zero_mpa=zero_mpa,
            calibrated_zero_mpa=calibrated_zero_mpa,
        )
    except Invalid:
        return None


def zero_wandered(gauge: Gauge | None, press_session: PressSession | None) -> bool:
    """Return whether the gauge rested more than a mark elsewhere when it was closed than when it was opened."""
    if press_session is None or gauge is None or press_session.zero_after_mpa is None:
        return False
    return zero_moved(
        before_mpa=press_session.zero_before_mpa,
        after_mpa=press_session.zero_after_mpa,
        graduation_mpa=gauge.graduation_mpa,
    )


def left_out(
    crushing: Crushing, meant: Meant, *, pressed_at: datetime, water: InWater, peak: Peak | None
) -> tuple[Phrase, ...]:
    """Return why a loaded block does not count, nothing where it does; one that fell apart counts as it is."""
    if crushing.outcome not in LOADED:
        return ()
    reasons = left_out_because(
        meant,
        pressed_at=pressed_at,
        crushed_at=crushing.crushed_at,
        state=crushing.state,
        water_hours=water.hours,
        out_hours=water.out_hours,
    )
    return reasons if peak else (*reasons, NO_FORCE)


def gauge_typed(crushing: Crushing) -> str:
    """Return what the gauge showed, word for word as it was typed; nothing where none was read."""
    typed = crushing.as_read.get("gauge_mpa")
    return as_shown(typed) if typed else ""
