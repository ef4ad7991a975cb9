"""Closed days and hours: checked by hand against the calendar of March 2027, in which the 7th is a Sunday."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from service.trade.block.opening_days import OpeningDays, falls_closed
from service.trade.block.soak_and_crush_steps import Meant

ZONE = ZoneInfo("America/Denver")
SHOP = OpeningDays(ZONE, frozenset({7}), time(7), time(17), {date(2027, 3, 12): "stocktaking"})
MONDAY = date(2027, 3, 1)


def at(day: int, hour: int) -> datetime:
    return datetime(2027, 3, day, hour, tzinfo=ZONE)


def test_a_span_that_ends_on_a_closed_day_is_done_by_the_evening_before() -> None:
    closed = SHOP.closed_at_end(start=at(6, 9), end=at(7, 9))
    assert closed and (closed.day, closed.name, closed.do_by) == (date(2027, 3, 7), "", at(6, 17))


def test_one_that_begins_after_the_shop_closed_has_no_open_hour() -> None:
    closed = SHOP.closed_at_end(start=at(6, 18), end=at(8, 6))
    # It ends on Monday before the shop opens: the Sunday before is what is in the way.
    assert closed and (closed.day, closed.do_by) == (date(2027, 3, 7), None)


def test_a_night_is_no_closed_day_and_an_open_end_says_nothing() -> None:
    closed = SHOP.closed_at_end(start=at(2, 9), end=at(2, 21))
    assert closed and (closed.day, closed.do_by) == (None, at(2, 17))
    assert SHOP.closed_at_end(start=at(2, 9), end=at(2, 17)) is None


def test_a_single_day_has_its_name() -> None:
    closed = SHOP.closed_at_end(start=at(11, 9), end=at(12, 9))
    assert closed and (closed.name, closed.do_by) == ("stocktaking", at(11, 17))


def test_what_was_set_nowhere_is_never_closed() -> None:
    always = OpeningDays(ZONE)
    assert always.never_closed and always.closed_at_end(start=at(7, 0), end=at(7, 23)) is None
    assert not SHOP.never_closed


def falls(meant: Meant, day: date) -> list[tuple[str, bool, datetime | None, datetime | None]]:
    found = falls_closed(meant, pressed_at=SHOP.midday(day), opening=SHOP)
    return [(one.do, one.still_counts, one.before, one.after) for one in found]


def test_a_week_from_a_monday_is_a_monday_and_the_soak_is_on_the_sunday() -> None:
    assert falls(Meant("air-dry", 7, 6), MONDAY) == []
    # 24 h before Monday noon: on Sunday from 6:00 to 18:00, when nobody is there.
    assert falls(Meant("soaked", 7, 6, 24), MONDAY) == [("soak", False, None, None)]
    # With a longer soak allowed it may begin on Saturday.
    assert falls(Meant("soaked", 7, 6, 24, 48), MONDAY) == [("soak", True, at(6, 17), None)]


def test_a_wide_tolerance_leaves_the_day_before_and_after() -> None:
    assert falls(Meant("air-dry", 6, 24), MONDAY) == [("crush", True, at(6, 17), at(8, 7))]


def test_a_soak_over_a_night_needs_an_open_hour_alone() -> None:
    # Sixteen hours before noon is 20:00; with 6 h either side it may begin from 14:00 on.
    assert falls(Meant("soaked", 8, 6, 16), MONDAY) == []
    assert falls(Meant("soaked", 8, 1, 16), MONDAY) == [("soak", False, None, None)]


def test_a_soak_that_leads_from_no_open_hour_to_another_says_so() -> None:
    # Open from noon to 12:30 only: wet in one noon and out in the next lasts 24.5 h at most, and 29 h are asked.
    short = OpeningDays(ZONE, frozenset({7}), time(12), time(12, 30))
    meant = Meant("soaked", 8, 6, 29)
    assert [one.do for one in falls_closed(meant, pressed_at=short.midday(MONDAY), opening=short)] == ["take out"]
    assert falls_closed(Meant("soaked", 8, 6, 24), pressed_at=short.midday(MONDAY), opening=short) == ()


def test_a_change_of_clocks_does_not_move_the_hours() -> None:
    # Clocks go forward in Denver on 14 March 2027: nine in the morning is 15:00 UTC then, and was 16:00 before.
    assert SHOP.is_open(datetime(2027, 3, 13, 14, 0, tzinfo=UTC)) and not SHOP.is_open(at(13, 6))
    assert SHOP.is_open(datetime(2027, 3, 15, 13, 0, tzinfo=UTC))
    assert not SHOP.is_open(datetime(2027, 3, 15, 13, 0, tzinfo=UTC) - timedelta(minutes=1))
