"""`age`: when a block is due at the press and when its soak may begin."""

from datetime import datetime
from typing import Any

from service.trade.block.age_window import age_window
from service.trade.validation import refuse
from service.work.calculation import Calculation, Given, Name, NotNegative, Positive


class AgeGiven(Given):
    """When it was pressed, and what age and soak it is to have."""

    pressed_at: Name
    age_days: Positive
    tolerance_hours: NotNegative
    soak_hours: Positive | None = None
    soak_hours_max: Positive | None = None


def calculate(given: AgeGiven) -> dict[str, Any]:
    """Return the due moment, the window and the soak, in the offset that was given."""
    window = age_window(
        pressed_at=_moment(given.pressed_at),
        age_days=given.age_days,
        tolerance_hours=given.tolerance_hours,
        soak_hours=given.soak_hours,
        soak_hours_max=given.soak_hours_max,
    )
    return {
        "due_at": window.due_at.isoformat(),
        "window": [window.window_from.isoformat(), window.window_to.isoformat()],
        "soak_from": None if window.soak_from is None else window.soak_from.isoformat(),
        "soak_until": None if window.soak_until is None else window.soak_until.isoformat(),
    }


def _moment(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        refuse({"pressed_at": "This must be a date, time and offset, such as 2027-03-01T15:20:00-07:00."})


CALCULATION = Calculation(
    model=AgeGiven,
    run=calculate,
    formula=(
        "due = pressed + age in days of 24 hours; window = due +- tolerance; "
        "soak from window start - longest soak until window end - shortest soak"
    ),
    source_keys=("age",),
)
