"""What is next for a block that waits, by hand: days of 24 hours from pressing, as work.md states for `age`."""

from datetime import UTC, datetime, timedelta

import pytest

from service.errors import Invalid
from service.trade.block.soak_and_crush_steps import Meant, Step, left_out_because, next_step

PRESSED = datetime(2027, 3, 1, 12, 0, tzinfo=UTC)
DRY = Meant("air-dry", age_days=7, tolerance_hours=6)
SOAKED = Meant("soaked", age_days=7, tolerance_hours=6, soak_hours=4, soak_hours_max=24)


def on(day: int, hour: int) -> datetime:
    return datetime(2027, 3, day, hour, tzinfo=UTC)


def test_a_dry_block_is_crushed_within_its_window() -> None:
    assert next_step(DRY, pressed_at=PRESSED) == Step("crush", on(8, 6), on(8, 18))


def test_a_soaked_block_goes_in_so_early_that_it_may_soak_longest_and_so_late_that_it_still_soaks_least() -> None:
    # The window is 8 March 06:00 to 18:00; less 24 h, and less 4 h.
    assert next_step(SOAKED, pressed_at=PRESSED) == Step("soak", on(7, 6), on(8, 14))


def test_a_block_in_the_water_comes_out_after_its_least_soak_and_not_before_its_window() -> None:
    late_in = next_step(SOAKED, pressed_at=PRESSED, soak_started_at=on(8, 10))
    assert late_in == Step("take out", on(8, 14), on(8, 18))
    # 4 h are over at 11:00 on 7 March, when its window has not opened; 24 h and the 12 h of the window end at 19:00.
    assert next_step(SOAKED, pressed_at=PRESSED, soak_started_at=on(7, 7)) == Step("take out", on(8, 6), on(8, 18))


def test_a_soak_begun_too_early_is_too_long_before_the_window_closes() -> None:
    step = next_step(SOAKED, pressed_at=PRESSED, soak_started_at=on(6, 20))
    assert step == Step("take out", on(8, 6), on(8, 8))


def test_a_block_out_of_the_water_is_crushed() -> None:
    step = next_step(SOAKED, pressed_at=PRESSED, soak_started_at=on(7, 9), soak_ended_at=on(8, 9))
    assert step == Step("crush", on(8, 6), on(8, 18))


@pytest.mark.parametrize(
    ("now", "when"),
    [(on(8, 5), "ahead"), (on(8, 6), "now"), (on(8, 18), "now"), (on(8, 18) + timedelta(seconds=1), "late")],
)
def test_the_ends_of_a_window_belong_to_it(now: datetime, when: str) -> None:
    assert next_step(DRY, pressed_at=PRESSED).when(now) == when


@pytest.mark.parametrize(
    ("meant", "state", "crushed_at", "water_hours", "reasons"),
    [
        (DRY, "air-dry", on(8, 6), None, 0),
        (DRY, "air-dry", on(8, 18), None, 0),
        (DRY, "air-dry", on(8, 19), None, 1),
        (DRY, "soaked", on(8, 12), 5.0, 1),
        (SOAKED, "soaked", on(8, 12), 3.8, 0),
        (SOAKED, "soaked", on(8, 12), 3.7, 1),
        (SOAKED, "soaked", on(8, 12), 36.0, 0),
        (SOAKED, "soaked", on(8, 12), 36.5, 1),
        (SOAKED, "soaked", on(8, 12), None, 1),
        (SOAKED, "as cured", on(9, 12), None, 3),
    ],
)
def test_state_age_and_water_are_each_judged(
    meant: Meant, state: str, crushed_at: datetime, water_hours: float | None, reasons: int
) -> None:
    found = left_out_because(meant, pressed_at=PRESSED, crushed_at=crushed_at, state=state, water_hours=water_hours)
    assert len(found) == reasons


def test_a_soak_of_no_length_that_can_be_is_refused() -> None:
    with pytest.raises(Invalid):
        left_out_because(SOAKED, pressed_at=PRESSED, crushed_at=on(8, 12), state="soaked", water_hours=-1.0)
