"""What a tablet needs to work without a connection, and how it finds out what the shop has."""

import hashlib
import json
import re
from datetime import datetime
from functools import cache
from importlib.resources import files
from typing import Annotated, Any

from fastapi import Query, Request, Response
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse

from service.desk import entries
from service.errors import NotFound
from service.web.authentication import (
    GlancingCaller,
    PageCaller,
    SentForm,
    StaffCaller,
    Visitor,
    as_uuid,
    tablet_sha256,
)
from service.web.form_input import reading
from service.web.joined_files import FOLDER, KINDS, joined
from service.web.responses import page, see
from service.web.room import Room

router = Room()

HTMX, MARK = "htmx-2.min.js", "mark.svg"
# Where the page of what an act was about stands.
ROOMS = {"job": "jobs", "batch": "batches", "block": "blocks", "receipt": "sacks", "material": "materials"}
BATCH = re.compile(r"/batches/([0-9a-f-]{36})/press")


@cache
def _worker() -> str:
    itself = (FOLDER / "service-worker.js").read_text("utf-8")
    htmx = (files("django_htmx") / "static" / "django_htmx" / HTMX).read_text("utf-8")
    whole = "".join([itself, htmx, *map(joined, KINDS), (FOLDER / MARK).read_text("utf-8")])
    version = hashlib.sha256(whole.encode()).hexdigest()[:16]
    told = json.dumps([*(f"/static/{name}" for name in (*KINDS, MARK)), f"/vendor/{HTMX}", "/offline"])
    return f"const FILES = {told};\nconst VERSION = {json.dumps(version)};\n{itself}"


@router.get("/service-worker.js")
def service_worker() -> Response:
    """Give the script that keeps pages, with the list of what they need."""
    return Response(_worker(), media_type="text/javascript", headers={"Cache-Control": "no-cache"})


@router.get("/manifest.webmanifest")
def manifest(visitor: Visitor) -> Response:
    """Say how the pages look when a tablet opens them like a program of its own."""
    told = {
        "name": visitor.shop.name,
        "short_name": "Bench",
        "id": "/today",
        "start_url": "/today",
        "scope": "/",
        "display": "standalone",
        "background_color": "#faf6ef",
        "theme_color": "#faf6ef",
        "icons": [{"src": "/static/mark.svg", "sizes": "any", "type": "image/svg+xml", "purpose": "any"}],
    }
    return Response(json.dumps(told), media_type="application/manifest+json", headers={"Cache-Control": "no-cache"})


@router.get("/offline")
def offline(request: Request) -> HTMLResponse:
    """Show what is said in the place of a page that is not on the tablet."""
    return page(request, "offline.html", caller=None)


@router.get("/unsent")
def unsent(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show the entries that are on this tablet only; the tablet itself fills the page."""
    return page(request, "unsent.html", caller=caller)


@router.get("/unsent/shop")
def shops_version(
    caller: StaffCaller,
    action: Annotated[str, Query(max_length=200)] = "",
    blocks: Annotated[str, Query(max_length=2000)] = "",
    position: Annotated[str, Query(max_length=6)] = "",
    press_session_id: Annotated[str, Query(max_length=40)] = "",
) -> JSONResponse:
    """Give what the shop holds where an entry was refused."""
    batch = BATCH.fullmatch(action)
    found = entries.shops_version(
        caller,
        block_ids=[one for text in blocks.split() if (one := as_uuid(text)) is not None],
        batch_id=as_uuid(batch[1]) if batch else None,
        position=int(position) if position.isdecimal() else 0,
        press_session_id=as_uuid(press_session_id),
    )
    can_replace = found.crushing_id is not None and action.endswith("/crushings")
    correct = f"/blocks/{found.block_id}/crushings/{found.crushing_id}/corrections" if can_replace else None
    gauge_id = str(found.gauge_id) if found.gauge_id else None
    return JSONResponse({"lines": found.lines, "correct": correct, "gauge_id": gauge_id})


@router.post("/unsent/settled")
def settle(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Write down an entry that a person decided not to keep."""
    with reading(form, caller.shop) as read:
        given: dict[str, Any] = {
            "decision": read.text("decision", most=40),
            "title": read.text("title", most=200, needed=False),
            "who": read.text("who", most=200, needed=False),
            "entry_key": read.text("request_key", most=80),
        }
    typed = [text[:500] for text in form.getlist("typed") if isinstance(text, str)][:60]
    entries.settle(caller, typed=typed, **given)
    return see("/unsent")


@router.get("/sent/{key}")
def was_saved(caller: PageCaller, key: str, person: str = "") -> JSONResponse:
    """Say whether a form with this key arrived, and where what it made stands."""
    found = entries.saved(caller, key=key[:64], person_id=as_uuid(person))
    room = ROOMS.get(found.kind) if found else None
    return JSONResponse({"saved": found is not None, "see": f"/{room}/{found.id}" if found and room else None})


@router.post("/tablet/state")
def state(request: Request, visitor: Visitor, form: SentForm) -> JSONResponse:
    """Hear what a tablet holds; one that was ended is told so and forgets everything."""
    device_sha256 = tablet_sha256(request)
    if device_sha256 is None:
        raise NotFound("This is no tablet of the shop.")
    tablet = entries.known(visitor, device_sha256=device_sha256)
    now = visitor.stores.clock()
    if not tablet.ended:
        count, ahead = str(form.get("unsent", "")), str(form.get("ahead_ms", ""))
        ahead_s = int(ahead) / 1000 if ahead.lstrip("-").isdecimal() and len(ahead) < 14 else None
        entries.say(visitor, device_id=tablet.id, unsent=int(count) if count.isdecimal() else 0, ahead_s=ahead_s)
    return JSONResponse({"ended": tablet.ended, "now_ms": round(now.timestamp() * 1000)})


@router.get("/live")
def live(caller: GlancingCaller, since: Annotated[int | None, Query(ge=0)] = None, at: str = "") -> JSONResponse:
    """Say whether anything was recorded since then; looking at a page this way is not using it."""
    found = entries.lately(caller, since=since, at=_moment(at))
    return JSONResponse({"position": found.position, "changed": found.changed})


def _moment(text: str) -> datetime | None:
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        return None
    return found if found.tzinfo else None
