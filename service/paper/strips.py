"""What a chart of readings shows and where each mark goes, before anything is drawn."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal


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

    def conditions(self) -> tuple[str, ...]:
        """Return the conditions in order of first appearance."""
        return tuple(dict.fromkeys(strip.condition for strip in self.strips))

    def highest_mpa(self) -> float:
        """Return the greatest stress that has to fit on the axis."""
        values = [mark.stress_mpa for strip in self.strips for mark in strip.marks]
        values += [strip.high_mpa or strip.low_mpa or 0.0 for strip in self.strips]
        return max([*values, *(limit.limit_mpa for limit in self.limits), 1.0])


@dataclass(frozen=True)
class Placed:
    """A mark with the lane it stands in and the word beside it, if it carries one."""

    mark: Mark
    lane: int
    word: str


def placed(marks: Sequence[Mark], *, points_per_mpa: float, points_per_letter: float) -> tuple[Placed, ...]:
    """Return the marks in lanes so that no two marks and no word overlap."""
    taken: list[list[tuple[float, float]]] = []
    found = []
    words = _words(marks)
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
    return " ".join(_strip_in_words(strip) for strip in readings.strips) + "".join(
        f" Limit {limit.name}: {limit.limit_mpa:.3g} MPa, {limit.condition}." for limit in readings.limits
    )


def _apart(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return one[1] <= other[0] or other[1] <= one[0]


def _words(marks: Sequence[Mark]) -> list[str]:
    """Return the word of each mark: one of a kind carries it for all, at the far end."""
    words = [""] * len(marks)
    for outcome, word in (("held", "at least"), ("fell apart", "fell apart")):
        of_kind = [place for place, mark in enumerate(marks) if mark.outcome == outcome and mark.counted]
        if of_kind:
            words[max(of_kind, key=lambda place: marks[place].stress_mpa)] = word
    for place, mark in enumerate(marks):
        if not mark.counted:
            words[place] = "left out"
    return words


def _strip_in_words(strip: Strip) -> str:
    said = {"broke": "broke at {0:.3g}", "held": "at least {0:.3g}", "fell apart": "fell apart"}
    marks = ", ".join(
        said[mark.outcome].format(mark.stress_mpa) + ("" if mark.counted else " (left out)") for mark in strip.marks
    )
    if strip.low_mpa is None:
        interval = ""
    elif strip.high_mpa is None:
        interval = f"; strength at least {strip.low_mpa:.3g}, above was not measured"
    else:
        interval = f"; strength {strip.low_mpa:.3g} to {strip.high_mpa:.3g}"
    return f"{strip.recipe}, {strip.condition}, in MPa: {marks or 'no reading'}{interval}."
