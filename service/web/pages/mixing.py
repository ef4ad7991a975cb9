"""At the mixer: the round of a job, the form of a batch, and its sheet."""

from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import jobs_in_hand
from service.desk.mixing import begin_batch, cancelling, sheets, weighing
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

DRYING = (("oven", "in the oven"), ("microwave", "in the microwave"), ("stove", "on the stove"), ("air", "in the air"))


@router.get("/jobs/{job_id}/mixing")
def show_round(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show the recipes of a job with their batches, and what is next."""
    round_ = sheets.round_of(caller, job_id=job_id)
    return page(request, "mixing.html", caller=caller, job=jobs_in_hand.card(caller, job_id=job_id), round=round_)


@router.get("/recipes/{recipe_id}/mix")
def show_start(request: Request, caller: StaffCaller, recipe_id: UUID) -> HTMLResponse:
    """Show the form of the next batch of a recipe."""
    asked = begin_batch.start_form(caller, recipe_id=recipe_id)
    job = jobs_in_hand.card(caller, job_id=asked.job_id)
    return page(request, "mix.html", caller=caller, job=job, asked=asked)


@router.post("/recipes/{recipe_id}/mix")
@form_of("/recipes/{recipe_id}/mix")
def start(caller: StaffCaller, form: SentForm, recipe_id: UUID) -> RedirectResponse:
    """Begin a batch."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "scale_graduation_kg": read.quantity("scale_graduation_kg", "mass"),
            "dry_mass_per_block_kg": read.maybe_quantity("dry_mass_per_block_kg", "mass"),
            "waste": read.maybe_quantity("waste", "share", unit="%"),
            "test_charges": read.count("test_charges", most=5),
            "mixer_kg": read.maybe_quantity("mixer_kg", "mass"),
            "moistures": list(read.by_id("moistures", kind="moisture", unit="%").items()),
        }
    done = begin_batch.start_batch(caller, recipe_id=recipe_id, **given)
    return see(f"/batches/{done.id}")


@router.post("/batches/{batch_id}/cancel")
@form_of("/batches/{batch_id}")
def cancel(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Take back a batch that was begun by mistake."""
    with reading(form, caller.shop) as read:
        because, job_id = read.text("because", most=400), read.id("job_id")
    cancelling.cancel_batch(caller, batch_id=batch_id, because=because)
    return see(f"/jobs/{job_id}/mixing")


@router.get("/batches/{batch_id}")
def show(request: Request, caller: StaffCaller, batch_id: UUID) -> HTMLResponse:
    """Show the sheet of a batch."""
    sheet = sheets.batch(caller, batch_id=batch_id)
    job = jobs_in_hand.card(caller, job_id=sheet.job_id)
    return page(request, "batch.html", caller=caller, job=job, batch=sheet, drying=DRYING)


@router.post("/batches/{batch_id}/weighed")
@form_of("/batches/{batch_id}")
def weigh(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Save masses."""
    with reading(form, caller.shop) as read:
        given = _masses(read) | {"remark": read.maybe_text("remark", most=400)}
    weighing.weigh(caller, batch_id=batch_id, **given)
    return see(f"/batches/{batch_id}")


@router.post("/batches/{batch_id}/corrections")
@form_of("/batches/{batch_id}")
def correct(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Correct what was weighed."""
    with reading(form, caller.shop) as read:
        given = _masses(read) | {"because": read.text("because", most=400)}
    weighing.correct_weighing(caller, batch_id=batch_id, **given)
    return see(f"/batches/{batch_id}")


def _masses(read: FormReader) -> dict[str, Any]:
    # One unit for the whole sheet: everything stood on the same scale.
    unit = read.raw("weighed_unit") or None
    return {
        "weighed": list(read.by_id("weighed_kg", kind="mass", unit=unit).items()),
        "water_kg": read.maybe_quantity("water_kg", "mass", unit=unit),
        "wetted_at": read.maybe_moment("wetted_at"),
    }


@router.post("/batches/{batch_id}/cans")
@form_of("/batches/{batch_id}")
def weigh_can(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Keep a can of the mix."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "wet_kg": read.quantity("wet_kg", "small_mass"),
            "dry_kg": read.quantity("dry_kg", "small_mass"),
            "can_kg": read.maybe_quantity("can_kg", "small_mass"),
            "method": read.choice("method", tuple(name for name, _ in DRYING)),
            "temperature_c": read.maybe_quantity("temperature_c", "temperature"),
        }
    weighing.weigh_can(caller, batch_id=batch_id, **given)
    return see(f"/batches/{batch_id}")


@router.post("/batches/{batch_id}/cans/{can_id}/exclude")
@form_of("/batches/{batch_id}")
def exclude_can(caller: StaffCaller, form: SentForm, batch_id: UUID, can_id: UUID) -> RedirectResponse:
    """Set a can of the mix aside, with a reason."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=400)
    weighing.exclude_can(caller, can_id=can_id, because=because, batch_id=batch_id)
    return see(f"/batches/{batch_id}")
