"""Signing in and out, and spending a one-use address."""

import secrets

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import signing_in
from service.web.caller import COOKIE, PageCaller, SentForm, Visitor, sha256, source_of
from service.web.forms import reading
from service.web.refusals import form_of
from service.web.render import page, see

router = APIRouter()


@router.get("/sign-in")
def show(request: Request, visitor: Visitor, then: str = "/") -> HTMLResponse:
    """Show the form for e-mail and password."""
    return page(request, "sign_in.html", caller=None, then=_local(then))


@router.post("/sign-in")
@form_of("/sign-in")
def sign_in(request: Request, visitor: Visitor, form: SentForm) -> RedirectResponse:
    """Open a session for whoever knows the password."""
    with reading(form, visitor.shop) as read:
        email, password, code = read.text("email"), read.text("password"), read.maybe_text("code")
        then = _local(read.text("then", needed=False))
    # Counted before the password is looked at, so that a hundred guesses at once are counted too.
    signing_in.note_attempt(visitor, door="sign-in", who=email.lower(), source=source_of(request))
    proof = signing_in.prove(visitor, email=email, password=password, code=code)
    token = secrets.token_urlsafe(32)
    signing_in.open_session(visitor, proof=proof, token_sha256=sha256(token))
    return _with_session(request, then, token)


@router.post("/sign-out")
def sign_out(request: Request, caller: PageCaller) -> RedirectResponse:
    """End the session of this browser."""
    signing_in.end_session(caller, token_sha256=sha256(request.cookies[COOKIE]))
    answer = see("/sign-in")
    answer.delete_cookie(COOKIE)
    return answer


@router.get("/sign-in/{token}")
def show_address(request: Request, visitor: Visitor, token: str) -> HTMLResponse:
    """Show for whom a one-use address is; only the button spends it, so that a link preview cannot."""
    signing_in.note_attempt(visitor, door="address", who="", source=source_of(request))
    name, invited = signing_in.whose_address(visitor, token_sha256=sha256(token))
    return page(request, "address.html", caller=None, name=name, invited=invited, token=token)


@router.post("/sign-in/{token}")
@form_of("/sign-in/{token}")
def use_address(request: Request, visitor: Visitor, token: str, form: SentForm) -> RedirectResponse:
    """Spend a one-use address."""
    with reading(form, visitor.shop) as read:
        new_password = read.maybe_text("new_password", most=signing_in.MOST_PASSWORD)
    session_token = secrets.token_urlsafe(32)
    signing_in.use_address(
        visitor, token_sha256=sha256(token), session_sha256=sha256(session_token), new_password=new_password
    )
    return _with_session(request, "/", session_token)


def _local(path: str) -> str:
    # Only a path of our own, so that nobody is sent elsewhere after signing in.
    safe = path.startswith("/") and not path.startswith("//") and "\\" not in path and "\n" not in path
    return path if safe else "/"


def _with_session(request: Request, path: str, token: str) -> RedirectResponse:
    answer = see(path)
    answer.set_cookie(
        COOKIE,
        token,
        max_age=int(signing_in.SESSION_LASTS.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=request.app.state.https,
    )
    return answer
