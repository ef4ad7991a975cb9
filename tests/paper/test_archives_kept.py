"""Which archives of the nights stay in their folder."""

from datetime import UTC, datetime

from service.paper.archiving import kept


def test_the_last_seven_days_and_the_last_five_weeks_stay() -> None:
    names = {f"loambook-202711{day:02}T030000+0000.zip" for day in range(1, 31)}
    # By the calendar: 1 November 2027 is a Monday, so weeks end on the 7th, 14th, 21st and 28th; the 30th is a Tuesday.
    days = {7, 14, 21, *range(24, 31)}
    assert kept(names, at=datetime(2027, 11, 30, 12, tzinfo=UTC)) == {
        f"loambook-202711{day:02}T030000+0000.zip" for day in days
    }
