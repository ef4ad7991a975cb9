"""Readings as rows, one a block: the one maker of rows that every table of readings is written from.

The shop's own units come first; stress and force stand in the other system too. A figure has the digits that its gauge
can tell, a moment stands on the shop's clock.
"""

import json
from collections.abc import Iterable, Iterator
from datetime import date, datetime
from functools import lru_cache
from types import SimpleNamespace
from typing import Any
from zoneinfo import ZoneInfo

from service.desk.doorway import ShopFacts
from service.paper.tables import Cell, Column, as_csv
from service.paper.templates import worded
from service.words.numbers_to_text import percent, shown_in
from service.words.sentences import reasoned, table_words
from service.words.table_numbers import as_shown, to_digits, to_step
from service.words.units import KINDS, Units, convert

OUTCOMES = {"held": "did not break", "spoiled": "invalid test"}
FATES = {
    "left out": "not counted",
    "spoiled": "invalid test",
    "lost": "damaged or missing",
    "waiting": "not crushed yet",
}
OTHER: dict[Units, Units] = {"imperial": "metric", "metric": "imperial"}
OF = {"dry soil": "of dry soil", "dry mix": "of dry mix", "blend": "of the blend"}


class _Frozen(SimpleNamespace):
    """What was frozen as data, read by the names it has today; what a result of an older version lacks is None."""

    def __getattr__(self, name: str) -> None:
        return None


def columns(shop: ShopFacts) -> tuple[Column, ...]:
    """Return the columns of every table of readings."""
    first, second = shop.units_first, OTHER[shop.units_first]
    mpa, kn, mm, kg, dense = (shown_in(unit, first) for unit in ("MPa", "kN", "mm", "kg", "kg/m3"))
    return (
        *(Column("job"), Column("customer"), Column("site"), Column("recipe"), Column("contents"), Column("batch")),
        *(Column("block"), Column("condition"), Column("outcome"), Column("counted"), Column("because")),
        *(Column("gauge as read"), Column("gauge", mpa)),
        *(Column("force", kn), Column("stress", mpa)),
        *(Column("force", shown_in("kN", second)), Column("stress", shown_in("MPa", second))),
        *(Column("gauge step as stress", mpa), Column("shape factor"), Column("corrected stress", mpa)),
        *(Column("face length", mm), Column("face width", mm), Column("height", mm), Column("mass", kg)),
        *(Column("wet density", dense), Column("dry density", dense), Column("age", "days"), Column("in water", "h")),
        *(
            Column("crushed at", zone=shop.time_zone),
            Column("crushed by"),
            Column("press gauge"),
            Column("calibrated on"),
        ),
        *(Column("failure"), Column("remark"), Column("cracked when pressed out")),
    )


def heads(shop: ShopFacts, *, language: str = "en") -> list[str]:
    """Return what stands above the columns."""
    words = table_words(language)
    return [column.head(words) for column in columns(shop)]


def rows(jobs: Iterable[Any], shop: ShopFacts, *, language: str = "en") -> Iterator[tuple[Cell, ...]]:
    """Yield one row a block, job by job, in the order of each job."""
    make = _Maker(shop, language)
    for job in jobs:
        contents = {label: make.contents(parts) for label, parts in job.recipes.items()}
        for one in job.readings:
            yield make.row(job, one, contents.get(one.recipe, ""))


def frozen_job(data: str) -> SimpleNamespace:
    """Return the job of an issued result as rows are made from it."""
    result = json.loads(data, object_hook=lambda found: _Frozen(**found)).result
    return SimpleNamespace(
        number=result.job.number,
        customer=result.job.customer,
        site=result.job.site,
        recipes={one.label: one.parts for one in result.recipes},
        lines={one.key: one for one in result.calibrations},
        readings=result.readings,
    )


def as_table(data: str, shop: ShopFacts, *, language: str = "en") -> str:
    """Return the readings of an issued result as comma-separated text."""
    return as_csv(heads(shop, language=language), rows([frozen_job(data)], shop, language=language))


class _Maker:
    """Makes rows in the units, on the clock and in the language of one reader."""

    def __init__(self, shop: ShopFacts, language: str) -> None:
        self.zone, self.words, self.language = ZoneInfo(shop.time_zone), table_words(language), language
        first, second = shop.units_first, OTHER[shop.units_first]
        self.mpa, self.kn, self.mm, self.kg, self.dense = (
            shown_in(unit, first) for unit in ("MPa", "kN", "mm", "kg", "kg/m3")
        )
        self.other_mpa, self.other_kn = shown_in("MPa", second), shown_in("kN", second)
        self._said: dict[str, str] = {}

    def contents(self, parts: Iterable[Any] | None) -> str:
        """Return what is in a recipe: each share with what it is a share of."""
        return ", ".join(f"{part.name} {percent(part.share)} {self.said(OF[part.basis])}" for part in parts or ())

    def said(self, word: str) -> str:
        """Return a word in the reader's language."""
        known = self._said.get(word)
        if known is None:
            known = self._said[word] = worded(word, self.words)
        return known

    def reason(self, because: str) -> str:
        """Return why a block does not count, in the reader's language."""
        return because if self.language == "en" else reasoned(because, language=self.language)

    def row(self, job: Any, one: Any, contents: str) -> tuple[Cell, ...]:
        """Return the row of one block."""
        crushed = one.crushed
        head = (
            *(job.number, job.customer, job.site, one.recipe, contents, one.batch, one.block, self.said(one.condition)),
            self.said(OUTCOMES.get(crushed.outcome, crushed.outcome)) if crushed else "",
            self.said(FATES.get(one.fate, one.fate)),
            self.reason(one.because) if one.because else None,
        )
        dense = (_in(one.wet_density_kg_m3, "kg/m3", self.dense), _in(one.dry_density_kg_m3, "kg/m3", self.dense))
        height = _in(one.height_mm, "mm", self.mm)
        cracked = one.cracked_because
        if not crushed:
            return (*head, *(None,) * 11, height, None, *dense, *(None,) * 8, cracked)
        line = job.lines.get(crushed.stress.calibration) if crushed.stress else None
        return (
            *head,
            crushed.gauge,
            self.gauge(crushed),
            *self.stressed(crushed),
            *(_in(crushed.length_mm, "mm", self.mm), _in(crushed.width_mm, "mm", self.mm), height),
            _in(crushed.mass_kg, "kg", self.kg),
            *dense,
            to_digits(crushed.age_days, 3),
            None if crushed.water_hours is None else to_digits(crushed.water_hours, 3),
            self.moment(crushed.crushed_at),
            *(crushed.crushed_by, line.gauge if line else None, _day(line.done_on) if line else None),
            *(self.said(crushed.failure) if crushed.failure else None, crushed.remark, cracked),
        )

    def moment(self, at: datetime | date | str | None) -> datetime | date | None:
        """Return a moment on the shop's clock; an imported reading may have its day alone, or none."""
        moment = datetime.fromisoformat(at) if isinstance(at, str) else at
        return moment.astimezone(self.zone) if isinstance(moment, datetime) else moment

    def gauge(self, crushed: Any) -> float | int | None:
        """Return what the gauge showed in the shop's own unit, to the last digit that was written down."""
        if crushed.gauge_mpa is None:
            return None
        text, _, unit = crushed.gauge.partition(" ")
        # A dial of force shows no pressure.
        shown = as_shown(text, unit, self.mpa) if unit in KINDS["pressure"].metric else None
        return to_digits(convert(crushed.gauge_mpa, "MPa", self.mpa), 3) if shown is None else shown

    def stressed(self, crushed: Any) -> tuple[Cell, ...]:
        """Return force and stress in both systems, the step of the gauge, and the stress corrected for shape."""
        stress, held = crushed.stress, crushed.outcome == "held"
        if not stress:
            return (None,) * 7
        mpa, step = stress.stress_mpa, stress.graduation_mpa
        # On one face force and stress have the same steps.
        kn, step_kn = stress.force_kn, step * (crushed.length_mm or 0) * (crushed.width_mm or 0) / 1000
        # A result issued before there were shape factors has none; a rule that calls for one names its table.
        shaped = [each for each in crushed.shaped or () if each.factor is not None]
        corrected = [_stepped(each.stress_mpa, step * each.factor, "MPa", self.mpa, held=held) for each in shaped]
        return (
            _stepped(kn, step_kn, "kN", self.kn, held=held),
            _stepped(mpa, step, "MPa", self.mpa, held=held),
            _stepped(kn, step_kn, "kN", self.other_kn, held=held),
            _stepped(mpa, step, "MPa", self.other_mpa, held=held),
            to_digits(convert(step, "MPa", self.mpa), 2),
            "; ".join(f"{each.table} {to_digits(each.factor, 4)}" for each in shaped),
            corrected[0] if len(corrected) == 1 else "; ".join(str(one) for one in corrected),
        )


@lru_cache(maxsize=4096)
def _stepped(value: float | None, step: float, stored_in: str, to: str, *, held: bool) -> float | int | None:
    return None if value is None else to_step(convert(value, stored_in, to), convert(step, stored_in, to), held=held)


def _in(value: float | None, stored_in: str, to: str) -> float | int | None:
    return None if value is None else to_digits(convert(value, stored_in, to), 4)


def _day(on: date | str | None) -> date | None:
    return date.fromisoformat(on) if isinstance(on, str) else on
