"""The mail that waits or does not go, and what of it somebody declines."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import mail
from service.web.authentication import OwnerCaller, PageCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()


@router.get("/mail")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show the mail that waits and the mail that does not go."""
    return page(request, "mails.html", caller=caller, mails=mail.show(caller))


@router.post("/mail/{mail_id}/again")
@form_of("/mail")
def send_again(caller: OwnerCaller, mail_id: UUID) -> RedirectResponse:
    """Try a mail again."""
    mail.send_again(caller, mail_id=mail_id)
    return see("/mail")


@router.post("/mail/{mail_id}/remove")
@form_of("/mail")
def remove(caller: OwnerCaller, mail_id: UUID) -> RedirectResponse:
    """Throw a mail away."""
    mail.remove(caller, mail_id=mail_id)
    return see("/mail")


@router.post("/you/mail")
@form_of("/you")
def choose(caller: PageCaller, form: SentForm) -> RedirectResponse:
    """Decline mail on progress, or have it again."""
    with reading(form, caller.shop) as read:
        progress = read.tick("progress")
    mail.choose(caller, declines_progress=not progress)
    return see("/you")
