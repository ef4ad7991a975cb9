"""One small invented shop for the tests of the records: a job of Cy's with a recipe, a batch and three blocks."""

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Any

from sqlmodel import Session

from service.records.base import Row
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block
from service.records.crushings import Crushing
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.materials import Material, Receipt
from service.records.people import Person
from service.records.presses import Gauge, Mould, Press
from service.records.recipes import Recipe, RecipeGroup, RecipePart

PRESSED = datetime(2027, 3, 1, 22, 20, tzinfo=UTC)
WEEK = timedelta(days=7)


@dataclass
class SmallShop:
    """The rows that most tests need, by name."""

    session: Session
    rows: dict[str, Any] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Any:
        """Return a row by the name it was added under."""
        try:
            return self.__dict__["rows"][name]
        except KeyError:
            raise AttributeError(name) from None

    def add(self, **rows: Row) -> None:
        """Add rows one after the other, since later ones point at earlier ones."""
        for name, row in rows.items():
            self.session.add(row)
            self.session.flush()
            self.rows[name] = row

    def crushing(self, block: Block, **other: Any) -> Crushing:
        """Return a crushing that broke at 9 MPa on the gauge, not yet added."""
        given: dict[str, Any] = {
            "block_id": block.id,
            "gauge_id": self.gauge.id,
            "outcome": "broke",
            "state": "air-dry",
            "gauge_mpa": 9.0,
            "length_mm": 140.0,
            "width_mm": 90.0,
            "crushed_at": PRESSED + WEEK,
            "typed_at": PRESSED + WEEK,
            "crushed_by": self.tess.id,
            "as_read": {"gauge_mpa": {"text": "9.0", "unit": "MPa"}},
        }
        return Crushing(**{**given, **other})

    def block(self, position: int, **other: Any) -> Block:
        """Return a block of the batch, not yet added."""
        given: dict[str, Any] = {
            "batch_id": self.batch.id,
            "recipe_group_id": self.group.id,
            "position": position,
            "crush_order": position,
            "label": f"1-A-{position}",
            "pressed_at": PRESSED,
            "pressed_by": self.tess.id,
            "length_mm": 140.0,
            "width_mm": 90.0,
            "wet_mass_kg": 2.31,
            "as_read": {"wet_mass_kg": {"text": "2.31", "unit": "kg"}},
        }
        return Block(**{**given, **other})


def furnish(session: Session) -> SmallShop:
    """Return the small shop, its rows flushed into the session."""
    shop = SmallShop(session)
    shop.add(cy_customer=Customer(name="Cy"), dov_customer=Customer(name="Dov"))
    shop.add(
        olu=Person(name="Olu", email="olu@example.org", role="owner"),
        tess=Person(name="Tess", email="tess@example.org", role="technician"),
        cy=Person(name="Cy", email="cy@example.org", role="customer", customer_id=shop.cy_customer.id),
    )
    shop.add(
        job=Job(
            number=1,
            customer_id=shop.cy_customer.id,
            site="Lower field",
            question="Is it good enough?",
            question_kind="meets code",
            as_read={},
        ),
        soil=Material(kind="soil", name="Lower field soil", customer_id=shop.cy_customer.id),
        cement=Material(kind="cement", name="Cement"),
    )
    shop.add(
        sack=Receipt(
            job_id=shop.job.id,
            material_id=shop.soil.id,
            label="1-S1",
            received_at=PRESSED - WEEK,
            received_by=shop.tess.id,
            mass_kg=22.0,
            as_read={"mass_kg": {"text": "22.0", "unit": "kg"}},
        ),
        press=Press(
            name="Bench press",
            forms=True,
            crushes=True,
            ram_diameter_mm=76.2,
            efficiency=0.95,
            rating_kn=200.0,
            working_limit_kn=160.0,
        ),
        mould=Mould(name="Small", length_mm=140.0, width_mm=90.0, height_mm=120.0),
    )
    shop.add(
        gauge=Gauge(press_id=shop.press.id, name="Dial", unit="MPa", graduation_mpa=0.5, full_scale_mpa=40.0),
        recipe=Recipe(
            job_id=shop.job.id,
            label="A",
            target_moisture=0.08,
            mould_id=shop.mould.id,
            draw_seed=1,
            mix_on=date(2027, 3, 1),
            as_read={},
        ),
    )
    shop.add(
        part=RecipePart(
            recipe_id=shop.recipe.id, position=1, material_id=shop.soil.id, role="component", share=1.0, basis="blend"
        ),
        group=RecipeGroup(recipe_id=shop.recipe.id, condition="air-dry", age_days=7.0, tolerance_hours=6.0, blocks=3),
        batch=Batch(
            recipe_id=shop.recipe.id,
            number=1,
            dry_soil_kg=6.6,
            scale_graduation_kg=0.005,
            water_planned_kg=0.5,
            mixed_at=PRESSED,
            mixed_by=shop.tess.id,
            as_read={},
        ),
    )
    shop.add(
        weighed=BatchPart(
            batch_id=shop.batch.id,
            recipe_part_id=shop.part.id,
            receipt_id=shop.sack.id,
            moisture=0.03,
            planned_kg=6.798,
            weighed_kg=6.8,
            as_read={"weighed_kg": {"text": "6.800", "unit": "kg"}},
        )
    )
    shop.add(**{f"block_{n}": shop.block(n) for n in (1, 2, 3)})
    return shop
