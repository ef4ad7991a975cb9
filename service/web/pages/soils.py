"""One soil: its curve, its limits, and the tests they rest on."""

from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.intake import soil as soils
from service.desk.intake import tests
from service.desk.intake.soil import SoilView
from service.desk.intake.tests import About, CupGiven, SieveGiven, ThreadGiven
from service.paper.charts import Curve, LimitsPoint, grading_chart, plasticity_chart
from service.web.caller import SentForm, StaffCaller
from service.web.forms import FormReader, at_rows, reading
from service.web.refusals import form_of
from service.web.render import page, see
from service.words.figures import unit_label
from service.words.quantities import offered

router = APIRouter(prefix="/soils/{material_id}")

KINDS = (
    ("sieve", "Sieving"),
    ("flow", "Cup"),
    ("thread", "Threads"),
    ("shrinkage", "Shrinkage box"),
    ("organic", "Sign of organics"),
    ("salts", "Sign of salts"),
)
PLACES = {
    "sieve": "sieves",
    "flow": "flow",
    "thread": "threads",
    "shrinkage": "shrinkage",
    "organic": "signs",
    "salts": "signs",
}
# Openings of the common woven-wire series, coarse to fine.
SIEVES_MM = ("19", "9.5", "4.75", "2", "0.85", "0.425", "0.25", "0.15", "0.075")
SPARE_ROWS = 3
CUP_ROWS, THREAD_ROWS = 4, 3
SIGNS = (("organic", "Organics"), ("salts", "Salts"))
FOUND = (("no", "Not there"), ("yes", "There"))


@router.get("")
def show(request: Request, caller: StaffCaller, material_id: UUID) -> HTMLResponse:
    """Show everything that is known of a soil."""
    soil = soils.soil(caller, material_id=material_id)
    return page(
        request,
        "soil.html",
        caller=caller,
        soil=soil,
        curve=_curve(soil),
        chart=_chart(soil),
        kinds=KINDS,
        places=PLACES,
        sacks=[(sack.id, sack.label) for sack in soil.sacks],
        mass_units=[(unit, unit_label(unit)) for unit in offered("sieve_mass", caller.shop.units_first)],
        sieves_mm=SIEVES_MM,
        spare=SPARE_ROWS,
        cup_rows=CUP_ROWS,
        thread_rows=THREAD_ROWS,
        signs=SIGNS,
        found=FOUND,
    )


def _curve(soil: SoilView) -> str:
    if soil.grading is None:
        return ""
    points = tuple((point.size_mm, point.share) for point in soil.grading.curve.points)
    return grading_chart((Curve(soil.name, points),), prefix="grading")


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
                size_mm=read.quantity(f"sieves.{row}.size_mm", "small_length", "mm"),
                retained_g=read.quantity(f"sieves.{row}.retained_g", "sieve_mass", unit),
            )
            for row in rows
        ]
        dry, about = read.quantity("dry_mass_g", "sieve_mass"), _about(read)
        washed, pan = (read.maybe_quantity(name, "sieve_mass") for name in ("washed_dry_mass_g", "pan_g"))
    with at_rows("sieves", rows):
        tests.record_sieves(
            caller,
            material_id=material_id,
            sieves=kept,
            dry_mass_g=dry,
            washed_dry_mass_g=washed,
            pan_g=pan,
            about=about,
        )
    return see(f"/soils/{material_id}")


@router.post("/flow")
@form_of("/soils/{material_id}")
def record_flow(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep the closings of the groove."""
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
        about = _about(read)
    with at_rows("flow", rows):
        tests.record_flow(caller, material_id=material_id, flow=flow, about=about)
    return see(f"/soils/{material_id}")


@router.post("/threads")
@form_of("/soils/{material_id}")
def record_threads(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep the threads that crumbled."""
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
        tests.record_threads(caller, material_id=material_id, threads=threads, non_plastic=non_plastic, about=about)
    return see(f"/soils/{material_id}")


@router.post("/shrinkage")
@form_of("/soils/{material_id}")
def record_shrinkage(caller: StaffCaller, form: SentForm, material_id: UUID) -> RedirectResponse:
    """Keep the shrinkage of the box."""
    with reading(form, caller.shop) as read:
        length, width, depth = (read.quantity(f"box_{side}_mm", "length") for side in ("length", "width", "depth"))
        shrinkage, about = read.quantity("shrinkage_mm", "length"), _about(read)
    tests.record_shrinkage(
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
    """Keep what was looked for, and whether it was there."""
    with reading(form, caller.shop) as read:
        kind = read.choice("kind", tuple(kind for kind, _ in SIGNS))
        positive = read.choice("positive", tuple(word for word, _ in FOUND)) == "yes"
        sign, about = read.text("sign", most=120), _about(read)
    tests.record_sign(caller, material_id=material_id, kind=kind, positive=positive, sign=sign, about=about)
    return see(f"/soils/{material_id}")


@router.post("/tests/{test_id}/end")
@form_of("/soils/{material_id}")
def set_aside_test(caller: StaffCaller, form: SentForm, material_id: UUID, test_id: UUID) -> RedirectResponse:
    """Let a test no longer count."""
    with reading(form, caller.shop) as read:
        because = read.text("because")
    tests.set_aside_test(caller, test_id=test_id, because=because)
    return see(f"/soils/{material_id}")
