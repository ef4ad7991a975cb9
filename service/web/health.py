"""Whether the service lives and can work with its database, and what it counted."""

import hmac
from dataclasses import replace

from fastapi import Request
from fastapi.responses import PlainTextResponse, Response
from starlette.exceptions import HTTPException

from service.desk import backups
from service.desk.doorway import Role
from service.web.authentication import stranger
from service.web.metrics import MEDIA_TYPE
from service.web.room import Room

router = Room()


@router.get("/health/live")
def live() -> PlainTextResponse:
    """Answer as long as the process does."""
    return PlainTextResponse("alive")


@router.get("/health/ready")
def ready(request: Request) -> PlainTextResponse:
    """Answer well while the database does and is of this version."""
    fault = backups.fault(stranger(request))
    return PlainTextResponse(fault or "ready", 503 if fault else 200)


@router.get("/metrics")
def metrics(request: Request) -> Response:
    """Give the counts to whoever has the monitor's token; to everybody else there is nothing here."""
    token, counts = request.app.state.metrics_token, request.app.state.counts
    given = request.headers.get("authorization", "")
    if counts is None or not hmac.compare_digest(given.encode(), f"Bearer {token}".encode()):
        raise HTTPException(404)
    caller = replace(stranger(request), role=Role.OWNER)
    kept = backups.show(caller)
    age = (caller.stores.clock() - kept.last_good_at).total_seconds() if kept.last_good_at else None
    return Response(counts.text(trail_entries=kept.trail_length, archive_age_s=age), media_type=MEDIA_TYPE)
