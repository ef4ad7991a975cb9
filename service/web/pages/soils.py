"""One soil: its curve, its limits, and the tests they rest on."""

from math import nan
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.intake import sedimentation, soil_tests, unfinished
from service.desk.intake import soil as soils
from service.desk.intake.sedimentation import ReadingGiven, SuspensionGiven
from service.desk.intake.soil import SoilView
from service.desk.intake.soil_tests import About, CupGiven, SieveGiven, ThreadGiven
from service.paper.charts import grading_chart, plasticity_chart
from service.paper.soil_points import Curve, Envelope, LimitsPoint
from service.trade.soil.grading_envelopes import Envelope as HeldTo
from service.trade.sources import SOURCES
from service.typed import Typed, number_of
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, at_rows, reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.sieves import USUAL
from service.words.units import offered, unit_label

router = Room(prefix="/soils/{material_id}")

KINDS = (
    ("sieve", "Sieving"),
    ("flow", "Cup"),
    ("thread", "Threads"),
    ("shrinkage", "Shrinkage box"),
    ("organic", "Sign of organics"),
    ("salts", "Sign of salts"),
    ("hydrometer", "Hydrometer"),
    ("jar", "Settling jar"),
    ("bulk", "Bulk density"),
)
# What the page asks for by itself, one after the other.
NEEDED = ("sieve", "flow", "thread", "shrinkage", "organic", "salts")
PLACES = {
    "sieve": "sieves",
    "flow": "flow",
    "thread": "threads",
    "shrinkage": "shrinkage",
    "organic": "signs",
    "salts": "signs",
    "hydrometer": "hydrometer",
    "jar": "jar",
    "bulk": "bulk",
}
SPARE_ROWS = 3
CUP_ROWS, THREAD_ROWS = 4, 3
BLANK_ROWS, READING_ROWS = 2, 8
SIGNS = (
    ("organic", "Organics"),
    ("salts", "Salts"),
    ("pollution", "Pollution"),
    ("black cotton", "Black cotton soil"),
)
STATES = (("damp", "damp"), ("dry", "dry"))
FOUND = (("no", "Not there"), ("yes", "There"))


@router.get("")
def show(request: Request, caller: StaffCaller, material_id: UUID, envelope: str = "") -> HTMLResponse:
    """Show everything that is known of a soil, its curve in the envelope that was asked for."""
    soil = soils.soil(caller, material_id=material_id)
    drawn = next((one for one in soil.envelopes if one.envelope.key == envelope), soil.envelopes[-1])
    return page(
        request,
        "soil.html",
        caller=caller,
        soil=soil,
        curve=_curve(soil, drawn.envelope),
        drawn=drawn.envelope.key,
        sources={key: one.named for key, one in SOURCES.items()},
        chart=_chart(soil),
        kinds=KINDS,
        needed=NEEDED,
        places=PLACES,
        sacks=[(sack.id, sack.label) for sack in soil.sacks],
        mass_units=[(unit, unit_label(unit)) for unit in offered("sieve_mass", caller.shop.units_first)],
        sieves=USUAL[caller.shop.units_first],
        spare=SPARE_ROWS,
        cup_rows=CUP_ROWS,
        thread_rows=THREAD_ROWS,
        signs=SIGNS,
        found=FOUND,
        blank_rows=BLANK_ROWS,
        reading_rows=READING_ROWS,
        states=STATES,
        halves=unfinished.halves(caller, subject_id=material_id),
    )


def _curve(soil: SoilView, held_to: HeldTo) -> str:
    if soil.grading is None:
        return ""
    drawn = [(soil.name, soil.grading.curve)]
    if soil.grading.as_dug is not None:
        drawn = [(f"{soil.name}, as prepared", soil.grading.curve), ("as dug", soil.grading.as_dug)]
    curves = tuple(Curve(name, tuple((one.size_mm, one.share) for one in curve.points)) for name, curve in drawn)
    edges = tuple((bound.size_mm, bound.low, bound.high) for bound in held_to.bounds)
    return grading_chart(curves, Envelope(held_to.name, edges), prefix="grading")


def _chart(soil: SoilView) -> str:
    limits = soil.plasticity.limits
    if limits is None:
        return ""
    point = LimitsPoint(soil.name, limits.liquid_limit, limits.plasticity_index)
    return plasticity_chart((point,), prefix="plasticity")


def _about(read: FormReader) -> About:
    replaces_id = read.maybe_id("replaces_id")
    return About(
        receipt_id=read.maybe_id("receipt_id"),
        done_at=read.maybe_moment("done_at"),
        remark=read.maybe_text("remark", most=1000),
        replaces_id=replaces_id,
        because=read.text("because") if replaces_id else None,
    )


@router.post("/sieves")
@form_of("/soils/{material_id}")
def record_sieves(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep a sieving."""
    with reading(form, caller.shop) as read:
        # A size without a mass is a sieve of the usual set that was not used.
        rows, unit = read.numbered("sieves", ("retained_g",)), read.raw("mass_unit")
        kept = [
            SieveGiven(
                size_mm=_opening(read, f"sieves.{row}.size_mm"),
                retained_g=read.quantity(f"sieves.{row}.retained_g", "sieve_mass", unit),
            )
            for row in rows
        ]
        dry, about = read.quantity("dry_mass_g", "sieve_mass"), _about(read)
        washed, pan = (read.maybe_quantity(name, "sieve_mass") for name in ("washed_dry_mass_g", "pan_g"))
    with at_rows("sieves", rows):
        soil_tests.record_sieves(
            caller,
            material_id=material_id,
            sieves=kept,
            dry_mass_g=dry,
            washed_dry_mass_g=washed,
            pan_g=pan,
            about=about,
        )
    return see(f"/soils/{material_id}")


def _opening(read: FormReader, name: str) -> Typed:
    # Where sieves have numbers, 40 may be meant as one: only a metric shop writes openings bare.
    if read.shop.units_first == "imperial" and number_of(read.raw(name)) is not None:
        read.wrong(name, "Name the sieve, such as 3/8 in or No. 40, or its opening with mm behind it.")
        return Typed(nan, "", "")
    return read.quantity(name, "opening", "mm")


@router.post("/flow")
@form_of("/soils/{material_id}")
def record_flow(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Save blow counts of the groove."""
    with reading(form, caller.shop) as read:
        rows, unit = read.numbered("flow", ("blows", "wet_g", "dry_g")), read.raw("mass_unit")
        flow = [
            CupGiven(
                blows=read.count(f"flow.{row}.blows", least=1, most=200),
                wet_g=read.quantity(f"flow.{row}.wet_g", "sieve_mass", unit),
                dry_g=read.quantity(f"flow.{row}.dry_g", "sieve_mass", unit),
                can_g=read.maybe_quantity(f"flow.{row}.can_g", "sieve_mass", unit),
            )
            for row in rows
        ]
        about, oven_dried = _about(read), read.tick("oven_dried")
    with at_rows("flow", rows):
        soil_tests.record_flow(caller, material_id=material_id, flow=flow, oven_dried=oven_dried, about=about)
    return see(f"/soils/{material_id}")


@router.post("/threads")
@form_of("/soils/{material_id}")
def record_threads(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Save threads that crumbled."""
    with reading(form, caller.shop) as read:
        rows, unit = read.numbered("threads", ("wet_g", "dry_g")), read.raw("mass_unit")
        threads = [
            ThreadGiven(
                wet_g=read.quantity(f"threads.{row}.wet_g", "sieve_mass", unit),
                dry_g=read.quantity(f"threads.{row}.dry_g", "sieve_mass", unit),
                can_g=read.maybe_quantity(f"threads.{row}.can_g", "sieve_mass", unit),
            )
            for row in rows
        ]
        about, non_plastic = _about(read), read.tick("non_plastic")
    with at_rows("threads", rows):
        soil_tests.record_threads(
            caller, material_id=material_id, threads=threads, non_plastic=non_plastic, about=about
        )
    return see(f"/soils/{material_id}")


@router.post("/shrinkage")
@form_of("/soils/{material_id}")
def record_shrinkage(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Save shrinkage of the box."""
    with reading(form, caller.shop) as read:
        length, width, depth = (read.quantity(f"box_{side}_mm", "length") for side in ("length", "width", "depth"))
        shrinkage, about = read.quantity("shrinkage_mm", "length"), _about(read)
    soil_tests.record_shrinkage(
        caller,
        material_id=material_id,
        box_length_mm=length,
        box_width_mm=width,
        box_depth_mm=depth,
        shrinkage_mm=shrinkage,
        about=about,
    )
    return see(f"/soils/{material_id}")


@router.post("/signs")
@form_of("/soils/{material_id}")
def record_sign(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Save what was seen, and whether it was there."""
    with reading(form, caller.shop) as read:
        kind = read.choice("kind", tuple(kind for kind, _ in SIGNS))
        positive = read.choice("positive", tuple(word for word, _ in FOUND)) == "yes"
        sign, about = read.text("sign", most=120), _about(read)
    soil_tests.record_sign(caller, material_id=material_id, kind=kind, positive=positive, sign=sign, about=about)
    return see(f"/soils/{material_id}")


@router.post("/hydrometer")
@form_of("/soils/{material_id}")
def record_hydrometer(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Save readings of a hydrometer."""
    with reading(form, caller.shop) as read:
        suspension = SuspensionGiven(
            dry_mass_g=read.quantity("dry_mass_g", "sieve_mass"),
            specific_gravity=read.quantity("specific_gravity", "plain"),
            separation_mm=read.quantity("separation_mm", "opening"),
            dispersant=read.text("dispersant", most=120),
            meniscus=read.maybe_quantity("meniscus", "plain"),
            volume_l=read.maybe_quantity("volume_l", "volume"),
        )
        blank_rows = read.numbered("blanks", ("reading", "temperature_c"))
        rows = read.numbered("readings", ("after_min", "reading", "temperature_c"))
        blanks = [_hydrometer_reading(read, f"blanks.{row}", timed=False) for row in blank_rows]
        readings = [_hydrometer_reading(read, f"readings.{row}", timed=True) for row in rows]
        about = _about(read)
    with at_rows("blanks", blank_rows), at_rows("readings", rows):
        sedimentation.record_hydrometer(
            caller, material_id=material_id, suspension=suspension, blanks=blanks, readings=readings, about=about
        )
    return see(f"/soils/{material_id}")


def _hydrometer_reading(read: FormReader, row: str, *, timed: bool) -> ReadingGiven:
    return ReadingGiven(
        reading=read.quantity(f"{row}.reading", "plain"),
        temperature_c=read.quantity(f"{row}.temperature_c", "temperature", "°C"),
        after_min=read.quantity(f"{row}.after_min", "minutes", "min") if timed else None,
    )


@router.post("/jar")
@form_of("/soils/{material_id}")
def record_jar(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Save layers of a settling jar."""
    with reading(form, caller.shop) as read:
        sand, silt, clay = (read.quantity(f"{layer}_mm", "length") for layer in ("sand", "silt", "clay"))
        gravel, about = read.maybe_quantity("gravel_mm", "length"), _about(read)
    sedimentation.record_jar(
        caller, material_id=material_id, sand_mm=sand, silt_mm=silt, clay_mm=clay, gravel_mm=gravel, about=about
    )
    return see(f"/soils/{material_id}")


@router.post("/bulk")
@form_of("/soils/{material_id}")
def record_bulk(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep how heavily it lies."""
    with reading(form, caller.shop) as read:
        filled, volume = read.quantity("filled_kg", "mass"), read.quantity("volume_l", "volume")
        vessel, about = read.maybe_quantity("vessel_kg", "mass"), _about(read)
        damp = read.choice("state", tuple(state for state, _ in STATES)) == "damp"
    sedimentation.record_bulk(
        caller,
        material_id=material_id,
        filled_kg=filled,
        volume_l=volume,
        damp=damp,
        vessel_kg=vessel,
        about=about,
    )
    return see(f"/soils/{material_id}")


@router.post("/tests/{test_id}/end")
@form_of("/soils/{material_id}")
def exclude_test(caller: StaffCaller, form: SentForm, material_id: UUID, test_id: UUID) -> RedirectResponse:
    """Let a test no longer count."""
    with reading(form, caller.shop) as read:
        because = read.text("because")
    soil_tests.exclude_test(caller, test_id=test_id, because=because, material_id=material_id)
    return see(f"/soils/{material_id}")


@router.post("/later")
@form_of("/soils/{material_id}")
def keep_for_later(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep what was typed of a form that is finished another day."""
    with reading(form, caller.shop) as read:
        typed = read.so_far()
    unfinished.keep(caller, subject_id=material_id, form=typed.get("form", ""), typed=typed)
    return see(f"/soils/{material_id}")
