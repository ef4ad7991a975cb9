"""The moisture trial of a job, where the water of its recipes is chosen."""

from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import jobs_in_hand
from service.desk.plan import moisture
from service.desk.plan.moisture import MoistureSheet
from service.paper.moisture_chart import moisture_chart
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room
from service.words.units import Units, convert, unit_label

router = Room(prefix="/jobs/{job_id}/plan/moisture")


@router.get("")
def show(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show the blocks tried, what they say, and the form of another."""
    sheet = moisture.trial(caller, job_id=job_id)
    job = jobs_in_hand.card(caller, job_id=job_id)
    chart = _chart(sheet, caller.shop.units_first)
    return page(request, "moisture.html", caller=caller, job=job, sheet=sheet, chart=chart)


def _chart(sheet: MoistureSheet, units: Units) -> str:
    unit = "lb/ft3" if units == "imperial" else "kg/m3"
    points = [(one.moisture, one.dry_density_kg_m3) for one in sheet.best.tried]
    best = sheet.best.target
    densest = (best.moisture, best.dry_density_kg_m3) if best else None
    return moisture_chart(points, densest=densest, unit=unit_label(unit), factor=convert(1.0, "kg/m3", unit))


@router.post("")
@form_of("/jobs/{job_id}/plan/moisture")
def try_moisture(caller: StaffCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Keep a block pressed at one moisture."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "moisture": read.quantity("moisture", "moisture", unit="%"),
            "wet_mass_kg": read.quantity("wet_mass_kg", "mass"),
            **{f"{side}_mm": read.quantity(f"{side}_mm", "length") for side in ("length", "width", "height")},
        }
    moisture.try_moisture(caller, job_id=job_id, **given)
    return see(f"/jobs/{job_id}/plan/moisture")


@router.post("/{trial_id}/exclude")
@form_of("/jobs/{job_id}/plan/moisture")
def exclude(caller: StaffCaller, form: SentForm, job_id: UUID, trial_id: UUID) -> RedirectResponse:
    """Let a block of the trial no longer count."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=400)
    moisture.exclude(caller, trial_id=trial_id, because=because, job_id=job_id)
    return see(f"/jobs/{job_id}/plan/moisture")
