"""Expected strength of a job, and what the shop's own jobs would have it be."""

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.results import expected_strength
from service.web.authentication import COSTLY_PAPER, OwnerCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()


@router.get("/expected-strength", dependencies=[COSTLY_PAPER])
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show the present assumptions beside what the shop's jobs teach."""
    return page(request, "expected_strength.html", caller=caller, view=expected_strength.compared(caller))


@router.post("/expected-strength")
@form_of("/expected-strength")
def adopt(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Adopt what the shop's jobs teach."""
    with reading(form, caller.shop) as read:
        seen = read.text("seen_rests_on", most=8000)
    expected_strength.compared(caller)
    expected_strength.adopt(caller, seen_rests_on=seen)
    return see("/expected-strength")
