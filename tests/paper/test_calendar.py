"""The calendar feed, read back by the library that other programs of calendars use."""

from datetime import timedelta

import pytest
from icalendar import Calendar

from service.desk import people
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


def events(cast: Cast, token: str) -> list[tuple[str, object, object]]:
    written = calendar(feed.feed(cast.nobody, token_sha256=sha256(token)))
    found = Calendar.from_ical(written).walk("VEVENT")
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
