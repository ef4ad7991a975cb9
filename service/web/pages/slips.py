"""The slip that travels with a sack of soil, to be printed."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse

from service.desk import slips
from service.web.authentication import PageCaller
from service.web.responses import page
from service.web.room import Room

router = Room()


@router.get("/jobs/{job_id}/slip")
def show(request: Request, caller: PageCaller, job_id: UUID) -> HTMLResponse:
    """Show the slip of a job: what to send, how to pack it, and what to write on the sack."""
    slip = slips.slip(caller, job_id=job_id)
    return page(request, "slip.html", caller=caller, language=slip.language, slip=slip)
