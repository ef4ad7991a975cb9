"""Time in the water against hand counts on the clock."""

from datetime import UTC, datetime, timedelta

import pytest

from service.trade.block.time_in_water import INTERRUPTED, time_in_water

NOON = datetime(2027, 3, 1, 12, tzinfo=UTC)


def at(hours):
    return None if hours is None else NOON + timedelta(hours=hours)


@pytest.mark.parametrize(
    ("stays", "until", "hours", "out"),
    [
        ([(0, 24)], 24, 24, 0),
        ([(0, None)], 24, 24, 0),
        ([(0, 10)], 26, 10, 16),
        # A mistake of ten minutes, days before.
        ([(0, 1 / 6), (96, None)], 120, 24, 0),
        # Out for a quarter of an hour to be looked at: 11 and 12 hours.
        ([(0, 11), (11.25, 23.25)], 23.25, 23, 0),
        # Dry overnight in between: only the second counts.
        ([(0, 11), (20, 30)], 30, 10, 0),
        # Three stays with two short breaks.
        ([(0, 4), (4.5, 8), (8.25, 12)], 13, 11.25, 1),
        # Put in again after it was crushed, or the end typed after it.
        ([(0, 24), (30, None)], 25, 24, 1),
        ([(0, 30)], 24, 24, 0),
    ],
)
def test_hours_in_the_last_soak_and_out_of_it_by_hand(stays, until, hours, out):
    found = time_in_water([(at(start), at(end)) for start, end in stays], until=at(until))
    assert found is not None
    assert (found.hours, found.out_hours) == pytest.approx((hours, out), abs=1e-9)


def test_a_block_never_in_the_water_has_no_hours():
    assert time_in_water([], until=NOON) is None
    assert time_in_water([(at(1), None)], until=NOON) is None


def test_a_break_is_short_up_to_and_with_its_limit():
    end = at(10) + INTERRUPTED
    whole = time_in_water([(NOON, at(10)), (end, end + timedelta(hours=2))], until=end + timedelta(hours=2))
    parted = time_in_water(
        [(NOON, at(10)), (end + timedelta(seconds=1), end + timedelta(hours=2, seconds=1))],
        until=end + timedelta(hours=2, seconds=1),
    )
    assert whole is not None and parted is not None
    assert (whole.hours, parted.hours) == (12, 2)
