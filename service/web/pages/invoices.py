"""Invoice lines: the jobs that are not paid yet, and of each what is charged."""

from typing import Annotated
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import invoices
from service.desk.invoices import Wanted
from service.web.authentication import OwnerCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

Show = Annotated[Wanted, Query(alias="show")]
Before = Annotated[int | None, Query(ge=1, le=invoices.BEYOND)]


@router.get("/invoice-lines")
def show(request: Request, caller: OwnerCaller, wanted: Show = "not paid", before: Before = None) -> HTMLResponse:
    """Show the jobs that there is something to charge for, the newest first."""
    found = invoices.charged(caller, wanted=wanted, before=before)
    return page(request, "invoice_lines.html", caller=caller, found=found, wanted=wanted, before=before)


@router.get("/jobs/{job_id}/invoice")
def show_job(request: Request, caller: OwnerCaller, job_id: UUID) -> HTMLResponse:
    """Show what was done for a job, its lines, and whether it was paid."""
    return page(request, "invoice.html", caller=caller, found=invoices.show(caller, job_id=job_id))


@router.post("/jobs/{job_id}/invoice")
@form_of("/jobs/{job_id}/invoice")
def add_line(caller: OwnerCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Write a line."""
    with reading(form, caller.shop) as read:
        words, price = read.text("words", most=200), read.money("price")
    invoices.add_line(caller, job_id=job_id, words=words, price=price)
    return see(f"/jobs/{job_id}/invoice")


@router.post("/jobs/{job_id}/invoice/{line_id}/remove")
@form_of("/jobs/{job_id}/invoice")
def remove_line(caller: OwnerCaller, job_id: UUID, line_id: UUID) -> RedirectResponse:
    """Remove a line."""
    invoices.remove_line(caller, job_id=job_id, line_id=line_id)
    return see(f"/jobs/{job_id}/invoice")


@router.post("/jobs/{job_id}/invoice/paid")
@form_of("/jobs/{job_id}/invoice")
def mark_paid(caller: OwnerCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Mark a job as paid."""
    with reading(form, caller.shop) as read:
        paid_on = read.maybe_day("paid_on")
    invoices.mark_paid(caller, job_id=job_id, paid_on=paid_on)
    return see(f"/jobs/{job_id}/invoice")


@router.post("/jobs/{job_id}/invoice/not-paid")
@form_of("/jobs/{job_id}/invoice")
def unmark_paid(caller: OwnerCaller, job_id: UUID) -> RedirectResponse:
    """Remove the paid mark."""
    invoices.unmark_paid(caller, job_id=job_id)
    return see(f"/jobs/{job_id}/invoice")
