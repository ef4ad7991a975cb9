"""What a customer sees: his own soils, where each stands, and the results issued to him."""

from typing import Annotated

from fastapi import Query, Request
from fastapi.responses import HTMLResponse

from service.desk import photos
from service.desk.results import customer_jobs
from service.web.authentication import PageCaller
from service.web.responses import page
from service.web.room import Room

router = Room()

PAGE_SIZE = 25
NEWEST = 4


@router.get("/soils")
def show(
    request: Request,
    caller: PageCaller,
    closed: bool = False,
    page_number: Annotated[int, Query(alias="page", ge=1, le=10_000)] = 1,
) -> HTMLResponse:
    """Show a customer his own jobs and nothing of anybody else's."""
    found = customer_jobs.own_jobs(caller, closed=closed, page=page_number, size=PAGE_SIZE)
    return page(
        request,
        "your_soils.html",
        caller=caller,
        jobs=found.jobs,
        photos=photos.own(caller, job_ids=[job.id for job in found.jobs], most=NEWEST),
        closed=closed,
        page_number=page_number,
        pages=max(1, -(-found.total // PAGE_SIZE)),
    )
