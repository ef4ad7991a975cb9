"""One's own way in: sessions, password and second factor."""

from uuid import UUID

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from service.desk import signing_in
from service.paper import labels
from service.web.caller import COOKIE, PageCaller, SentForm, sha256, source_of, token_for
from service.web.forms import reading
from service.web.refusals import form_of
from service.web.render import page, see

router = APIRouter(prefix="/you")


@router.get("")
def show(request: Request, caller: PageCaller) -> HTMLResponse:
    """Show one's sessions and second factor."""
    own = signing_in.own(caller, token_sha256=sha256(request.cookies[COOKIE]))
    return page(request, "you.html", caller=caller, own=own)


@router.post("/sessions/{ticket_id}/end")
@form_of("/you")
def end_session(caller: PageCaller, ticket_id: UUID) -> RedirectResponse:
    """End another of one's sessions."""
    signing_in.end_one(caller, ticket_id=ticket_id)
    return see("/you")


@router.post("/password")
@form_of("/you")
def change_password(request: Request, caller: PageCaller, form: SentForm) -> RedirectResponse:
    """Change one's password."""
    with reading(form, caller.shop) as read:
        password, new_password = read.text("password"), read.text("new_password")
    signing_in.note_attempt(caller, door="password", who=str(caller.person_id), source=source_of(request))
    token_sha256 = sha256(request.cookies[COOKIE])
    signing_in.change_password(caller, password=password, new_password=new_password, token_sha256=token_sha256)
    return see("/you")


@router.get("/second-factor")
def show_second_factor(request: Request, caller: PageCaller) -> HTMLResponse:
    """Show a fresh secret as a picture to scan and as letters to type."""
    shown = getattr(request.state, "typed", {}).get("secret")
    secret, scanned = signing_in.begin_second_factor(caller, secret=shown)
    picture = Markup(labels.code(scanned))
    return page(request, "second_factor.html", caller=caller, secret=secret, picture=picture)


@router.post("/second-factor")
@form_of("/you/second-factor")
def add_second_factor(request: Request, caller: PageCaller, form: SentForm) -> HTMLResponse:
    """Turn the second factor on; the recovery codes are shown in the answer, once and nowhere else."""
    with reading(form, caller.shop) as read:
        secret, code = read.text("secret", most=64), read.text("code", most=12)
    signing_in.note_attempt(caller, door="code", who=str(caller.person_id), source=source_of(request))
    drawn = sha256(token_for(request, caller))
    codes = [sha256(f"{drawn} {place}")[:16] for place in range(signing_in.RECOVERY_CODES)]
    digests = [sha256(one) for one in codes]
    signing_in.add_second_factor(caller, secret=secret, code=code, recovery_sha256=digests)
    return page(request, "recovery_codes.html", caller=caller, codes=codes)


@router.post("/second-factor/end")
@form_of("/you")
def end_second_factor(request: Request, caller: PageCaller, form: SentForm) -> RedirectResponse:
    """Turn the second factor off."""
    with reading(form, caller.shop) as read:
        password = read.text("password")
    signing_in.note_attempt(caller, door="password", who=str(caller.person_id), source=source_of(request))
    signing_in.end_second_factor(caller, password=password)
    return see("/you")
