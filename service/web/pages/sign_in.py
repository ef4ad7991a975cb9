"""Signing in and out, and spending a one-use address."""

import secrets

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.signing_in import sign_in as coming_in
from service.desk.signing_in.lifetimes_and_tries import SESSION_LASTS
from service.desk.signing_in.rate_limit import note_attempt
from service.web.authentication import (
    SentForm,
    UnfinishedCaller,
    Visitor,
    session_sha256,
    sha256,
    source_of,
    tablet_sha256,
)
from service.web.cookies import give, take
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.known_browsers import known_at, remember
from service.web.responses import local, page, see
from service.web.room import Room

router = Room()


@router.get("/sign-in")
def show(request: Request, visitor: Visitor, then: str = "/") -> HTMLResponse:
    """Show the form for e-mail and password."""
    return page(request, "sign_in.html", caller=None, then=local(then))


@router.post("/sign-in")
@form_of("/sign-in")
def sign_in(request: Request, visitor: Visitor, form: SentForm) -> RedirectResponse:
    """Open a session for whoever knows the password; on a tablet of the shop it stays on that tablet."""
    with reading(form, visitor.shop) as read:
        email, password, code = read.text("email"), read.secret("password"), read.maybe_text("code")
        then = local(read.text("then", needed=False))
    # Counted before the password is looked at, so that a hundred guesses at once are counted too.
    known = known_at(request, email)
    note_attempt(visitor, door="sign-in", who=email.lower(), source=source_of(request), known=known)
    proof = coming_in.prove(visitor, email=email, password=password, code=code)
    token = secrets.token_urlsafe(32)
    coming_in.open_session(
        visitor,
        proof=proof,
        token_sha256=sha256(token),
        device_sha256=tablet_sha256(request),
        instead_of=session_sha256(request),
    )
    return _with_session(request, then, token, email)


@router.post("/sign-out")
def sign_out(request: Request, caller: UnfinishedCaller, form: SentForm) -> RedirectResponse:
    """End the session of this browser; on a tablet the next person chooses his name."""
    coming_in.end_session(caller, token_sha256=session_sha256(request) or "")
    answer = see("/sign-in" if caller.device_id is None else "/tablet")
    take(request, answer)
    # Not "cookies": the tablet's own stays, for the next person who switches on it. Entries that were not sent stay
    # too, until whoever typed them signs in again; the script takes the pages.
    answer.headers["Clear-Site-Data"] = '"cache"' if form.get("unsent") == "yes" else '"cache", "storage"'
    return answer


@router.get("/sign-in/{token}")
def show_address(request: Request, visitor: Visitor, token: str) -> HTMLResponse:
    """Show for whom a one-use address is; only the button spends it, so that a link preview cannot."""
    note_attempt(visitor, door="address", who="", source=source_of(request))
    welcome = coming_in.whose_address(visitor, token_sha256=sha256(token))
    return page(request, "address.html", caller=None, welcome=welcome, token=token)


@router.post("/sign-in/{token}")
@form_of("/sign-in/{token}")
def use_address(request: Request, visitor: Visitor, token: str, form: SentForm) -> RedirectResponse:
    """Spend a one-use address."""
    with reading(form, visitor.shop) as read:
        new_password, code = read.secret("new_password", needed=False), read.maybe_text("code", most=80)
    note_attempt(visitor, door="address", who=sha256(token), source=source_of(request))
    session_token, welcome = secrets.token_urlsafe(32), coming_in.whose_address(visitor, token_sha256=sha256(token))
    coming_in.use_address(
        visitor,
        token_sha256=sha256(token),
        session_sha256=sha256(session_token),
        new_password=new_password,
        code=code,
        instead_of=session_sha256(request),
    )
    return _with_session(request, "/", session_token, welcome.email)


def _with_session(request: Request, path: str, token: str, email: str) -> RedirectResponse:
    answer = see(path)
    give(request, answer, token, lasts=SESSION_LASTS)
    remember(request, answer, email)
    return answer
