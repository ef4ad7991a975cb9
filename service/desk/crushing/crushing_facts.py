"""What the page of a block and the programs are told of a crushing."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from service.phrase import Phrase


@dataclass(frozen=True)
class HowCrushed:
    """What was typed of a crushing, word for word where it was a quantity."""

    outcome: str
    state: str
    gauge: str
    peak_read: str | None
    held_because: str | None
    spoiled_because: str | None
    failure: str | None
    orientation: str
    faces: str
    remark: str | None
    as_read: dict[str, dict[str, str]]


@dataclass(frozen=True)
class CrushingFacts:
    """One crushing, standing or corrected: what was typed, what it comes to, and what is to be said against it."""

    id: UUID
    how: HowCrushed
    gauge_id: UUID | None
    gauge_name: str
    stress_mpa: float | None
    step_mpa: float | None
    force_kn: float | None
    length_mm: float | None
    width_mm: float | None
    mass_kg: float | None
    water_hours: float | None
    crushed_at: datetime
    crushed_by: str
    age_days: float
    left_out: tuple[Phrase, ...]
    flags: tuple[Phrase, ...]
    ended_at: datetime | None
    ended_by: str
    ended_because: str


@dataclass(frozen=True)
class Proposed:
    """What the form is filled in with: the plan, the water, and what was typed for the last block."""

    state: str
    orientation: str
    faces: str
    peak_read: str
    held_because: str
    sides: dict[str, dict[str, str]]
    units: dict[str, str]
