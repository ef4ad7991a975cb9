"""The queue of what cures: into the water, out of it, covered, lost."""

from dataclasses import replace
from typing import Annotated
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.datastructures import FormData

from service.desk import jobs_in_hand
from service.desk.curing import acts
from service.desk.curing import queue as curing
from service.desk.doorway import Caller
from service.web.authentication import SentForm, StaffCaller, as_uuid
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
# The batch whose times are to be corrected.
Times = Annotated[UUID | None, Query()]


@router.get("/curing")
def show(request: Request, caller: StaffCaller, page_number: PageNumber = 1, times: Times = None) -> HTMLResponse:
    """Show what cures in the shop."""
    queue = curing.queue(caller, page=page_number)
    return page(request, "curing.html", caller=caller, queue=queue, job=None, path="/curing?page=", times=times)


@router.get("/jobs/{job_id}/curing")
def show_job(
    request: Request, caller: StaffCaller, job_id: UUID, page_number: PageNumber = 1, times: Times = None
) -> HTMLResponse:
    """Show what cures of one job."""
    job = jobs_in_hand.card(caller, job_id=job_id)
    queue = curing.queue(caller, job_id=job_id, page=page_number)
    path = f"/jobs/{job_id}/curing?page="
    return page(request, "curing.html", caller=caller, queue=queue, job=job, path=path, times=times)


def _back(form: FormData) -> RedirectResponse:
    """Return to the page the form came from: Today, that of a job, or that of the shop."""
    if form.get("back") == "today":
        return see("/today")
    job_id = as_uuid(str(form.get("job", "")))
    return see(f"/jobs/{job_id}/curing" if job_id else "/curing")


def _by_batch(read: FormReader) -> list[list[UUID]]:
    """Return the ticked blocks batch by batch: each batch is put in or taken out by an act of its own."""
    names = sorted({name for name in read.form if name.startswith("blocks.")})
    ticked = [ids for name in ("block_ids", *names) if (ids := read.ids(name))]
    return ticked or [[]]


def _nth(caller: Caller, number: int) -> Caller:
    """Return the caller with a key of its own for each act of one form, the same when the form is sent again."""
    key = caller.request_key
    return replace(caller, request_key=f"{key}.{number}" if key and number else key)


@router.post("/curing/soaks")
@form_of("/curing")
def put_to_soak(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Put the ticked blocks into the water."""
    with reading(form, caller.shop) as read:
        batches, started_at = _by_batch(read), read.maybe_moment("started_at")
    for number, block_ids in enumerate(batches):
        acts.put_to_soak(_nth(caller, number), block_ids=block_ids, started_at=started_at)
    return _back(form)


@router.post("/curing/soaks/end")
@form_of("/curing")
def take_out(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Take the ticked blocks out of the water."""
    with reading(form, caller.shop) as read:
        batches, ended_at = _by_batch(read), read.maybe_moment("ended_at")
    for number, block_ids in enumerate(batches):
        acts.take_out(_nth(caller, number), block_ids=block_ids, ended_at=ended_at)
    return _back(form)


def _batches(read: FormReader) -> list[UUID]:
    found = read.ids("batch_ids")
    if not found:
        read.wrong("batch_ids", "Tick the batches you mean.")
    return found


@router.post("/curing/covers")
@form_of("/curing")
def cover_these(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Cover the ticked batches."""
    with reading(form, caller.shop) as read:
        batches, covered_at = _batches(read), read.maybe_moment("covered_at")
    for number, batch_id in enumerate(batches):
        acts.cover(_nth(caller, number), batch_id=batch_id, covered_at=covered_at)
    return _back(form)


@router.post("/curing/covers/end")
@form_of("/curing")
def uncover_these(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Take the cover off the ticked batches."""
    with reading(form, caller.shop) as read:
        batches, uncovered_at = _batches(read), read.maybe_moment("uncovered_at")
    for number, batch_id in enumerate(batches):
        acts.uncover(_nth(caller, number), batch_id=batch_id, uncovered_at=uncovered_at)
    return _back(form)


@router.post("/curing/batches/{batch_id}/cover")
@form_of("/curing")
def cover(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Cover a batch."""
    acts.cover(caller, batch_id=batch_id)
    return _back(form)


@router.post("/curing/batches/{batch_id}/uncover")
@form_of("/curing")
def uncover(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Take the cover off a batch."""
    acts.uncover(caller, batch_id=batch_id)
    return _back(form)


@router.post("/curing/batches/{batch_id}/corrections")
@form_of("/curing")
def correct_cover(caller: StaffCaller, form: SentForm, batch_id: UUID) -> RedirectResponse:
    """Correct when a batch was covered and uncovered."""
    with reading(form, caller.shop) as read:
        covered_at, uncovered_at = read.maybe_moment("covered_at"), read.maybe_moment("uncovered_at")
        because = read.text("because", most=500)
    acts.correct_cover(caller, batch_id=batch_id, covered_at=covered_at, uncovered_at=uncovered_at, because=because)
    return _back(form)
