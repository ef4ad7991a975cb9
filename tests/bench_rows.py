"""Blocks on the bench of the cast's shop, put there as rows: what curing and crushing begin with."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.records.batches import Batch
from service.records.blocks import Block
from service.records.jobs import Job
from service.records.presses import Calibration, CalibrationPoint, Gauge, Mould, Press
from service.records.recipes import Recipe, RecipeGroup
from tests.cast import Cast

FACE = {"length_mm": 140.0, "width_mm": 90.0}


def press_with_line(cast: Cast, **other: Any) -> UUID:
    """Return a gauge whose force is exactly 1 kN more than 4.2 kN for each MPa, known from 5 to 25 MPa."""
    with Session(cast.stores.write) as session:
        press = Press(
            name="Yellow frame",
            forms=False,
            crushes=True,
            ram_diameter_mm=76.2,
            efficiency=0.95,
            rating_kn=200.0,
            working_limit_kn=130.0,
        )
        session.add(press)
        session.flush()
        given = {"name": "dial", "unit": "MPa", "graduation_mpa": 0.5, "full_scale_mpa": 40.0, **other}
        gauge = Gauge(press_id=press.id, **given)
        session.add(gauge)
        session.flush()
        today = cast.clock.now.date()
        line = Calibration(
            gauge_id=gauge.id,
            done_on=today - timedelta(days=30),
            valid_from=today - timedelta(days=30),
            valid_until=today + timedelta(days=300),
            reference="load cell 3",
        )
        session.add(line)
        session.flush()
        for position, mpa in enumerate((5.0, 15.0, 25.0), start=1):
            point = CalibrationPoint(
                calibration_id=line.id, position=position, gauge_mpa=mpa, force_kn=1.0 + 4.2 * mpa, as_read={}
            )
            session.add(point)
        session.commit()
        return gauge.id


def pressed_job(
    cast: Cast,
    *,
    number: int = 1,
    of: str = "cy",
    pressed_at: datetime | None = None,
    groups: tuple[dict[str, Any], ...] = ({"condition": "air-dry"},),
    blocks: int = 3,
    label: str = "A",
) -> dict[str, UUID]:
    """Return the ids of a job with one recipe and one batch: ``blocks`` blocks in each group, by label."""
    at = pressed_at or cast.clock.now
    with Session(cast.stores.write) as session:
        job = Job(
            number=number,
            customer_id=cast.customers[of],
            site="Lower field",
            question="Is it good enough?",
            question_kind="meets code",
            as_read={},
        )
        mould = Mould(name=f"Small {number}", height_mm=100.0, **FACE)
        session.add_all([job, mould])
        session.flush()
        recipe = Recipe(job_id=job.id, label=label, target_moisture=0.08, mould_id=mould.id, draw_seed=1, as_read={})
        session.add(recipe)
        session.flush()
        batch = Batch(
            recipe_id=recipe.id,
            number=1,
            dry_soil_kg=6.6,
            scale_graduation_kg=0.005,
            water_planned_kg=0.5,
            mixed_at=at,
            mixed_by=cast.ids["tess"],
            as_read={},
        )
        session.add(batch)
        session.flush()
        ids = {"job": job.id, "batch": batch.id, "recipe": recipe.id}
        total = len(groups) * blocks
        for place, given in enumerate(groups):
            group = RecipeGroup(
                **{"recipe_id": recipe.id, "age_days": 7.0, "tolerance_hours": 6.0, "blocks": blocks, **given}
            )
            session.add(group)
            session.flush()
            for n in range(blocks):
                position = place * blocks + n + 1
                block = Block(
                    batch_id=batch.id,
                    recipe_group_id=group.id,
                    position=position,
                    # Drawn in the reverse of the pressing, so that the two orders cannot be taken for each other.
                    crush_order=total + 1 - position,
                    label=f"{number}-{label}1-{position}",
                    pressed_at=at,
                    pressed_by=cast.ids["tess"],
                    wet_mass_kg=2.31,
                    as_read={"wet_mass_kg": {"text": "2.31", "unit": "kg"}},
                    **FACE,
                )
                session.add(block)
                ids[block.label] = block.id
        session.commit()
        return ids
