"""When a block is due and when its soak may begin."""

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from service.errors import Invalid
from service.trade.block.age_window import age_window

PRESSED = datetime(2027, 3, 1, 15, 20, tzinfo=timezone(timedelta(hours=-7)))


def test_seven_days_and_four_hours_under_water_by_common_practice_no_published_source() -> None:
    # Hand: pressed on the 1st at 15:20, due on the 8th at 15:20, 6 h either way 09:20 to 21:20; a soak of 4 to 24 h
    # begins from the 7th at 09:20 (so that 24 h end with the window's start) until the 8th at 17:20.
    window = age_window(pressed_at=PRESSED, age_days=7, tolerance_hours=6, soak_hours=4, soak_hours_max=24)
    shown = {name: value.strftime("%d %H:%M") for name, value in vars(window).items() if isinstance(value, datetime)}
    assert shown == {
        "due_at": "08 15:20",
        "window_from": "08 09:20",
        "window_to": "08 21:20",
        "soak_from": "07 09:20",
        "soak_until": "08 17:20",
    }
    assert window.due_at.utcoffset() == timedelta(hours=-7)


def test_without_a_longest_soak_the_shortest_is_both() -> None:
    window = age_window(pressed_at=PRESSED, age_days=28, tolerance_hours=12, soak_hours=24)
    assert window.soak_from == window.window_from - timedelta(hours=24)
    assert window.soak_until == window.window_to - timedelta(hours=24)


def test_a_dry_block_has_no_soak() -> None:
    window = age_window(pressed_at=PRESSED, age_days=0.5, tolerance_hours=0)
    assert (window.soak_from, window.soak_until) == (None, None)
    assert window.due_at - PRESSED == timedelta(hours=12)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"pressed_at": datetime(2027, 3, 1, 15, 20)}, "pressed_at"),  # noqa: DTZ001 - the offset is missing on purpose
        ({"age_days": 0}, "age_days"),
        ({"age_days": 1e12}, "age_days"),
        ({"age_days": 7, "pressed_at": datetime(9999, 12, 30, tzinfo=UTC)}, "age_days"),
        ({"tolerance_hours": -1}, "tolerance_hours"),
        ({"soak_hours": -4}, "soak_hours"),
        ({"soak_hours_max": 4}, "soak_hours"),
        ({"soak_hours": 5, "soak_hours_max": 4}, "soak_hours_max"),
        ({"soak_hours": 5, "soak_hours_max": float("inf")}, "soak_hours_max"),
    ],
)
def test_an_age_that_cannot_be_is_refused_by_its_field(given: dict[str, Any], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        age_window(**({"pressed_at": PRESSED, "age_days": 7, "tolerance_hours": 6} | given))
    assert set(refused.value.fields) == {field}
