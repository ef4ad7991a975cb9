"""The cookies: whose session this browser holds, and which tablet of the shop it is."""

from datetime import timedelta

from fastapi import Request, Response
from starlette.datastructures import MutableHeaders
from starlette.types import Scope

from service.desk.signing_in.lifetimes_and_tries import SESSION_LASTS

COOKIE = "loambook"
TABLET_COOKIE = "loambook-tablet"


def held(request: Request, cookie: str = COOKIE) -> str | None:
    """Return the secret in one of the cookies; of the session the one that was given in this very request."""
    given: str | None = getattr(request.state, "session_token", None)
    return given if given and cookie == COOKIE else request.cookies.get(_name(request, cookie))


def give(request: Request, answer: Response, token: str, *, lasts: timedelta, cookie: str = COOKIE) -> None:
    """Send a secret out for this browser to keep, out of reach of script and of other sites."""
    answer.set_cookie(
        _name(request, cookie),
        token,
        max_age=int(lasts.total_seconds()),
        path="/",
        httponly=True,
        samesite="lax",
        secure=request.app.state.https,
    )


def give_anew(scope: Scope, headers: MutableHeaders) -> None:
    """Add the session's secret to an answer if it was changed on the way to it."""
    request = Request(scope)
    token = getattr(request.state, "session_token", None)
    if token is not None:
        carrier = Response()
        give(request, carrier, token, lasts=SESSION_LASTS)
        headers.append("set-cookie", carrier.headers["set-cookie"])


def take(request: Request, answer: Response) -> None:
    """Take the session's secret out of the browser."""
    answer.delete_cookie(
        _name(request, COOKIE), path="/", httponly=True, samesite="lax", secure=request.app.state.https
    )


def _name(request: Request, cookie: str) -> str:
    # A browser takes a cookie of this prefix over https from this very host only: no neighbour can set it.
    return f"__Host-{cookie}" if request.app.state.https else cookie
