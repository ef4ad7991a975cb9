"""A job of Cy's that is ready to be planned and mixed: a sack of damp red silt, shop sand and cement, a press, a mould.

All invented. The mould is 140 x 90 x 100 mm; at 1900 kg/m3 a block takes 2.394 kg dry.
"""

from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from service.desk import materials, press_tools
from service.desk.intake import cans, jobs, sacks
from service.desk.intake.cans import CanGiven
from service.desk.intake.jobs import Question
from service.desk.intake.sacks import Sack
from service.desk.mixing.begin_batch import start_batch
from service.desk.mixing.pressing import Pressed, press_block
from service.desk.mixing.sheets import batch
from service.desk.mixing.weighing import weigh
from service.desk.plan.recipes import ComponentGiven, GroupGiven, RecipeGiven, StabiliserGiven, add_recipe
from service.desk.press_tools import GaugeGiven, MouldGiven, PressGiven
from service.typed import Typed
from tests.cast import Cast


def kg(value: float) -> Typed:
    """Return a mass as somebody types it."""
    return Typed(value, f"{value:g}", "kg")


def mm(value: float) -> Typed:
    """Return a length as somebody types it."""
    return Typed(value, f"{value:g}", "mm")


def share(value: float) -> Typed:
    """Return a share as somebody types it."""
    return Typed(value, f"{100 * value:g}", "%")


def hours(value: float) -> Typed:
    """Return hours as somebody types them."""
    return Typed(value, f"{value:g}", "h")


def days(value: float) -> Typed:
    """Return days as somebody types them."""
    return Typed(value, f"{value:g}", "d")


def mpa(value: float) -> Typed:
    """Return a stress as somebody types it."""
    return Typed(value, f"{value:g}", "MPa")


DRY = GroupGiven("as cured", days(7), 5, hours(6))
WET = GroupGiven("soaked", days(7), 5, hours(6), hours(4), hours(24))


@dataclass
class Ready:
    """The job and what may go into its recipes."""

    cast: Cast
    job_id: UUID
    soil: UUID
    sand: UUID
    cement: UUID
    mould: UUID
    gauge: UUID
    sack: UUID
    recipes: list[UUID] = field(default_factory=list)

    def asked(self, *, dose: float = 0.06, basis: str = "dry soil", sand: float = 0.0, **more: Any) -> RecipeGiven:
        """Return Cy's soil with cement, and sand if wanted, two batches of it."""
        components = [ComponentGiven(self.soil, share(1 - sand))]
        if sand:
            components.append(ComponentGiven(self.sand, share(sand)))
        given: dict[str, Any] = {
            "components": tuple(components),
            "stabilisers": (StabiliserGiven(self.cement, share(dose), basis),) if dose else (),
            "groups": (DRY, WET),
            "target_moisture": share(0.10),
            "moisture_basis": "dry mix",
            "mould_id": self.mould,
            "batches": 2,
            "press_stress_mpa": mpa(4),
        }
        return RecipeGiven(**{**given, **more})

    def plan(self, **asked: Any) -> UUID:
        """Plan a recipe."""
        done = add_recipe(self.cast.tess, job_id=self.job_id, asked=self.asked(**asked))
        return done.id

    def begin(self, recipe_id: UUID, **more: Any) -> UUID:
        """Begin the next batch of a recipe, on a scale with steps of 5 g."""
        given: dict[str, Any] = {"scale_graduation_kg": kg(0.005), "moistures": [(self.sand, share(0.02))], **more}
        return start_batch(self.cast.tess, recipe_id=recipe_id, **given).id

    def mix(self, recipe_id: UUID, **more: Any) -> UUID:
        """Begin a batch and weigh it out exactly as planned."""
        batch_id = self.begin(recipe_id, **more)
        sheet = batch(self.cast.tess, batch_id=batch_id)
        weighed = [(part.id, kg(part.planned_kg)) for part in sheet.parts]
        weigh(self.cast.tess, batch_id=batch_id, weighed=weighed, water_kg=kg(sheet.water_planned_kg))
        return batch_id

    def press(self, batch_id: UUID, position: int, **more: Any) -> UUID:
        """Press one block: 2.60 kg, 100 mm high at each corner."""
        pressed = Pressed(charge_kg=kg(2.62), heights_mm=(mm(100),) * 4, wet_mass_kg=kg(2.6))
        given: dict[str, Any] = {"pressed": pressed, **more}
        return press_block(self.cast.tess, batch_id=batch_id, position=position, **given).id


def a_ready_job(cast: Cast, *, sack_kg: float = 60.0, name: str = "cy") -> Ready:
    """Open a job with a sack of damp soil in it: 4 % water by its can."""
    asked = Question("Willow Bend", "How little cement will do?", "least stabiliser")
    job = jobs.open_job(cast.tess, asked=asked, customer_id=cast.customers[name])
    sack = Sack(label=f"J{job.details['number']}-A", mass_kg=kg(sack_kg))
    receipt = sacks.take_in(cast.tess, job_id=job.id, sack=sack, new_soil="red silt")
    # Water 0.040 kg over dry soil 1.000 kg.
    can = CanGiven(kg(1.14), kg(1.1), kg(0.1))
    cans.weigh_cans(cast.tess, receipt_id=receipt.id, cans=[can], method="oven")
    soil = next(line for line in _soils(cast, job.id))
    sand = materials.add_material(cast.olu, kind="sand", name="pit sand").id
    cement = materials.add_material(cast.olu, kind="cement", name="cement").id
    toad = PressGiven(
        name="Old Toad", forms=True, crushes=False, ram_diameter_mm=mm(76.2), rams=1, efficiency=share(0.95),
        rating_kn=None, working_limit_kn=None,
    )  # fmt: skip
    press = press_tools.add_press(cast.olu, given=toad)
    dial = GaugeGiven("dial", graduation_mpa=mpa(0.5), least_mpa=None, full_scale_mpa=mpa(40))
    gauge = press_tools.add_gauge(cast.olu, press_id=press.id, unit="MPa", given=dial)
    mould = press_tools.add_mould(cast.olu, given=MouldGiven("Half", mm(140), mm(90), mm(100)))
    return Ready(cast, job.id, soil, sand, cement, mould.id, gauge.id, receipt.id)


def _soils(cast: Cast, job_id: UUID) -> list[UUID]:
    from sqlmodel import Session

    from service.records.materials import receipts_of_job

    with Session(cast.stores.read) as session:
        return [material.id for _, material in receipts_of_job(session, job_id)]
