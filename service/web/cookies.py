"""The cookies: whose session this browser holds, and which tablet of the shop it is."""

from datetime import timedelta

from fastapi import Request, Response

COOKIE = "loambook"
TABLET_COOKIE = "loambook-tablet"


def held(request: Request, cookie: str = COOKIE) -> str | None:
    """Return the secret in one of the cookies."""
    return request.cookies.get(_name(request, cookie))


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


def take(request: Request, answer: Response) -> None:
    """Take the session's secret out of the browser."""
    answer.delete_cookie(
        _name(request, COOKIE), path="/", httponly=True, samesite="lax", secure=request.app.state.https
    )


def _name(request: Request, cookie: str) -> str:
    # A browser takes a cookie of this prefix over https from this very host only: no neighbour can set it.
    return f"__Host-{cookie}" if request.app.state.https else cookie
