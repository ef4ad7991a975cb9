"""Questions and answers on a job, for its customer and for the shop."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import messages
from service.web.authentication import PageCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()


@router.get("/jobs/{job_id}/questions")
def show(request: Request, caller: PageCaller, job_id: UUID) -> HTMLResponse:
    """Show what was asked and answered on a job."""
    return page(request, "questions.html", caller=caller, talk=messages.of_job(caller, job_id=job_id))


@router.post("/jobs/{job_id}/questions")
@form_of("/jobs/{job_id}/questions")
def write(caller: PageCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Keep a question or an answer."""
    with reading(form, caller.shop) as read:
        text = read.text("text", most=2000)
    messages.write(caller, job_id=job_id, text=text)
    return see(f"/jobs/{job_id}/questions#newest")
