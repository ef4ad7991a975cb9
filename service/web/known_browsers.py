"""Browsers at which somebody signed in before: each has tries of its own, whoever else guesses at that person's door.

A cookie for each person, under the installation's secret: it lets nobody in, and says nothing to whoever reads it.
"""

import hmac
import secrets
from datetime import UTC, datetime, timedelta

from fastapi import Request, Response

from service.web.cookies import give, held

KNOWN_LASTS = timedelta(days=366)
BROWSER_COOKIE = "loambook-browser"


def known_at(request: Request, email: str) -> str:
    """Return which browser this is if this person signed in at it within a year, else nothing."""
    day, _, rest = (held(request, _cookie(request, email)) or "").partition(".")
    browser, _, seal = rest.partition(".")
    if not (day.isascii() and day.isdecimal() and len(day) <= 6) or not browser:
        return ""
    if not hmac.compare_digest(seal, _sealed(request, f"browser {day} {browser} {_one(email)}")):
        return ""
    return browser if 0 <= _today(request) - int(day) <= KNOWN_LASTS.days else ""


def remember(request: Request, answer: Response, email: str) -> None:
    """Let this browser be known at this person's door from now on."""
    browser, day = known_at(request, email) or secrets.token_hex(8), _today(request)
    token = f"{day}.{browser}.{_sealed(request, f'browser {day} {browser} {_one(email)}')}"
    give(request, answer, token, lasts=KNOWN_LASTS, cookie=_cookie(request, email))


def _cookie(request: Request, email: str) -> str:
    return f"{BROWSER_COOKIE}-{_sealed(request, f'name {_one(email)}')[:8]}"


def _sealed(request: Request, words: str) -> str:
    return hmac.digest(request.app.state.stores.key, f"known {words}".encode(), "sha256").hex()[:32]


def _one(email: str) -> str:
    return email.strip().lower()


def _today(request: Request) -> int:
    now: datetime = request.app.state.stores.clock()
    return (now.astimezone(UTC) - datetime(1970, 1, 1, tzinfo=UTC)).days
