"""The calendar feed, read back by the library that other programs of calendars use."""

from datetime import date, time, timedelta

import pytest
from icalendar import Calendar
from icalendar.cal.component import Component

from service.desk import closed_days, people
from service.desk.today import feed
from service.errors import Forbidden, NotFound
from service.paper.calendar import calendar
from service.web.authentication import sha256
from tests.bench_rows import pressed_job
from tests.cast import Cast

SOAKED = {"condition": "soaked", "soak_hours": 24.0}


@pytest.fixture
def cast(cast_on_sqlite: Cast) -> Cast:
    return cast_on_sqlite


def entries(cast: Cast, token: str) -> list[Component]:
    written = calendar(feed.feed(cast.nobody, token_sha256=sha256(token)))
    return Calendar.from_ical(written).walk("VEVENT")


def events(cast: Cast, token: str) -> list[tuple[str, object, object]]:
    found = entries(cast, token)
    return [(str(one["summary"]), one["dtstart"].dt, one["dtend"].dt) for one in found]


def test_every_step_of_the_blocks_is_an_entry_with_its_window(cast: Cast) -> None:
    pressed_job(cast, groups=({"condition": "air-dry"}, SOAKED))
    pressed = cast.clock.now
    feed.open_feed(cast.olu, token_sha256=sha256("a"), whole=True)
    # Seven days either side of which six hours count; a soak of 24 h begins a day before.
    assert events(cast, "a") == [
        ("Soak 3 blocks of job 1", pressed + timedelta(days=5, hours=18), pressed + timedelta(days=6, hours=6)),
        ("Crush 3 blocks of job 1", pressed + timedelta(days=6, hours=18), pressed + timedelta(days=7, hours=6)),
    ]


def test_a_technician_has_the_blocks_they_pressed(cast: Cast) -> None:
    pressed_job(cast)
    feed.open_feed(cast.tess, token_sha256=sha256("hers"), whole=False)
    feed.open_feed(cast.olu, token_sha256=sha256("his"), whole=False)
    assert (len(events(cast, "hers")), len(events(cast, "his"))) == (1, 0)
    with pytest.raises(Forbidden):
        feed.open_feed(cast.tess, token_sha256=sha256("more"), whole=True)


def test_an_address_ends_with_the_next_one_and_with_its_person(cast: Cast) -> None:
    feed.open_feed(cast.tess, token_sha256=sha256("first"), whole=False)
    feed.open_feed(cast.tess, token_sha256=sha256("second"), whole=False)
    with pytest.raises(NotFound):
        events(cast, "first")
    assert events(cast, "second") == []
    people.end_person(cast.olu, person_id=cast.ids["tess"])
    with pytest.raises(NotFound):
        events(cast, "second")


def test_no_name_of_a_customer_leaves_the_shop_this_way(cast: Cast) -> None:
    pressed_job(cast)
    feed.open_feed(cast.olu, token_sha256=sha256("a"), whole=True)
    written = calendar(feed.feed(cast.nobody, token_sha256=sha256("a"))).decode()
    assert "Cy" not in written.replace("CYCLE", "") and "1-A1-1" in written


def test_closed_days_stand_in_it_and_take_nobodys_time(cast: Cast) -> None:
    # The clock stands on Monday 1 March 2027; six days later is a Sunday.
    closed_days.set_hours(cast.olu, closed_weekdays=["7"], opens_at=time(7), closes_at=time(17))
    closed_days.close_on(cast.olu, day=date(2027, 3, 19), name="stocktaking")
    pressed_job(cast, groups=({"condition": "air-dry", "age_days": 6.0, "tolerance_hours": 6.0},))
    feed.open_feed(cast.tess, token_sha256=sha256("a"), whole=False)
    crush, weekly, single = entries(cast, "a")
    assert str(crush["description"]).endswith("The shop is closed on Sunday 7 Mar, and no open hour is left for it.")
    assert (str(weekly["summary"]), weekly["dtstart"].dt, weekly["transp"]) == (
        "Closed",
        date(2027, 2, 28),
        "TRANSPARENT",
    )
    assert weekly["rrule"].to_ical() == b"FREQ=WEEKLY;BYDAY=SU"
    assert (str(single["summary"]), single["dtstart"].dt, single["dtend"].dt) == (
        "Closed: stocktaking",
        date(2027, 3, 19),
        date(2027, 3, 20),
    )
