"""The queue at the press, and the press sessions of crushing."""

from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import jobs_in_hand
from service.desk.crushing import press
from service.desk.crushing import queue as crushing
from service.desk.results import job_readings
from service.web.authentication import SentForm, StaffCaller, as_uuid
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
Label = Annotated[str, Query(max_length=80)]


@router.get("/crushing")
def show(request: Request, caller: StaffCaller, label: Label = "", page_number: PageNumber = 1) -> Response:
    """Show what is due at the press; a label leads to its block."""
    block_id = jobs_in_hand.block_by_label(caller, label=label) if label.strip() else None
    if block_id is not None:
        return see(f"/blocks/{block_id}")
    queue = crushing.queue(caller, page=page_number)
    view: dict[str, Any] = {"queue": queue, "job": None, "label": label.strip(), "path": "/crushing?page="}
    return page(request, "crushing.html", caller=caller, **view)


@router.get("/jobs/{job_id}/crushing")
def show_job(request: Request, caller: StaffCaller, job_id: UUID, page_number: PageNumber = 1) -> HTMLResponse:
    """Show what is due of one job."""
    job = jobs_in_hand.card(caller, job_id=job_id)
    queue = crushing.queue(caller, job_id=job_id, page=page_number)
    view: dict[str, Any] = {"queue": queue, "job": job, "label": "", "path": f"/jobs/{job_id}/crushing?page="}
    return page(request, "crushing.html", caller=caller, **view)


@router.get("/jobs/{job_id}/readings")
def show_readings(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show every block of a job with what it came to."""
    job = jobs_in_hand.card(caller, job_id=job_id)
    readings = job_readings.readings(caller, job_id=job_id)
    return page(request, "readings.html", caller=caller, job=job, readings=readings)


def _back(form: SentForm) -> RedirectResponse:
    """Return to the page the form came from: that of a job, or that of the shop."""
    job_id = as_uuid(str(form.get("job", "")))
    return see(f"/jobs/{job_id}/crushing" if job_id else "/crushing")


@router.post("/crushing/sessions")
@form_of("/crushing")
def open_press_session(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Open a gauge with what it shows unloaded."""
    with reading(form, caller.shop) as read:
        gauge_id, zero = read.id("gauge_id"), read.quantity("zero_before_mpa", "gauge_zero")
    press.open_press_session(caller, gauge_id=gauge_id, zero_before_mpa=zero)
    return _back(form)


@router.post("/crushing/sessions/{press_session_id}/close")
@form_of("/crushing")
def close_press_session(caller: StaffCaller, form: SentForm, press_session_id: UUID) -> RedirectResponse:
    """Close a gauge with what it shows unloaded afterwards."""
    with reading(form, caller.shop) as read:
        zero = read.quantity("zero_after_mpa", "gauge_zero")
    press.close_press_session(caller, press_session_id=press_session_id, zero_after_mpa=zero)
    return _back(form)


@router.post("/crushing/sessions/{press_session_id}/corrections")
@form_of("/crushing")
def correct_press_session(caller: StaffCaller, form: SentForm, press_session_id: UUID) -> RedirectResponse:
    """Correct what a gauge showed unloaded."""
    with reading(form, caller.shop) as read:
        before = read.quantity("zero_before_mpa", "gauge_zero")
        after = read.maybe_quantity("zero_after_mpa", "gauge_zero")
        because = read.text("because", most=500)
    press.correct_press_session(
        caller, press_session_id=press_session_id, zero_before_mpa=before, zero_after_mpa=after, because=because
    )
    return _back(form)
