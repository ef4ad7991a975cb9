"""Old readings out of a table: every row is read, everything wrong is said by row, and all or nothing is taken in."""

import json
import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import date
from typing import TypeVar
from uuid import UUID

from service.desk import imports
from service.desk.doorway import Caller
from service.desk.imports import GivenReading
from service.errors import Invalid
from service.paper.import_columns import FIELDS, LOADS, Choices
from service.paper.storing import storing
from service.paper.tables_read import Sheet, read_table
from service.typed import Typed
from service.words.old_words import condition_of, day_of, outcome_of, with_point
from service.words.text_to_numbers import PLAIN, read_quantity, read_words
from service.words.units import KINDS, convert

T = TypeVar("T")
AT_LEAST = ("at least", "al menos", ">=", "≥", ">")
# Our own name of a condition, as an exported table has it: "soaked 4 h, 7 days".
OURS = re.compile(r"(?:[^0-9,]*?([0-9.]+) h)?[^0-9]*?(?:, ?([0-9.]+) (?:days?|d[ií]as?))?")
LOADED = ("broke", "held")


@dataclass(frozen=True)
class Problem:
    """What is wrong in one cell, or in a row as a whole, where ``head`` is empty."""

    row: int
    head: str
    cell: str
    sentence: str


@dataclass(frozen=True)
class Checked:
    """What a table holds when it is read as chosen."""

    readings: tuple[GivenReading, ...]
    problems: tuple[Problem, ...]
    rows: int

    @property
    def jobs(self) -> int:
        """How many jobs the readings belong to."""
        return len({((one.customer or "").casefold(), one.job.casefold()) for one in self.readings})


def bring(caller: Caller, *, name: str, content: bytes) -> UUID:
    """Keep a file whose columns are to be matched, and return it."""
    sheet = read_table(content)
    with storing(caller, content) as (sha256,):
        done = imports.begin(
            caller, name=name[-120:] or "table", sha256=sha256, size=len(content), media_type=sheet.media_type
        )
    return done.id


def take_in(caller: Caller, *, file_id: UUID, choices: Choices) -> Checked:
    """Take a file in as chosen, or return what is wrong with it and take nothing."""
    checked = check(read_table(imports.content(caller, file_id=file_id)), choices)
    if not checked.problems:
        imports.take_in(
            caller,
            file_id=file_id,
            choices=json.dumps(asdict(choices), sort_keys=True),
            gauge_id=UUID(choices.gauge) if choices.gauge else None,
            readings=checked.readings,
        )
    return checked


def check(sheet: Sheet, choices: Choices) -> Checked:
    """Return every reading of a table, and every problem by row."""
    problems = [*_of_the_whole(choices)]
    readings: list[GivenReading] = []
    seen: dict[tuple[str, str, str], int] = {}
    for number, cells in sheet.rows:
        row = _Row(sheet, choices, number, cells)
        one = row.reading()
        problems += row.problems
        if one is None:
            continue
        key = (one.customer or "").casefold(), one.job.casefold(), one.block.casefold()
        if key in seen:
            problems.append(Problem(number, "Block", one.block, f"This block stands in row {seen[key]} already."))
        seen.setdefault(key, number)
        readings.append(one)
    if not sheet.rows:
        problems.append(Problem(0, "", "", "There is no row below the heads."))
    return Checked(tuple(readings), tuple(problems), len(sheet.rows))


def _of_the_whole(choices: Choices) -> list[Problem]:
    said = {name: choice.column is not None or bool(choice.fixed) for name, choice in choices.of.items()}
    missing = [field.name for name, field in FIELDS.items() if field.needed and not said[name]]
    found = [Problem(0, name, "", "Choose its column, or write what holds for all rows.") for name in missing]
    if not said["age_days"] and not (said["pressed_on"] and said["crushed_on"]):
        found.append(Problem(0, "Age", "", "Choose its column, or those of both days."))
    if sum(said[name] for name in LOADS) != 1:
        found.append(Problem(0, "Stress, force or gauge", "", "Choose exactly one of these three columns."))
    if said["gauge_mpa"] and not choices.gauge:
        found.append(Problem(0, "Gauge", "", "Choose at which gauge of your shop these were read."))
    return found


class _Row:
    """One row on its way to a reading; it keeps what is wrong with it."""

    def __init__(self, sheet: Sheet, choices: Choices, number: int, cells: tuple[str, ...]) -> None:
        self.sheet, self.choices, self.number, self.cells = sheet, choices, number, cells
        self.problems: list[Problem] = []

    def reading(self) -> GivenReading | None:
        """Return the reading, or None where something is wrong."""
        words = {name: self.words(name) for name in ("job", "customer", "site", "recipe", "batch", "block")}
        outcome, load, held = self.loaded()
        condition, soak, age = self.condition()
        crushed_on = self.day("crushed_on")
        age = self.quantity("age_days") or age or self.between(crushed_on)
        if age is None and not self.cell("age_days") and not self.problems:
            self.wrong("age_days", "Write an age, or the days of pressing and crushing.")
        sizes = {name: self.quantity(name) for name in ("length_mm", "width_mm", "height_mm", "mass_kg")}
        if outcome in LOADED and load and load[0] != "stress_mpa" and not (sizes["length_mm"] and sizes["width_mm"]):
            self.wrong("length_mm", "A force or a gauge reading needs the sides of the face.")
        if load and load[0] == "gauge_mpa" and crushed_on is None:
            self.wrong("crushed_on", "A gauge reading needs its day: the calibration of that day counts.")
        if self.problems or age is None or condition is None:
            return None
        return GivenReading(
            row=self.number,
            job=words["job"],
            customer=words["customer"] or None,
            site=words["site"] or None,
            block=words["block"] or f"row {self.number}",
            recipe=words["recipe"],
            batch=words["batch"] or "1",
            condition=condition,
            outcome="held" if held and outcome == "broke" else outcome,
            age_days=age,
            soak_hours=soak,
            **{name: load[1] if load and load[0] == name else None for name in LOADS},
            step=load[2] if load else None,
            **sizes,
            crushed_on=crushed_on,
            crushed_by=self.words("crushed_by") or None,
            remark=self.words("remark", most=1000) or None,
        )

    def cell(self, name: str) -> str:
        """Return what a row says of something: in its column, else what holds for all rows."""
        choice = self.choices.of[name]
        return (self.cells[choice.column] if choice.column is not None else "") or choice.fixed

    def wrong(self, name: str, sentence: str) -> None:
        """Note what is wrong with a cell."""
        choice = self.choices.of[name]
        head = self.sheet.head[choice.column] if choice.column is not None else FIELDS[name].name
        self.problems.append(Problem(self.number, head, self.cell(name)[:60], sentence))

    def _try(self, name: str, read: Callable[[], T]) -> T | None:
        try:
            return read()
        except Invalid as refusal:
            self.wrong(name, refusal.sentence)
            return None

    def words(self, name: str, *, most: int = 80) -> str:
        """Return a text of the row."""
        needed = FIELDS[name].needed
        return self._try(name, lambda: read_words(self.cell(name), field=name, most=most, required=needed)) or ""

    def quantity(self, name: str, text: str | None = None) -> Typed | None:
        """Return a quantity of the row, in the unit of its cell, else of its column."""
        said = self.cell(name) if text is None else text
        if not said:
            return None
        kind, unit = FIELDS[name].kind, self.choices.of[name].unit or None

        def read() -> Typed:
            if said.startswith("="):
                raise Invalid("This is a formula: put its value here.")
            given = with_point(said, self.choices.mark)
            found = read_quantity(given, field=name, kind=kind, unit=unit, writing=PLAIN)
            if found.value == 0 and name not in LOADS:
                raise Invalid("This cannot be zero.")
            return found

        return self._try(name, read)

    def day(self, name: str) -> date | None:
        """Return a day of the row."""
        return self._try(name, lambda: day_of(self.cell(name), self.choices.order)) if self.cell(name) else None

    def between(self, crushed_on: date | None) -> Typed | None:
        """Return the age between two days."""
        pressed_on = self.day("pressed_on")
        if pressed_on is None or crushed_on is None:
            return None
        days = (crushed_on - pressed_on).days
        if days <= 0:
            self.wrong("crushed_on", "This day is not after the day of pressing.")
            return None
        return Typed(float(days), str(days), "d")

    def condition(self) -> tuple[str | None, Typed | None, Typed | None]:
        """Return the condition, the hours in water of a soaked block, and the age where the condition names it."""
        said = self.cell("condition")
        if not said:
            self.wrong("condition", "Fill this in.")
            return None, None, None
        condition = condition_of(said)
        if condition is None:
            self.wrong("condition", "Write as cured, air-dry, oven-dry or soaked.")
            return None, None, None
        ours = OURS.fullmatch(said)
        hours, days = (ours[1], ours[2]) if ours else (None, None)
        age = Typed(float(days), days, "d") if days else None
        if condition != "soaked":
            return condition, None, age
        soak = self.quantity("soak_hours") or (Typed(float(hours), hours, "h") if hours else None)
        if soak is None and self.cell("soak_hours") == "":
            self.wrong("soak_hours", "A soaked block needs its hours in water.")
        return condition, soak, age

    def loaded(self) -> tuple[str, tuple[str, Typed, float] | None, bool]:
        """Return the outcome, what was read with its last digit, and whether it says "at least"."""
        said = self.cell("outcome")
        outcome = outcome_of(said) if said else "broke"
        if outcome is None:
            self.wrong("outcome", "Write broke, did not break, fell apart or spoiled.")
            return "broke", None, False
        if outcome not in LOADED:
            return outcome, None, False
        chosen = self.choices.of
        name = next((one for one in LOADS if chosen[one].column is not None or chosen[one].fixed), LOADS[0])
        text, held = self.cell(name), False
        for words in AT_LEAST:
            if text.casefold().startswith(words):
                text, held = text[len(words) :].strip(), True
                break
        if not text:
            self.wrong(name, "A block that was loaded needs a reading.")
            return outcome, None, held
        typed = self.quantity(name, text)
        if typed is None:
            return outcome, None, held
        if typed.value <= 0:
            self.wrong(name, "A block that was loaded broke above zero.")
            return outcome, None, held
        return outcome, (name, typed, _last_digit(typed, FIELDS[name].kind)), held


def _last_digit(typed: Typed, kind: str) -> float:
    """Return what the last digit that was written down stands for, in the unit that is stored."""
    _, _, behind = typed.text.partition(".")
    return convert(10.0 ** -len(behind), typed.unit, KINDS[kind].stored_in)
