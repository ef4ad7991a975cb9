"""How a block stood when it was crushed, and the one name by which groups and limits meet."""

import re
from dataclasses import dataclass
from typing import Literal, get_args

from service.phrase import Phrase
from service.trade.block.durability_tests import PLANNED_TESTS

State = Literal["as cured", "air-dry", "oven-dry", "soaked"]


@dataclass(frozen=True)
class Condition:
    """How a block stood when it was crushed: moisture state, hours under water, days since pressing."""

    state: State
    soak_hours: float | None
    age_days: float | None

    @property
    def name(self) -> str:
        """The free text by which the engine tells conditions apart."""
        return condition_name(state=self.state, soak_hours=self.soak_hours, age_days=self.age_days)

    def phrase(self) -> Phrase:
        """Return the condition as part of a sentence: "after 4 h under water at 7 days of age"."""
        if self.age_days is None:
            return self.state_phrase()
        return Phrase(_AT_AN_AGE, {"state": self.state_phrase(), "age": days(self.age_days)})

    def state_phrase(self) -> Phrase:
        """Return the same without the age."""
        if self.state == "soaked":
            return Phrase("after {soak_hours} under water", {"soak_hours": float(self.soak_hours or 0)})
        return Phrase(_IN_A_SENTENCE[self.state])


_AT_AN_AGE = "{state} at {age} of age"
_IN_A_SENTENCE: dict[State, str] = {"as cured": "without soaking", "air-dry": "air-dried", "oven-dry": "oven-dried"}


def condition_name(*, state: State, soak_hours: float | None, age_days: float | None) -> str:
    """Return the one name of a condition by which groups and limits meet.

    Parameters
    ----------
    state : State
        Moisture state: as cured, air-dry, oven-dry or soaked.
    soak_hours : float or None
        Time under water in h; None unless soaked.
    age_days : float or None
        Days from pressing to crushing; None where a rule names no age.

    Returns
    -------
    str
        For example "soaked 4 h, 7 days".

    Source
    ------
    own-words

    Examples
    --------
    >>> condition_name(state="soaked", soak_hours=4.0, age_days=7)
    'soaked 4 h, 7 days'
    >>> condition_name(state="as cured", soak_hours=None, age_days=1)
    'as cured, 1 day'
    """
    soak = "" if soak_hours is None else f" {soak_hours:g} h"
    age = "" if age_days is None else f", {age_days:g} {'day' if age_days == 1 else 'days'}"
    return f"{state}{soak}{age}"


def condition_phrase(name: str) -> Phrase:
    """Return the name of a condition as part of a sentence, to be said in the language of its reader.

    Parameters
    ----------
    name : str
        As `condition_name` gives it.

    Returns
    -------
    Phrase
        The condition in words; another name as it is.

    Source
    ------
    own-words

    Examples
    --------
    >>> condition_phrase("as cured, 7 days").values["state"].english
    'without soaking'
    >>> condition_phrase("absorption, 7 days").values["state"].english
    'absorption'
    >>> condition_phrase("of the shop's own").english
    "of the shop's own"
    """
    found = _NAME.fullmatch(name)
    if found is None:
        test, _, age = name.partition(", ")
        aside = test in PLANNED_TESTS.values() and _AGE.fullmatch(age)
        return Phrase(_AT_AN_AGE, {"state": Phrase(test), "age": days(float(aside[1]))}) if aside else Phrase(name)
    state, soak, age = found.groups()
    return Condition(state, float(soak) if soak else None, float(age) if age else None).phrase()  # type: ignore[arg-type]


_NAME = re.compile(rf"({'|'.join(get_args(State))})(?: ([\d.]+) h)?(?:, ([\d.]+) days?)?")
_AGE = re.compile(r"([\d.]+) days?")


def days(count: float) -> Phrase:
    """Return a number of days in words.

    Parameters
    ----------
    count : float
        Days; above 0.

    Returns
    -------
    Phrase
        "1 day" or "7 days".

    Source
    ------
    own-words

    Examples
    --------
    >>> days(1.0).english, days(7.0).values["count"]
    ('1 day', '7')
    """
    return Phrase("1 day") if count == 1 else Phrase("{count} days", {"count": f"{count:g}"})
