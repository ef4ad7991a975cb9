"""Tables as files: of one job for the shop's people, of the whole shop for its owner."""

from io import BytesIO
from pathlib import Path
from tempfile import mkstemp
from typing import Any, Literal
from uuid import UUID

from fastapi import Request
from fastapi.responses import FileResponse, HTMLResponse, Response
from starlette.background import BackgroundTask

from service.desk.results import readings_out
from service.paper import exporting
from service.web.authentication import COSTLY_PAPER, OwnerCaller, SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page
from service.web.room import Room

router = Room()

Form = Literal["csv", "xlsx", "json"]
NO_COPY = {"Cache-Control": "private, no-store"}


@router.get("/jobs/{job_id}/readings.{form}")
def show_job(caller: StaffCaller, job_id: UUID, form: Form) -> Response:
    """Give the readings of a job as a file."""
    out = BytesIO()
    job = exporting.job_to(caller, out, job_id=job_id, form=form)
    headers = {**NO_COPY, "Content-Disposition": f'attachment; filename="job-{job.number}-readings.{form}"'}
    return Response(out.getvalue(), media_type=exporting.FORMS[form], headers=headers)


@router.get("/export")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show which tables of the whole shop can be taken away, and in which forms."""
    return page(request, "export.html", caller=caller, forms=tuple(exporting.FORMS))


@router.post("/export", dependencies=[COSTLY_PAPER])
@form_of("/export")
def take_away(caller: OwnerCaller, sent: SentForm) -> FileResponse:
    """Give a table of the whole shop; the trail says who took it."""
    with reading(sent, caller.shop) as read:
        form = read.choice("as", tuple(exporting.FORMS))
        table: Any = read.maybe_choice("table", exporting.TABLES) or "readings"
    readings_out.hand_out(caller, form=form, table=table)
    path = Path(mkstemp(suffix=f".{form}")[1])
    try:
        exporting.shop_to(caller, path, form=form, table=table)
    except BaseException:
        path.unlink()
        raise
    name = f"{table}-{caller.clock.today}.{form}"
    gone = BackgroundTask(path.unlink, missing_ok=True)
    return FileResponse(path, media_type=exporting.FORMS[form], filename=name, headers=NO_COPY, background=gone)
