"""Soils for programs: sacks as they come, their moisture, and the tests of what is in them."""

from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AwareDatetime, Field

from service.desk.doorway import Done
from service.desk.intake import cans, sacks, sedimentation, sheet, soil_tests
from service.desk.intake import soil as soils
from service.desk.intake.cans import CanGiven
from service.desk.intake.sacks import Sack
from service.desk.intake.sedimentation import ReadingGiven, SuspensionGiven
from service.desk.intake.sheet import SackView
from service.desk.intake.soil import SoilView
from service.desk.intake.soil_tests import About, CupGiven, SieveGiven, ThreadGiven
from service.web.api_input import Count, Line, Name, Number, Sent, Tick, Words, maybe_typed, typed
from service.web.api_sacks import CanForm, SackWords
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["soils"])


class SackForm(SackWords):
    """One sack: of a soil or material that is known, or of a new soil."""

    job_id: UUID
    material_id: UUID | None = None
    new_soil: Annotated[Name | None, Field(description="In place of material_id.", examples=["Red subsoil"])] = None


class CansForm(Sent):
    """Cans dried in one go."""

    cans: Annotated[list[CanForm], Field(min_length=1, max_length=40)]
    method: Literal["oven", "microwave", "stove", "air"] = "oven"
    temperature_c: Annotated[Number | None, Field(le=400, examples=[110.0])] = None
    done_at: AwareDatetime | None = None


class TestForm(Sent):
    """What every test says: from which sack, when, and for a correction which test it replaces and why."""

    receipt_id: UUID | None = None
    done_at: AwareDatetime | None = None
    remark: Words | None = None
    replaces_id: UUID | None = None
    because: Line | None = None

    def about(self) -> About:
        """Return it as the desk takes it."""
        return About(self.receipt_id, self.done_at, self.remark, self.replaces_id, self.because)


class SieveForm(Sent):
    """What one sieve kept, dry."""

    size_mm: Annotated[Number, Field(examples=[4.75])]
    retained_g: Annotated[Number, Field(examples=[12.0])]


class SievesForm(TestForm):
    """A sieving, washed or not."""

    sieves: Annotated[list[SieveForm], Field(min_length=1, max_length=40)]
    dry_mass_g: Annotated[Number, Field(examples=[512.0])]
    washed_dry_mass_g: Number | None = None
    pan_g: Number | None = None


class GramsForm(Sent):
    """A can weighed in grams."""

    wet_g: Annotated[Number, Field(examples=[40.3])]
    dry_g: Annotated[Number, Field(examples=[33.8])]
    can_g: Annotated[Number | None, Field(examples=[15.1])] = None


class CupForm(GramsForm):
    """One closing of the groove."""

    blows: Annotated[Count, Field(examples=[25])]


class FlowForm(TestForm):
    """The closings of the groove in the cup."""

    flow: Annotated[list[CupForm], Field(min_length=1, max_length=40)]
    oven_dried: Annotated[Tick, Field(description="Whether the soil was dried in the oven before.")] = False


class ThreadsForm(TestForm):
    """The threads that crumbled, or that there was none."""

    threads: Annotated[tuple[GramsForm, ...], Field(max_length=40)] = ()
    non_plastic: Tick = False


class ShrinkageForm(TestForm):
    """The box and how much shorter the mud dried."""

    box_length_mm: Annotated[Number, Field(examples=[600.0])]
    box_width_mm: Annotated[Number, Field(examples=[40.0])]
    box_depth_mm: Annotated[Number, Field(examples=[40.0])]
    shrinkage_mm: Annotated[Number, Field(examples=[24.0])]


class BlankForm(Sent):
    """A reading of the hydrometer in the same water without soil."""

    reading: Annotated[Number, Field(examples=[5.0])]
    temperature_c: Annotated[Number, Field(examples=[20.0])]


class SuspendedForm(BlankForm):
    """A reading in the suspension, some minutes after it came to rest."""

    after_min: Annotated[Number, Field(examples=[60.0])]


class HydrometerForm(TestForm):
    """The readings of one suspension."""

    dry_mass_g: Annotated[Number, Field(examples=[50.0])]
    specific_gravity: Annotated[Number, Field(examples=[2.65])]
    separation_mm: Annotated[Number, Field(examples=[2.0])]
    dispersant: Annotated[Line, Field(examples=["5 g of sodium hexametaphosphate"])]
    meniscus: Number | None = None
    volume_l: Number | None = None
    blanks: Annotated[list[BlankForm], Field(min_length=1, max_length=20)]
    readings: Annotated[list[SuspendedForm], Field(min_length=1, max_length=40)]


class JarForm(TestForm):
    """How thick the layers in a settling jar were."""

    sand_mm: Annotated[Number, Field(examples=[65.0])]
    silt_mm: Annotated[Number, Field(examples=[15.0])]
    clay_mm: Annotated[Number, Field(examples=[20.0])]
    gravel_mm: Number | None = None


class BulkForm(TestForm):
    """A vessel filled loosely."""

    filled_kg: Annotated[Number, Field(examples=[13.6])]
    volume_l: Annotated[Number, Field(examples=[10.0])]
    vessel_kg: Number | None = None
    damp: Tick


class SignForm(TestForm):
    """A sign looked for, and whether it was there."""

    kind: Literal["organic", "salts", "pollution", "black cotton"]
    positive: Tick
    sign: Annotated[Line, Field(examples=["white crust on the lumps"])]


@router.post("/soils", status_code=201)
def take_in(caller: ApiCaller, sent: SackForm) -> dict[str, Any]:
    """Add a sack of soil."""
    words = sent.model_dump(exclude={"job_id", "material_id", "new_soil", "mass_kg", "depth_m"})
    sack = Sack(mass_kg=typed(sent.mass_kg, "kg"), depth_m=maybe_typed(sent.depth_m, "m"), **words)
    done = sacks.take_in(caller, job_id=sent.job_id, sack=sack, material_id=sent.material_id, new_soil=sent.new_soil)
    return {"id": done.id, "label": done.details["label"], "material_id": done.details["material"]}


@router.get("/sacks/{receipt_id}")
def show_sack(caller: ApiCaller, receipt_id: UUID) -> SackView:
    """Give a sack with its cans, its preparation and its corrections."""
    return sheet.sack(caller, receipt_id=receipt_id)


@router.post("/sacks/{receipt_id}/cans", status_code=201)
def weigh_cans(caller: ApiCaller, receipt_id: UUID, sent: CansForm) -> dict[str, Any]:
    """Save moisture cans of a sack."""
    given = [
        CanGiven(typed(one.wet_kg, "kg"), typed(one.dry_kg, "kg"), maybe_typed(one.can_kg, "kg")) for one in sent.cans
    ]
    done = cans.weigh_cans(
        caller,
        receipt_id=receipt_id,
        cans=given,
        method=sent.method,
        temperature_c=maybe_typed(sent.temperature_c, "°C"),
        done_at=sent.done_at,
    )
    return {"id": done.id, "cans": done.details["cans"], "moisture": done.details["moisture"]}


@router.get("/soils/{material_id}")
def show_soil(caller: ApiCaller, material_id: UUID) -> SoilView:
    """Give a soil with all its tests."""
    return soils.soil(caller, material_id=material_id)


@router.post("/soils/{material_id}/sieves", status_code=201)
def record_sieves(caller: ApiCaller, material_id: UUID, sent: SievesForm) -> dict[str, Any]:
    """Save a sieving."""
    done = soil_tests.record_sieves(
        caller,
        material_id=material_id,
        sieves=[SieveGiven(typed(one.size_mm, "mm"), typed(one.retained_g, "g")) for one in sent.sieves],
        dry_mass_g=typed(sent.dry_mass_g, "g"),
        washed_dry_mass_g=maybe_typed(sent.washed_dry_mass_g, "g"),
        pan_g=maybe_typed(sent.pan_g, "g"),
        about=sent.about(),
    )
    return _told(done, "loss_share")


@router.post("/soils/{material_id}/flow", status_code=201)
def record_flow(caller: ApiCaller, material_id: UUID, sent: FlowForm) -> dict[str, Any]:
    """Save blow counts of the groove."""
    flow = [
        CupGiven(one.blows, typed(one.wet_g, "g"), typed(one.dry_g, "g"), maybe_typed(one.can_g, "g"))
        for one in sent.flow
    ]
    done = soil_tests.record_flow(
        caller, material_id=material_id, flow=flow, oven_dried=sent.oven_dried, about=sent.about()
    )
    return _told(done, "liquid_limit")


@router.post("/soils/{material_id}/threads", status_code=201)
def record_threads(caller: ApiCaller, material_id: UUID, sent: ThreadsForm) -> dict[str, Any]:
    """Save threads that crumbled."""
    threads = [
        ThreadGiven(typed(one.wet_g, "g"), typed(one.dry_g, "g"), maybe_typed(one.can_g, "g")) for one in sent.threads
    ]
    done = soil_tests.record_threads(
        caller, material_id=material_id, threads=threads, non_plastic=sent.non_plastic, about=sent.about()
    )
    return _told(done, "waters")


@router.post("/soils/{material_id}/shrinkage", status_code=201)
def record_shrinkage(caller: ApiCaller, material_id: UUID, sent: ShrinkageForm) -> dict[str, Any]:
    """Save shrinkage of the box."""
    done = soil_tests.record_shrinkage(
        caller,
        material_id=material_id,
        box_length_mm=typed(sent.box_length_mm, "mm"),
        box_width_mm=typed(sent.box_width_mm, "mm"),
        box_depth_mm=typed(sent.box_depth_mm, "mm"),
        shrinkage_mm=typed(sent.shrinkage_mm, "mm"),
        about=sent.about(),
    )
    return _told(done, "shrinkage")


@router.post("/soils/{material_id}/hydrometer", status_code=201)
def record_hydrometer(caller: ApiCaller, material_id: UUID, sent: HydrometerForm) -> dict[str, Any]:
    """Save readings of a hydrometer."""
    suspension = SuspensionGiven(
        dry_mass_g=typed(sent.dry_mass_g, "g"),
        specific_gravity=typed(sent.specific_gravity, "of 1"),
        separation_mm=typed(sent.separation_mm, "mm"),
        dispersant=sent.dispersant,
        meniscus=maybe_typed(sent.meniscus, "of 1"),
        volume_l=maybe_typed(sent.volume_l, "L"),
    )
    done = sedimentation.record_hydrometer(
        caller,
        material_id=material_id,
        suspension=suspension,
        blanks=[ReadingGiven(typed(one.reading, "of 1"), typed(one.temperature_c, "°C")) for one in sent.blanks],
        readings=[
            ReadingGiven(typed(one.reading, "of 1"), typed(one.temperature_c, "°C"), typed(one.after_min, "min"))
            for one in sent.readings
        ],
        about=sent.about(),
    )
    return _told(done, "sizes_mm")


@router.post("/soils/{material_id}/jar", status_code=201)
def record_jar(caller: ApiCaller, material_id: UUID, sent: JarForm) -> dict[str, Any]:
    """Save layers of a settling jar."""
    done = sedimentation.record_jar(
        caller,
        material_id=material_id,
        sand_mm=typed(sent.sand_mm, "mm"),
        silt_mm=typed(sent.silt_mm, "mm"),
        clay_mm=typed(sent.clay_mm, "mm"),
        gravel_mm=maybe_typed(sent.gravel_mm, "mm"),
        about=sent.about(),
    )
    return _told(done, "clay_share")


@router.post("/soils/{material_id}/bulk", status_code=201)
def record_bulk(caller: ApiCaller, material_id: UUID, sent: BulkForm) -> dict[str, Any]:
    """Save a bulk density."""
    done = sedimentation.record_bulk(
        caller,
        material_id=material_id,
        filled_kg=typed(sent.filled_kg, "kg"),
        volume_l=typed(sent.volume_l, "L"),
        vessel_kg=maybe_typed(sent.vessel_kg, "kg"),
        damp=sent.damp,
        about=sent.about(),
    )
    return _told(done, "kg_l")


@router.post("/soils/{material_id}/signs", status_code=201)
def record_sign(caller: ApiCaller, material_id: UUID, sent: SignForm) -> dict[str, Any]:
    """Save a sign, and whether it was seen."""
    done = soil_tests.record_sign(
        caller,
        material_id=material_id,
        kind=sent.kind,
        positive=sent.positive,
        sign=sent.sign,
        about=sent.about(),
    )
    return _told(done, "positive")


def _told(done: Done, name: str) -> dict[str, Any]:
    return {"id": done.id, name: done.details[name]}
