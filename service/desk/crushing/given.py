"""What is typed at the press for one block, for the first time or as a correction."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from service.records.crushings import FACES, HELD_BECAUSE, ORIENTATIONS, OUTCOMES, PEAK_READ
from service.records.recipes import CONDITIONS
from service.typed import Typed

# What a page and a program may choose from.
OFFERED = {
    "outcome": OUTCOMES,
    "state": CONDITIONS,
    "orientation": ORIENTATIONS,
    "faces": FACES,
    "peak_read": PEAK_READ,
    "held_because": HELD_BECAUSE,
}


@dataclass(frozen=True)
class Given:
    """One crushing as typed. Sides left out are the block's own; a time left out is this moment."""

    outcome: str
    state: str
    press_session_id: UUID | None = None
    gauge_mpa: Typed | None = None
    peak_read: str | None = None
    held_because: str | None = None
    spoiled_because: str | None = None
    failure: str | None = None
    orientation: str = "flat"
    faces: str = "bare"
    length_mm: Typed | None = None
    width_mm: Typed | None = None
    height_mm: Typed | None = None
    mass_kg: Typed | None = None
    water_hours: Typed | None = None
    out_of_water_min: Typed | None = None
    # From the first load to the highest reading.
    loading_s: Typed | None = None
    remark: str | None = None
    crushed_at: datetime | None = None
    # True if the gauge did show a value above the working limit of the press.
    above_limit: bool = False
