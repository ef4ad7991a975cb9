"""Starting values for strength of a job, and what the shop's own jobs would have it be."""

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.results import starting_values
from service.web.authentication import COSTLY_PAPER, OwnerCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()


@router.get("/starting-values", dependencies=[COSTLY_PAPER])
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show the present assumptions beside what the shop's jobs teach."""
    return page(request, "starting_values.html", caller=caller, view=starting_values.compared(caller))


@router.post("/starting-values")
@form_of("/starting-values")
def adopt(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Adopt what the shop's jobs teach."""
    with reading(form, caller.shop) as read:
        seen = read.text("seen_rests_on", most=8000)
    starting_values.compared(caller)
    starting_values.adopt(caller, seen_rests_on=seen)
    return see("/starting-values")
