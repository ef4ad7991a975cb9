"""What is to be done next with a block that waits: soak, take out of the water, crush, test; and what then counts."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from service.phrase import Phrase
from service.trade.block.age_window import AgeWindow, age_window
from service.trade.validation import refuse, require

Do = Literal["soak", "take out", "crush", "test"]
When = Literal["late", "now", "ahead"]

# A soak that was a little short still is that soak; common practice, no published source.
SHORT_SOAK = 0.95
# A block that was out of the water for longer is no soaked block any more; common practice, no published source.
LONGEST_OUT_HOURS = 2.0


@dataclass(frozen=True)
class Meant:
    """How a block was meant to stand when it is crushed, and how far from that it still counts."""

    state: str
    age_days: float
    tolerance_hours: float
    soak_hours: float | None = None
    soak_hours_max: float | None = None

    def window(self, pressed_at: datetime) -> AgeWindow:
        """Return when a block pressed then is due, and when its soak may begin."""
        return age_window(
            pressed_at=pressed_at,
            age_days=self.age_days,
            tolerance_hours=self.tolerance_hours,
            soak_hours=self.soak_hours,
            soak_hours_max=self.soak_hours_max,
        )

    @property
    def longest_soak_hours(self) -> float | None:
        """The longest stay in the water that counts: the longest planned, and what the age window is wide."""
        if self.soak_hours is None:
            return None
        return (self.soak_hours_max or self.soak_hours) + 2 * self.tolerance_hours


@dataclass(frozen=True)
class Step:
    """The next thing to do with a block, from when, and until when it still counts."""

    do: Do
    starts_at: datetime
    ends_at: datetime

    def when(self, now: datetime) -> When:
        """Return whether it is too late for it, time for it, or too early."""
        if now < self.starts_at:
            return "ahead"
        return "now" if now <= self.ends_at else "late"


def next_step(
    meant: Meant,
    *,
    pressed_at: datetime,
    soak_started_at: datetime | None = None,
    soak_ended_at: datetime | None = None,
) -> Step:
    """Return what is to be done next with a block that was not crushed yet.

    Parameters
    ----------
    meant : Meant
        The condition that the block was planned for.
    pressed_at : datetime
        When the block was pressed; with an offset.
    soak_started_at : datetime or None
        When it last went into the water; with an offset.
    soak_ended_at : datetime or None
        When it came out again; with an offset. None: it is still in the water.

    Returns
    -------
    Step
        From its first to its last moment. A soak begun too early or too late leaves a step that ends before
        it starts, which is late as soon as it begins.

    Raises
    ------
    Invalid
        If a number of the plan is out of range or `pressed_at` has no offset.

    Source
    ------
    age : days of 24 hours from pressing.

    Examples
    --------
    Seven days, 6 hours either side, 24 hours in the water: it goes in from day 5 and 18 hours on.

    >>> from datetime import timezone
    >>> pressed = datetime(2027, 3, 1, 12, 0, tzinfo=timezone.utc)
    >>> meant = Meant("soaked", age_days=7, tolerance_hours=6, soak_hours=24)
    >>> step = next_step(meant, pressed_at=pressed)
    >>> step.do, step.starts_at.isoformat()
    ('soak', '2027-03-07T06:00:00+00:00')
    """
    window = meant.window(pressed_at)
    if meant.soak_hours is None or window.soak_from is None or window.soak_until is None:
        return Step("crush", window.window_from, window.window_to)
    if soak_started_at is None:
        return Step("soak", window.soak_from, window.soak_until)
    if soak_ended_at is not None:
        return Step("crush", window.window_from, window.window_to)
    soaked = soak_started_at + timedelta(hours=meant.soak_hours)
    too_long = soak_started_at + timedelta(hours=meant.longest_soak_hours or meant.soak_hours)
    return Step("take out", max(window.window_from, soaked), min(window.window_to, too_long))


def left_out_because(
    meant: Meant,
    *,
    pressed_at: datetime,
    crushed_at: datetime,
    state: str,
    water_hours: float | None,
    out_hours: float | None = None,
) -> tuple[Phrase, ...]:
    """Return why a crushing does not count for the condition that its block was planned for.

    Parameters
    ----------
    meant : Meant
        The condition that the block was planned for.
    pressed_at, crushed_at : datetime
        When it was pressed and crushed; with an offset.
    state : str
        Orientation when it was crushed.
    water_hours : float or None
        Time under water, in hours; 0 or more. None: not known.
    out_hours : float or None
        Time out of the water again before it was crushed, in hours. None: not known, and not judged.

    Returns
    -------
    tuple[Phrase, ...]
        One phrase for each thing that was not as planned: state, age, time under water. Empty: it counts.

    Raises
    ------
    Invalid
        If a number of the plan or `water_hours` is out of range, or `pressed_at` has no offset.

    Source
    ------
    age : days of 24 hours from pressing.

    Examples
    --------
    A 7-day block crushed on day 9:

    >>> from datetime import timezone
    >>> pressed = datetime(2027, 3, 1, 12, 0, tzinfo=timezone.utc)
    >>> meant = Meant("air-dry", age_days=7, tolerance_hours=6)
    >>> given = {"pressed_at": pressed, "state": "air-dry", "water_hours": None}
    >>> len(left_out_because(meant, crushed_at=pressed + timedelta(days=9), **given))
    1
    >>> left_out_because(meant, crushed_at=pressed + timedelta(days=7, hours=6), **given)
    ()
    """
    found = (
        _wrong_state(meant, state),
        _wrong_age(meant, pressed_at, crushed_at),
        _wrong_soak(meant, water_hours),
        _dried(meant, out_hours),
    )
    return tuple(phrase for phrase in found if phrase is not None)


def _wrong_state(meant: Meant, state: str) -> Phrase | None:
    if state == meant.state:
        return None
    return Phrase("crushed {state}, meant to be {meant}", {"state": state, "meant": meant.state})


def _short(number: float, *, decimals: int) -> str:
    text = f"{number:.{decimals}f}"
    return text.rstrip("0").rstrip(".")


def _wrong_age(meant: Meant, pressed_at: datetime, crushed_at: datetime) -> Phrase | None:
    if pressed_at.utcoffset() is None:
        refuse({"pressed_at": "The time needs its offset, such as -07:00."})
    require(positive={"age_days": meant.age_days}, not_negative={"tolerance_hours": meant.tolerance_hours})
    age = crushed_at - pressed_at
    if abs(age - timedelta(days=meant.age_days)) <= timedelta(hours=meant.tolerance_hours):
        return None
    said = {
        "age": _short(age / timedelta(days=1), decimals=2),
        "days": f"{meant.age_days:g}",
        "hours": f"{meant.tolerance_hours:g}",
    }
    return Phrase("crushed at {age} days, outside {days} days ± {hours} h", said)


def _wrong_soak(meant: Meant, water_hours: float | None) -> Phrase | None:
    longest = meant.longest_soak_hours
    if meant.soak_hours is None or longest is None:
        return None
    if water_hours is None:
        return Phrase("how long it was under water is not known")
    require(not_negative={"water_hours": water_hours})
    if SHORT_SOAK * meant.soak_hours <= water_hours <= longest:
        return None
    said = {"hours": _short(water_hours, decimals=1), "meant": f"{meant.soak_hours:g}"}
    return Phrase("under water for {hours} h, meant for {meant} h", said)


def _dried(meant: Meant, out_hours: float | None) -> Phrase | None:
    if meant.soak_hours is None or out_hours is None or out_hours <= LONGEST_OUT_HOURS:
        return None
    return Phrase("out of the water for {hours} h before it was crushed", {"hours": _short(out_hours, decimals=1)})
