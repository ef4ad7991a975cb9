"""Entries of a tablet: when and by whom a form was typed, and the answer after which the tablet forgets it.

A page of the bench keeps every entry on the tablet until the shop has acknowledged it by its key. An entry names the
person who typed it, so that it is never recorded for whoever holds the tablet when the line is back.
"""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta

from starlette.datastructures import Headers
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.desk.doorway import Caller, Entered
from service.errors import SignedOut

KEY, PERSON, AT, CLOCK, SENT = "entry-key", "entry-person", "entry-at", "entry-clock", "entry-sent"
# An entry older than this was typed at another time than its tablet believed.
OLDEST = timedelta(days=60)


def as_entered(caller: Caller, headers: Headers) -> Caller:
    """Return the caller with when their entry was typed; refuse an entry that somebody else typed."""
    if KEY not in headers:
        return caller
    if caller.person_id is not None and headers.get(PERSON, "") != str(caller.person_id):
        raise SignedOut("Somebody else typed this entry. It is sent when they sign in on this tablet.")
    entered = _entered(headers, now=caller.stores.clock())
    return replace(caller, entered=entered) if entered else caller


def _entered(headers: Headers, *, now: datetime) -> Entered | None:
    """Return when an entry was typed by the shop's clock, and how far the tablet's was ahead of it."""
    at, sent = _moment(headers.get(AT, "")), _moment(headers.get(SENT, ""))
    if at is None or sent is None:
        return None
    known = headers.get(CLOCK, "")
    # What was known of the clock when it was typed counts; else what it shows now beside ours.
    ahead_s = int(known) / 1000 if known.lstrip("-").isdecimal() and len(known) < 16 else (sent - now).total_seconds()
    try:
        meant = at - timedelta(seconds=ahead_s)
    except OverflowError:
        return None
    return Entered(min(meant, now), ahead_s) if now - meant < OLDEST else None


def _moment(text: str) -> datetime | None:
    try:
        return datetime.fromtimestamp(int(text) / 1000, UTC) if len(text) < 16 else None
    except (ValueError, OverflowError, OSError):
        return None


class Acknowledged:
    """Answer an accepted entry with its key and where to go on, so that no other answer is taken for the shop's."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on; a 303 to an entry becomes its acknowledgement."""
        headers = Headers(scope=scope) if scope["type"] == "http" else Headers()
        if KEY not in headers or scope["method"] != "POST":
            await self.app(scope, receive, send)
            return
        accepted = False

        async def acknowledging(message: Message) -> None:
            nonlocal accepted
            if message["type"] == "http.response.start" and message["status"] == 303:
                accepted = True
                found = Headers(raw=message["headers"])
                body = json.dumps({"acknowledged": headers[KEY], "see": found.get("location", "/")}).encode()
                kept = [
                    (name, value) for name, value in message["headers"] if name not in (b"location", b"content-length")
                ]
                kept += [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
                await send({**message, "status": 200, "headers": kept})
                await send({"type": "http.response.body", "body": body})
            elif not accepted:
                await send(message)

        await self.app(scope, receive, acknowledging)
