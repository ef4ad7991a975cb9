"""One tried job written straight into the records: what the benches leave behind once every block is crushed.

Cy asks whether sand is worth hauling in. Recipe A is his soil with cement, B the same with a quarter of sand, C his
soil alone. All invented. The face is 140 x 90 mm; the gauge's line is close to 0.4 kN + 4.31 kN for each MPa.
"""

import json
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from functools import cache
from typing import Any, TypeVar
from uuid import UUID

from sqlmodel import Session

from service.records.base import Row, canonical
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block, BlockHeight, Soak
from service.records.crushings import Crushing
from service.records.jobs import Job, JobCriterion
from service.records.materials import Material, Price, Receipt
from service.records.presses import Calibration, CalibrationPoint, Gauge, Mould, Press, PressSession
from service.records.recipes import Recipe, RecipeGroup, RecipePart
from service.trade.criteria.codes_and_rules import Criterion, published
from tests.cast import Cast
from tests.rows import Told, forget_results, put, told

R = TypeVar("R", bound=Row)
POINTS = ((5.0, 21.9), (10.0, 43.5), (15.0, 65.2), (20.0, 86.4), (28.0, 121.1))
DRY, WET = ("as cured", None), ("soaked", 4.0)
# What the gauge showed at the peak; a minus sign stands for held there, None for fell apart in the water.
PEAKS: dict[str, dict[str, list[float | None]]] = {
    "A": {"as cured": [12.4, 13.1, 11.9, 12.8, 13.4], "soaked": [6.75, 7.25, 6.5, 7.5, 7.0]},
    "B": {"as cured": [-28.0, -28.0, 26.5, -28.0, -28.0], "soaked": [15.0, 16.5, 14.5, 17.0, 15.5]},
    "C": {"as cured": [9.0, 8.5, 9.25, 8.75, 9.5], "soaked": [None, None, None, None, None]},
}


@dataclass
class Tried:
    """The job and the rows a test may want to change."""

    job_id: UUID
    gauge_id: UUID
    pressed_at: datetime
    blocks: dict[str, UUID] = field(default_factory=dict)
    crushings: dict[str, UUID] = field(default_factory=dict)


def typed(value: float, unit: str) -> dict[str, str]:
    """Return what somebody typed to come to a value."""
    return {"text": f"{value:g}", "unit": unit}


Peaks = dict[str, dict[str, list[float | None]]]


def a_tried_job(
    cast: Cast,
    *,
    peaks: Peaks | None = None,
    number: int = 1,
    calibrated: bool = True,
    valid_until: date = date(2028, 1, 12),
    rules: Criterion | None = None,
) -> Tried:
    """Write a whole job whose blocks were crushed on their day, and move the clock to the day after."""
    tried, rows = _made(
        json.dumps(PEAKS if peaks is None else peaks),
        number,
        valid_until if calibrated else None,
        canonical((rules or published()["nmac-ceb"]).as_data()),
        cast.clock.now,
        cast.ids["tess"],
        cast.customers["cy"],
    )
    with Session(cast.stores.write) as session:
        put(session, rows)
        session.commit()
    cast.clock.now = tried.pressed_at + timedelta(days=8)
    return deepcopy(tried)


@cache
def _made(
    peaks: str, number: int, valid_until: date | None, rules: str, mixed_at: datetime, tess: UUID, customer: UUID
) -> tuple[Tried, Told]:
    """Return a job and its rows: many tests ask for the same one, and making rows takes longer than writing them."""
    bench = _Bench(number, valid_until, rules, mixed_at, tess, customer)
    return bench.job(json.loads(peaks)), told(bench.rows)


def calibrate(
    session: Session,
    gauge_id: UUID,
    points: tuple[tuple[float, float], ...],
    *,
    valid_until: date = date(2028, 1, 12),
    replaces_id: UUID | None = None,
    certified: tuple[float, float | None] = (0.01, None),
) -> UUID:
    """Write a calibration of a gauge, in the place of another if that is named, and return it."""
    calibration, points_read = _calibrated(gauge_id, points, valid_until, replaces_id, certified)
    put(session, told([calibration, *points_read]))
    return calibration.id


def _calibrated(
    gauge_id: UUID,
    points: tuple[tuple[float, float], ...],
    valid_until: date,
    replaces_id: UUID | None = None,
    certified: tuple[float, float | None] = (0.01, None),
) -> tuple[Calibration, list[CalibrationPoint]]:
    calibration = Calibration(
        gauge_id=gauge_id,
        done_on=date(2027, 1, 12),
        valid_from=date(2027, 1, 12),
        valid_until=valid_until,
        reference="Load cell, class 1",
        reference_uncertainty=certified[0],
        coverage_factor=certified[1],
        replaces_id=replaces_id,
        replaced_because="The load cell was read in the wrong unit." if replaces_id else None,
    )
    return calibration, [
        CalibrationPoint(
            calibration_id=calibration.id,
            position=position,
            gauge_mpa=gauge_mpa,
            force_kn=force_kn,
            as_read={"gauge_mpa": typed(gauge_mpa, "MPa"), "force_kn": typed(force_kn, "kN")},
        )
        for position, (gauge_mpa, force_kn) in enumerate(points)
    ]


@dataclass
class _Bench:
    number: int
    valid_until: date | None
    rules: str
    mixed_at: datetime
    tess: UUID
    customer: UUID
    rows: list[Row] = field(default_factory=list)

    def add(self, row: R) -> R:
        self.rows.append(row)
        return row

    def job(self, peaks: Peaks) -> Tried:
        job = self.add(
            Job(
                number=self.number,
                customer_id=self.customer,
                site="Willow Bend",
                question="Is it worth hauling in sand for the garden wall?",
                question_kind="addition",
                wall_thickness_mm=254.0,
                wall_height_m=2.4,
                roof_line_load_kn_m=3.0,
                machine_length_mm=254.0,
                machine_width_mm=254.0,
                machine_height_mm=89.0,
                as_read={"wall_height_m": typed(2.4, "m")},
            )
        )
        rule = json.loads(self.rules)
        self.add(JobCriterion(job_id=job.id, key=rule["key"], edition=rule["edition"], rules=self.rules))
        tried = self._press(job.id)
        soil, sand, cement = self._materials(job.id)
        for label, share, dose in (("A", 1.0, 0.06), ("B", 0.75, 0.06), ("C", 1.0, 0.0), ("D", 1.0, 0.03)):
            if label in peaks:
                self._recipe(tried, label, peaks[label], share=share, dose=dose, of=(soil, sand, cement))
        return tried

    def _press(self, job_id: UUID) -> Tried:
        press = self.add(
            Press(name="Bench press", forms=True, crushes=True, ram_diameter_mm=76.2, efficiency=0.95,
                  rating_kn=150.0, working_limit_kn=125.0)
        )  # fmt: skip
        gauge = self.add(Gauge(press_id=press.id, name="Dial", unit="MPa", graduation_mpa=0.25, full_scale_mpa=40.0))
        if self.valid_until is not None:
            line, points = _calibrated(gauge.id, POINTS, self.valid_until)
            self.rows += [line, *points]
        self.mould = self.add(Mould(name="Bench mould", length_mm=140.0, width_mm=90.0, height_mm=100.0))
        self.press_session = self.add(
            PressSession(gauge_id=gauge.id, opened_at=self.mixed_at + timedelta(days=7), opened_by=self.tess,
                         zero_before_mpa=0.0, as_read={"zero_before_mpa": typed(0.0, "MPa")})
        )  # fmt: skip
        return Tried(job_id, gauge.id, self.mixed_at)

    def _materials(self, job_id: UUID) -> tuple[UUID, UUID, UUID]:
        soil = self.add(Material(kind="soil", name="red silt", customer_id=self.customer))
        sand, cement = (
            self.add(Material(kind="sand", name="river sand")),
            self.add(Material(kind="cement", name="cement")),
        )
        self.add(
            Receipt(job_id=job_id, material_id=soil.id, label=f"S{self.number}", received_at=self.mixed_at,
                    received_by=self.tess, mass_kg=40.0, as_read={"mass_kg": typed(40, "kg")})
        )  # fmt: skip
        for material, per_kg, carbon in ((soil, "0", 0.0), (sand, "0.03", 0.005), (cement, "0.18", 0.86)):
            self.add(Price(material_id=material.id, valid_from=date(2027, 1, 1), per_kg=Decimal(per_kg),
                           carbon_kg_per_kg=carbon, source="invoice of January"))  # fmt: skip
        return soil.id, sand.id, cement.id

    def _recipe(
        self, tried: Tried, label: str, peaks: dict[str, list[float | None]], *, share: float, dose: float,
        of: tuple[UUID, UUID, UUID],
    ) -> None:  # fmt: skip
        recipe = self.add(
            Recipe(job_id=tried.job_id, label=label, target_moisture=0.09, press_stress_mpa=4.0,
                   mould_id=self.mould.id, draw_seed=7, as_read={"target_moisture": typed(9, "%")})
        )  # fmt: skip
        wanted = [(of[0], "component", share, "blend"), (of[1], "component", 1 - share, "blend"),
                  (of[2], "stabiliser", dose, "dry soil")]  # fmt: skip
        batch = self.add(
            Batch(recipe_id=recipe.id, number=1, dry_soil_kg=15.0, scale_graduation_kg=0.005, water_planned_kg=1.35,
                  water_kg=15.0 * (1 + dose) * 0.09, mixed_at=self.mixed_at, mixed_by=self.tess, as_read={})
        )  # fmt: skip
        for position, (material_id, role, part, basis) in enumerate(w for w in wanted if w[2] > 0):
            row = self.add(RecipePart(recipe_id=recipe.id, position=position, material_id=material_id, role=role,
                                      share=part, basis=basis))  # fmt: skip
            mass = 15.0 * part
            self.add(BatchPart(batch_id=batch.id, recipe_part_id=row.id, moisture=0.0, planned_kg=mass, weighed_kg=mass,
                               as_read={"weighed_kg": typed(mass, "kg")}))  # fmt: skip
        position = 0
        for state, soak in (DRY, WET):
            group = self.add(RecipeGroup(recipe_id=recipe.id, condition=state, age_days=7.0, tolerance_hours=6.0,
                                         soak_hours=soak, blocks=len(peaks[state])))  # fmt: skip
            for peak in peaks[state]:
                position += 1
                self._block(tried, batch, group, position, peak, label=f"{self.number}-{label}{position}")

    def _block(
        self, tried: Tried, batch: Batch, group: RecipeGroup, position: int, peak: float | None, *, label: str
    ) -> None:
        block = self.add(
            Block(batch_id=batch.id, recipe_group_id=group.id, position=position, crush_order=position, label=label,
                  pressed_at=self.mixed_at, pressed_by=self.tess, length_mm=140.0, width_mm=90.0, wet_mass_kg=2.60,
                  as_read={"wet_mass_kg": typed(2.6, "kg")})
        )  # fmt: skip
        self.add(BlockHeight(block_id=block.id, position=1, height_mm=100.0, as_read={"height_mm": typed(100, "mm")}))
        tried.blocks[label] = block.id
        crushed_at = self.mixed_at + timedelta(days=7)
        if group.soak_hours:
            self.add(Soak(block_id=block.id, started_at=crushed_at - timedelta(hours=group.soak_hours),
                          started_by=self.tess, ended_at=crushed_at, ended_by=self.tess, as_read={}))  # fmt: skip
        tried.crushings[label] = self._crush(tried, block, group, crushed_at, peak)

    def _crush(self, tried: Tried, block: Block, group: RecipeGroup, crushed_at: datetime, peak: float | None) -> UUID:
        outcome = "fell apart" if peak is None else "held" if peak < 0 else "broke"
        loaded = None if peak is None else abs(peak)
        return self.add(
            Crushing(block_id=block.id, gauge_id=tried.gauge_id, press_session_id=self.press_session.id,
                     outcome=outcome,
                     state=group.condition, gauge_mpa=loaded, held_because="press limit" if outcome == "held" else None,
                     length_mm=140.0, width_mm=90.0, water_hours=group.soak_hours, crushed_at=crushed_at,
                     typed_at=crushed_at, crushed_by=self.tess, failure="hourglass" if outcome == "broke" else None,
                     as_read={"gauge_mpa": typed(loaded, "MPa")} if loaded is not None else {})
        ).id  # fmt: skip


def correct(cast: Cast, tried: Tried, label: str, because: str, **changes: Any) -> None:
    """Correct the standing crushing of a block: a new row in the place of the old one."""
    with Session(cast.stores.write) as session:
        old = session.get(Crushing, tried.crushings[label])
        assert old is not None
        kept = json.loads(json.dumps(old.as_read))
        told = old.model_dump(exclude={"id", "created_at", "replaces_id", "as_read"}) | changes
        old.ended_at, old.ended_by, old.ended_because = cast.clock.now, cast.ids["tess"], because
        session.flush()
        if changes.get("gauge_mpa") is not None:
            kept["gauge_mpa"] = typed(changes["gauge_mpa"], "MPa")
        new = Crushing(**told, replaces_id=old.id, as_read=kept)
        session.add(new)
        session.flush()
        tried.crushings[label] = new.id
        session.commit()
    forget_results()
