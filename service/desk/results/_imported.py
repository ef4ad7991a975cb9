"""Readings of imported jobs beside those of the shop's own: as the engine takes them, and as a table has them."""

from collections.abc import Collection, Mapping, Sequence
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.results.result_facts import CrushedFacts, ReadingFacts, StressFacts
from service.measured.imported import ImportedStress, imported_reading, imported_stress
from service.records import imports, presses
from service.records.imports import ImportedReading, ImportedWhole
from service.records.presses import Calibrated, Gauge, Press
from service.trade.block.test_conditions import Condition
from service.trade.strength.censored_readings import Reading
from service.trade.strength.estimate_result import Group
from service.typed import as_shown

Gauges = Mapping[UUID, tuple[Gauge, Press]]
Calibrations = Mapping[UUID, list[Calibrated]]
IMPORTED = "imported"


def imported_groups(session: Session, job_ids: Collection[UUID]) -> dict[UUID, tuple[Group, ...]]:
    """Return some imported jobs as the engine takes them."""
    whole = imports.whole(session, job_ids=job_ids) if job_ids else []
    gauges, calibrations = _gauges(session, whole)
    return {one.job.id: _groups(one.readings, gauges, calibrations) for one in whole}


def imported_facts(
    session: Session, *, file_id: UUID | None = None, job_ids: Collection[UUID] | None = None
) -> list[tuple[ImportedWhole, tuple[ReadingFacts, ...]]]:
    """Return the jobs of a file, or some jobs, with their readings as a table has them."""
    whole = imports.whole(session, file_id=file_id, job_ids=job_ids)
    gauges, calibrations = _gauges(session, whole)
    return [(one, tuple(_facts(each, gauges, calibrations) for each in one.readings)) for one in whole]


def _gauges(session: Session, whole: Sequence[ImportedWhole]) -> tuple[Gauges, Calibrations]:
    used = {each.gauge_id for one in whole for each in one.readings if each.gauge_id}
    if not used:
        return {}, {}
    return presses.gauges_by_id(session, used), presses.calibrations_of(session, used)


def _condition(one: ImportedReading) -> str:
    return Condition(one.condition, one.soak_hours, one.age_days).name  # type: ignore[arg-type]


def _groups(readings: Sequence[ImportedReading], gauges: Gauges, calibrations: Calibrations) -> tuple[Group, ...]:
    by_key: dict[tuple[str, str], list[tuple[Reading, str]]] = {}
    batches: dict[str, set[str]] = {}
    for one in readings:
        reading = imported_reading(one, imported_stress(one, gauges, calibrations))
        if reading is not None:
            batches.setdefault(one.recipe, set()).add(one.batch)
            by_key.setdefault((one.recipe, _condition(one)), []).append((reading, one.batch))
    return tuple(
        Group(
            recipe,
            condition,
            tuple(reading for reading, _ in mine),
            len(batches[recipe]),
            (),
            tuple(batch for _, batch in mine),
        )
        for (recipe, condition), mine in by_key.items()
    )


def _facts(one: ImportedReading, gauges: Gauges, calibrations: Calibrations) -> ReadingFacts:
    stress = imported_stress(one, gauges, calibrations)
    counts = one.outcome != "spoiled"
    batch: Any = one.batch
    return ReadingFacts(
        block=one.block,
        recipe=one.recipe,
        batch=batch,
        condition=_condition(one),
        soaked=one.condition == "soaked",
        fate="counted" if counts else "spoiled",
        because=None,
        strays=False,
        height_mm=one.height_mm,
        wet_density_kg_m3=None,
        dry_density_kg_m3=None,
        density_off=None,
        cracked_because=None,
        crushed=_crushed(one, stress),
        earlier=(),
    )


def _crushed(one: ImportedReading, stress: ImportedStress | None) -> CrushedFacts:
    # A file names the day alone.
    crushed_at: Any = one.crushed_on
    typed = one.as_read.get("gauge_mpa")
    return CrushedFacts(
        outcome=one.outcome,
        gauge=as_shown(typed) if typed else "",
        gauge_mpa=one.gauge_mpa,
        length_mm=one.length_mm,
        width_mm=one.width_mm,
        crushed_at=crushed_at,
        crushed_by=one.crushed_by or "",
        age_days=one.age_days,
        water_hours=one.soak_hours,
        out_of_water_min=None,
        orientation="",
        faces="",
        peak_read=None,
        failure=None,
        mass_kg=one.mass_kg,
        remark=one.remark,
        stress=_stress(stress) if stress else None,
        shaped=(),
    )


def _stress(found: ImportedStress) -> StressFacts:
    # Without a face a stress has no force.
    force: Any = found.force_kn
    return StressFacts(found.stress_mpa, found.graduation_mpa, force, 0.0, "", None, False, False, None)
