"""What is typed of a test of a block, for the first time or as a correction."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from service.records.durability_tests import BENT, DRIED, ERODED, ERODED_BY, LAID, WEIGHED, WETTED
from service.records.recipes import CONDITIONS
from service.typed import Typed

# What a page and a program may choose from, by test and field.
OFFERED: dict[str, dict[str, tuple[str, ...]]] = {
    "bending": {"outcome": BENT, "state": CONDITIONS, "laid": LAID},
    "absorption": {"manner": WETTED, "state_before": DRIED, "outcome": WEIGHED},
    "erosion": {"manner": ERODED_BY, "outcome": ERODED},
    "cycles": {"outcome": WEIGHED},
}


@dataclass(frozen=True)
class Bending:
    """A block bent on two supports: either what the gauge of an open press session showed, or the force itself."""

    outcome: str
    state: str
    span_mm: Typed
    width_mm: Typed
    thickness_mm: Typed
    laid: str = "flat"
    press_session_id: UUID | None = None
    gauge_mpa: Typed | None = None
    force_kn: Typed | None = None
    remark: str | None = None
    done_at: datetime | None = None
    # True if the gauge did show a value above the working limit of the press.
    above_limit: bool = False


@dataclass(frozen=True)
class Wetting:
    """A block weighed and put into or on the water; with the second weighing where both are typed at once."""

    manner: str
    state_before: str
    before_kg: Typed
    wetted_at: datetime | None = None
    outcome: str | None = None
    after_kg: Typed | None = None
    weighed_at: datetime | None = None
    remark: str | None = None


@dataclass(frozen=True)
class Eroding:
    """A block on which water dripped or was sprayed."""

    manner: str
    outcome: str
    water_min: Typed
    depth_mm: Typed | None = None
    pressure_mpa: Typed | None = None
    remark: str | None = None
    done_at: datetime | None = None


@dataclass(frozen=True)
class Weighing:
    """The oven-dry mass of a block after so many cycles; number 0 before the first."""

    number: int
    outcome: str
    mass_kg: Typed | None = None
    remark: str | None = None
    done_at: datetime | None = None


Given = Bending | Wetting | Eroding | Weighing
TEST_OF: dict[type[Given], str] = {
    Bending: "bending",
    Wetting: "absorption",
    Eroding: "erosion",
    Weighing: "cycles",
}
