"""What a chart of readings shows and where each mark goes, before anything is drawn."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

from service.words.numbers_to_text import figure
from service.words.sentences import page_words

ABOVE = "not measured above"


@dataclass(frozen=True)
class Mark:
    """One reading: what the block did, at which stress, and whether the result counts it."""

    outcome: Literal["broke", "held", "fell apart"]
    stress_mpa: float
    counted: bool = True


@dataclass(frozen=True)
class Strip:
    """The readings of one recipe in one condition, with the engine's interval where it gave one."""

    recipe: str
    condition: str
    soaked: bool
    marks: tuple[Mark, ...]
    low_mpa: float | None = None
    median_mpa: float | None = None
    high_mpa: float | None = None
    label: str = ""
    measured_to_mpa: float | None = None

    @property
    def stood(self) -> tuple[Mark, ...]:
        """The marks that have a place on the scale."""
        return tuple(mark for mark in self.marks if mark.outcome != "fell apart")

    @property
    def fell_apart(self) -> int:
        """How many blocks came apart, which is no strength."""
        return len(self.marks) - len(self.stood)

    @property
    def measured_end_mpa(self) -> float | None:
        """Where the bar stops if its upper end is open."""
        if self.low_mpa is None or self.high_mpa is not None:
            return None
        return max(self.low_mpa, self.measured_to_mpa or 0.0)


@dataclass(frozen=True)
class LimitLine:
    """A limit that the readings of one condition are held against."""

    name: str
    condition: str
    limit_mpa: float


@dataclass(frozen=True)
class Readings:
    """Every reading of a job, recipe by recipe and condition by condition."""

    strips: tuple[Strip, ...]
    limits: tuple[LimitLine, ...] = ()
    right_edge_mpa: float | None = None
    units: Literal["metric", "imperial"] = "metric"
    language: str = "en"
    # The name of each condition in the reader's language, where it is not English.
    said: tuple[tuple[str, str], ...] = ()

    def say(self, text: str) -> str:
        """Return a word of the drawing in its language."""
        return page_words(self.language).get(text, text)

    def condition_said(self, condition: str) -> str:
        """Return a condition in the language of the drawing."""
        return dict(self.said).get(condition, condition)

    def stress(self, mpa: float) -> str:
        """Return a stress in the shop's own unit."""
        return figure(mpa, stored_in="MPa", to="psi" if self.units == "imperial" else "MPa")

    def conditions(self) -> tuple[str, ...]:
        """Return the conditions in order of first appearance."""
        return tuple(dict.fromkeys(strip.condition for strip in self.strips))

    def highest_mpa(self) -> float:
        """Return the greatest stress that has to fit on the axis."""
        values = [mark.stress_mpa for strip in self.strips for mark in strip.stood]
        values += [strip.high_mpa or strip.measured_end_mpa or 0.0 for strip in self.strips]
        return max([*values, *(limit.limit_mpa for limit in self.limits), 1.0])


@dataclass(frozen=True)
class Placed:
    """A mark with the lane it stands in and the word beside it, if it carries one."""

    mark: Mark
    lane: int
    word: str


def placed(
    marks: Sequence[Mark], *, points_per_mpa: float, points_per_letter: float, say: Callable[[str], str] = str
) -> tuple[Placed, ...]:
    """Return the marks in lanes so that no two marks and no word overlap."""
    taken: list[list[tuple[float, float]]] = []
    found = []
    words = [say(word) if word else "" for word in _words(marks)]
    for position in sorted(range(len(marks)), key=lambda place: (not words[place], marks[place].stress_mpa)):
        mark, word = marks[position], words[position]
        at = mark.stress_mpa * points_per_mpa
        arrow = 15.0 if mark.outcome == "held" else 0.0
        span = (at - 6.5, at + 6.5 + arrow + (5.0 + len(word) * points_per_letter if word else 0.0))
        lane = next((n for n, row in enumerate(taken) if all(_apart(span, other) for other in row)), len(taken))
        if lane == len(taken):
            taken.append([])
        taken[lane].append(span)
        found.append(Placed(mark, lane, word))
    return tuple(found)


def described(readings: Readings) -> str:
    """Return the chart in words, for a reader who cannot see it."""
    return " ".join(_strip_in_words(readings, strip) for strip in readings.strips) + "".join(
        f" {readings.say('limit')} {limit.name}: {readings.stress(limit.limit_mpa)}, "
        f"{readings.condition_said(limit.condition)}."
        for limit in readings.limits
    )


def _apart(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return one[1] <= other[0] or other[1] <= one[0]


def _words(marks: Sequence[Mark]) -> list[str]:
    """Return the word of each mark: one of a kind carries it for all, at the far end."""
    words = [""] * len(marks)
    held = [place for place, mark in enumerate(marks) if mark.outcome == "held" and mark.counted]
    if held:
        words[max(held, key=lambda place: marks[place].stress_mpa)] = "did not break"
    for place, mark in enumerate(marks):
        if not mark.counted:
            words[place] = "left out"
    return words


def _strip_in_words(readings: Readings, strip: Strip) -> str:
    say, stress = readings.say, readings.stress
    marks = ", ".join(_mark_in_words(readings, mark) for mark in strip.marks) or say("no reading")
    name = f"{strip.recipe}, {readings.condition_said(strip.condition)}: {marks}"
    if strip.low_mpa is None:
        return f"{name}."
    if strip.measured_end_mpa is not None:
        return (
            f"{name}; {say('strength, 90 %')}: {stress(strip.low_mpa)}, {say(ABOVE)} {stress(strip.measured_end_mpa)}."
        )
    return f"{name}; {say('strength, 90 %')}: {stress(strip.low_mpa)} – {stress(strip.high_mpa or strip.low_mpa)}."


def _mark_in_words(readings: Readings, mark: Mark) -> str:
    said = readings.say({"broke": "broke at", "held": "did not break at", "fell apart": "fell apart"}[mark.outcome])
    told = said if mark.outcome == "fell apart" else f"{said} {readings.stress(mark.stress_mpa)}"
    return told if mark.counted else f"{told} ({readings.say('left out')})"
