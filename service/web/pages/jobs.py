"""The first page, a job's own page, and finding things."""

from collections.abc import Sequence
from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request, Response
from fastapi.responses import HTMLResponse

from service.desk import jobs_in_hand, mail, materials, photos
from service.desk.doorway import Caller, Role
from service.web.authentication import PageCaller, StaffCaller
from service.web.responses import page, see
from service.web.room import Room

router = Room()

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
Words = Annotated[str, Query(max_length=80)]

NEWEST = 6


@router.get("/")
@router.get("/jobs")
def first(request: Request, caller: PageCaller, page_number: PageNumber = 1) -> Response:
    """Show the jobs in hand; a customer is sent to their own soils, a technician to what is to be done now."""
    if caller.role is Role.CUSTOMER:
        return see("/soils")
    if caller.role is Role.TECHNICIAN and request.url.path == "/":
        return see("/today")
    jobs = jobs_in_hand.jobs(caller, page=page_number)
    return _listed(request, caller, jobs, path="/?page=")


@router.get("/jobs/closed")
def closed(request: Request, caller: StaffCaller, page_number: PageNumber = 1) -> HTMLResponse:
    """Show the jobs that were closed."""
    jobs = jobs_in_hand.jobs(caller, page=page_number, closed=True)
    return _listed(request, caller, jobs, closed=True, path="/jobs/closed?page=")


@router.get("/search")
def search(request: Request, caller: StaffCaller, q: Words = "", page_number: PageNumber = 1) -> Response:
    """Find a job by label, name, site or number; the label of one block leads to that block."""
    block_id = jobs_in_hand.block_by_label(caller, label=q) if q.strip() else None
    if block_id is not None:
        return see(f"/blocks/{block_id}")
    jobs = jobs_in_hand.jobs(caller, page=page_number, search=q)
    soils = materials.find(caller, words=q)
    return _listed(request, caller, jobs, soils=soils, search=q, path=f"/search?q={q}&page=")


def _listed(
    request: Request,
    caller: Caller,
    jobs: jobs_in_hand.Jobs,
    *,
    path: str,
    search: str = "",
    soils: Sequence[materials.MaterialFound] = (),
    closed: bool = False,
) -> HTMLResponse:
    view: dict[str, Any] = {"jobs": jobs, "soils": soils, "search": search, "closed": closed, "path": path}
    view["stuck"] = mail.stuck(caller) if caller.role is Role.OWNER else 0
    return page(request, "jobs.html", caller=caller, **view)


@router.get("/jobs/{job_id}")
def show_job(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show one job and the next thing to do in it."""
    job = jobs_in_hand.card(caller, job_id=job_id)
    newest = photos.newest(caller, job_id=job_id, most=NEWEST)
    return page(request, "job.html", caller=caller, job=job, photos=newest)
