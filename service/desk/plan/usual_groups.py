"""The groups of blocks that the form of a recipe proposes; common practice, no published source."""

from dataclasses import dataclass

from service.trade.block.age_window import USUAL_TOLERANCE_HOURS


@dataclass(frozen=True)
class UsualGroup:
    """Blocks of one recipe that are crushed alike, as they are planned where nothing else is asked."""

    condition: str
    blocks: int
    age_days: float = 7.0
    tolerance_hours: float = USUAL_TOLERANCE_HOURS
    soak_hours: float | None = None
    soak_hours_max: float | None = None


USUAL_GROUPS = (UsualGroup("as cured", 5), UsualGroup("soaked", 5, soak_hours=4.0, soak_hours_max=24.0))
