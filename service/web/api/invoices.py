"""Invoice lines for programs of the owner: what each job is charged, and whether it was paid."""

from datetime import date
from typing import Annotated, Any
from uuid import UUID

from fastapi import Query
from pydantic import Field

from service.desk import invoices
from service.desk.invoices import ChargedJob, ChargedJobs, Wanted
from service.web.api_input import Line, Money, Sent
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["charges and payments"])

Show = Annotated[Wanted, Query(alias="show")]
Before = Annotated[int | None, Query(ge=1, le=invoices.BEYOND, description="`older` of the page before.")]


class LineForm(Sent):
    """What is charged."""

    words: Annotated[Line, Field(min_length=1, examples=["Two soils sieved"])]
    price: Money


class PaidForm(Sent):
    """When a job was paid."""

    paid_on: Annotated[date | None, Field(description="Today where it is left out.")] = None


@router.get("/invoice-lines")
def list_jobs(caller: ApiCaller, wanted: Show = "not paid", before: Before = None) -> ChargedJobs:
    """Give a page of the jobs that there is something to charge for, newest first."""
    return invoices.charged(caller, wanted=wanted, before=before)


@router.get("/jobs/{job_id}/invoice")
def show_job(caller: ApiCaller, job_id: UUID) -> ChargedJob:
    """Give what one job is charged."""
    return invoices.show(caller, job_id=job_id)


@router.post("/jobs/{job_id}/invoice", status_code=201)
def add_line(caller: ApiCaller, job_id: UUID, sent: LineForm) -> dict[str, Any]:
    """Add a line to a job that is not paid yet."""
    return {"id": invoices.add_line(caller, job_id=job_id, words=sent.words, price=sent.price).details["line"]}


@router.post("/jobs/{job_id}/invoice/{line_id}/remove", status_code=201)
def remove_line(caller: ApiCaller, job_id: UUID, line_id: UUID) -> dict[str, Any]:
    """Remove a line from a job that is not paid yet."""
    return {"id": invoices.remove_line(caller, job_id=job_id, line_id=line_id).details["line"]}


@router.post("/jobs/{job_id}/invoice/paid", status_code=201)
def mark_paid(caller: ApiCaller, job_id: UUID, sent: PaidForm) -> dict[str, Any]:
    """Mark a job as paid."""
    done = invoices.mark_paid(caller, job_id=job_id, paid_on=sent.paid_on)
    return {"id": done.id, "paid_on": done.details["paid_on"]}


@router.post("/jobs/{job_id}/invoice/not-paid", status_code=201)
def unmark_paid(caller: ApiCaller, job_id: UUID) -> dict[str, Any]:
    """Remove the paid mark of a job."""
    return {"id": invoices.unmark_paid(caller, job_id=job_id).id}
