"""The tasks with blocks as a calendar that any program of calendars reads (RFC 5545)."""

from datetime import date, timedelta
from typing import TYPE_CHECKING

from service.desk.today.feed import Feed
from service.paper.templates import environment

if TYPE_CHECKING:
    from icalendar import Event

# A program of calendars asks again after this; what changes in between is on the page Today.
ASKED_AGAIN_AFTER = timedelta(minutes=30)
MOST_EVENTS = 500
WEEKDAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")


def calendar(feed: Feed) -> bytes:
    """Return the feed as iCalendar: the tasks, and the closed days of the shop.

    Job and block labels are in it, and no name of a customer.
    """
    from icalendar import Calendar, Event

    words = environment().get_template("parts/today.html").module
    made = Calendar()
    made.add("prodid", "-//Loambook//Today//EN")
    made.add("version", "2.0")
    made.add("x-wr-calname", f"{feed.shop}, {feed.whose}" if feed.whose else feed.shop)
    made.add("refresh-interval", ASKED_AGAIN_AFTER, parameters={"VALUE": "DURATION"})
    for task in feed.tasks[:MOST_EVENTS]:
        event = Event()
        zone = feed.opening.zone.key
        # The same step of the same block is the same entry, whenever it is asked for.
        event.add("uid", f"{task.key}@loambook")
        event.add("dtstamp", feed.now)
        event.add("summary", str(words.act(task)).strip())  # type: ignore[attr-defined]
        starts, ends = task.starts_at or feed.now, task.ends_at or feed.now
        event.add("dtstart", starts)
        event.add("dtend", max(ends, starts + timedelta(minutes=15)))
        said = str(words.closed_then(task.closed, feed.now, zone)) if task.closed else ""  # type: ignore[attr-defined]
        labels = ", ".join(block.label for block in task.blocks)
        event.add("description", f"{labels}\n{said.strip()}" if said else labels)
        made.add_component(event)
    for weekday in sorted(feed.opening.closed_weekdays):
        today = feed.now.astimezone(feed.opening.zone).date()
        last = today - timedelta(days=(today.isoweekday() - weekday) % 7)
        weekly = _closed(feed, f"closed-{weekday}", "Closed", last)
        weekly.add("rrule", {"freq": "weekly", "byday": WEEKDAYS[weekday - 1]})
        made.add_component(weekly)
    for day, name in feed.opening.closed_days.items():
        made.add_component(_closed(feed, f"closed-{day.isoformat()}", f"Closed: {name}", day))
    return bytes(made.to_ical())


def _closed(feed: Feed, key: str, said: str, day: date) -> "Event":
    """Return a whole closed day, which leaves the time of whoever reads it free."""
    from icalendar import Event

    event = Event()
    event.add("uid", f"{key}@loambook")
    event.add("dtstamp", feed.now)
    event.add("summary", said)
    event.add("dtstart", day)
    event.add("dtend", day + timedelta(days=1))
    event.add("transp", "TRANSPARENT")
    return event
