"""The tasks with blocks as a calendar that any program of calendars reads (RFC 5545)."""

from datetime import timedelta

from service.desk.today.feed import Feed
from service.paper.templates import environment

# A program of calendars asks again after this; what changes in between is on the page Today.
ASKED_AGAIN_AFTER = timedelta(minutes=30)
MOST_EVENTS = 500


def calendar(feed: Feed) -> bytes:
    """Return the feed as iCalendar; job and block labels are in it, and no name of a customer."""
    from icalendar import Calendar, Event

    words = environment().get_template("parts/today.html").module
    made = Calendar()
    made.add("prodid", "-//Loambook//Today//EN")
    made.add("version", "2.0")
    made.add("x-wr-calname", f"{feed.shop}, {feed.whose}" if feed.whose else feed.shop)
    made.add("refresh-interval", ASKED_AGAIN_AFTER, parameters={"VALUE": "DURATION"})
    for task in feed.tasks[:MOST_EVENTS]:
        event = Event()
        # The same step of the same block is the same entry, whenever it is asked for.
        event.add("uid", f"{task.key}@loambook")
        event.add("dtstamp", feed.now)
        event.add("summary", str(words.act(task)).strip())  # type: ignore[attr-defined]
        starts, ends = task.starts_at or feed.now, task.ends_at or feed.now
        event.add("dtstart", starts)
        event.add("dtend", max(ends, starts + timedelta(minutes=15)))
        event.add("description", ", ".join(block.label for block in task.blocks))
        made.add_component(event)
    return bytes(made.to_ical())
