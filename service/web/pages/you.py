"""One's own way in: sessions, password, second factor and PIN."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from service.desk import mail
from service.desk.doorway import CONFIRM, Caller
from service.desk.signing_in import own_access
from service.desk.signing_in.lifetimes_and_tries import RECOVERY_CODES
from service.desk.signing_in.rate_limit import note_attempt
from service.errors import PasswordNeeded
from service.paper import square_code
from service.web.authentication import (
    CustomerCaller,
    PageCaller,
    PasswordCaller,
    SentForm,
    TechnicianCaller,
    session_sha256,
    sha256,
    source_of,
    token_for,
)
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import local, page, see
from service.web.room import Room

router = Room(prefix="/you")

# 128 bits: a digest without salt is enough to keep of that.
CODE_LETTERS = 32


@router.get("")
def show(request: Request, caller: PageCaller) -> HTMLResponse:
    """Show one's sessions, second factor and PIN."""
    own = own_access.own(caller, token_sha256=_here(request))
    return page(request, "you.html", caller=caller, own=own, declines=mail.declines(caller))


def _here(request: Request) -> str:
    return session_sha256(request) or ""


def _count(request: Request, caller: Caller, door: str) -> None:
    note_attempt(caller, door=door, who=str(caller.person_id), source=source_of(request))


@router.post("/confirm")
@form_of("/you")
def confirm(caller: PasswordCaller, form: SentForm) -> RedirectResponse:
    """Go on to the page that asked for the password; whoever asks who is at the page looked at it."""
    with reading(form, caller.shop) as read:
        then = local(read.text("then", needed=False))
    if not caller.confirmed:
        raise PasswordNeeded(CONFIRM)
    return see(then)


@router.post("/sessions/{ticket_id}/end")
@form_of("/you")
def end_session(caller: PasswordCaller, ticket_id: UUID) -> RedirectResponse:
    """End another of one's sessions."""
    own_access.end_one(caller, ticket_id=ticket_id)
    return see("/you")


@router.post("/password")
@form_of("/you")
def change_password(request: Request, caller: PasswordCaller, form: SentForm) -> RedirectResponse:
    """Change one's password."""
    with reading(form, caller.shop) as read:
        password, new_password, others = read.secret("password"), read.secret("new_password"), read.tick("others")
    _count(request, caller, "password")
    given = {"password": password, "new_password": new_password, "token_sha256": _here(request)}
    own_access.change_password(caller, **given, others=others)
    return see("/you")


@router.post("/language")
@form_of("/you")
def choose_language(caller: CustomerCaller, form: SentForm) -> RedirectResponse:
    """Choose the language of a customer's pages and of their results to come."""
    with reading(form, caller.shop) as read:
        language = read.choice("language", ("en", "es"))
    own_access.choose_language(caller, language=language)
    return see("/you")


@router.post("/pin")
@form_of("/you")
def set_pin(request: Request, caller: TechnicianCaller, form: SentForm) -> RedirectResponse:
    """Choose the PIN for the shop's tablets."""
    with reading(form, caller.shop) as read:
        password, pin = read.secret("password"), read.text("pin", most=12)
    _count(request, caller, "password")
    own_access.set_pin(caller, password=password, pin=pin)
    return see("/you")


@router.post("/pin/end")
@form_of("/you")
def forget_pin(caller: TechnicianCaller) -> RedirectResponse:
    """Have a PIN no longer."""
    own_access.forget_pin(caller)
    return see("/you")


@router.get("/second-factor")
def show_second_factor(request: Request, caller: PasswordCaller) -> HTMLResponse:
    """Show a fresh secret as a picture to scan and as letters to type."""
    shown = getattr(request.state, "typed", {}).get("drawn")
    drawn, secret, scanned = own_access.begin_second_factor(caller, drawn=shown)
    picture = Markup(square_code.code(scanned))
    return page(request, "second_factor.html", caller=caller, drawn=drawn, secret=secret, picture=picture)


@router.post("/second-factor")
@form_of("/you/second-factor")
def add_second_factor(request: Request, caller: PasswordCaller, form: SentForm) -> HTMLResponse:
    """Turn on the phone code; the recovery codes are shown in the answer, once and nowhere else."""
    with reading(form, caller.shop) as read:
        drawn, code = read.text("drawn", most=64), read.text("code", most=12)
    _count(request, caller, "code")
    seed = sha256(token_for(caller))
    codes = [sha256(f"{seed} {place}")[:CODE_LETTERS] for place in range(RECOVERY_CODES)]
    digests = [sha256(one) for one in codes]
    own_access.add_second_factor(caller, drawn=drawn, code=code, recovery_sha256=digests, token_sha256=_here(request))
    in_fours = [" ".join(one[place : place + 4] for place in range(0, CODE_LETTERS, 4)) for one in codes]
    return page(request, "recovery_codes.html", caller=caller, codes=in_fours)


@router.post("/second-factor/end")
@form_of("/you")
def end_second_factor(request: Request, caller: PasswordCaller, form: SentForm) -> RedirectResponse:
    """Turn off the phone code."""
    with reading(form, caller.shop) as read:
        password = read.secret("password")
    _count(request, caller, "password")
    own_access.end_second_factor(caller, password=password, token_sha256=_here(request))
    return see("/you")
