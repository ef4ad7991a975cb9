"""Calendars at private addresses: of the whole shop, and of one's own blocks."""

from fastapi import Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk.doorway import OWNERS, Caller
from service.desk.signing_in.rate_limit import note_attempt
from service.desk.today import feed as feeds
from service.paper.calendar import calendar
from service.web.authentication import SentForm, StaffCaller, Visitor, sha256, source_of, token_for
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room(prefix="/calendar")

WHOSE = ("own", "shop")


@router.get("")
def show(request: Request, caller: StaffCaller) -> HTMLResponse:
    """Show how to have the tasks in a calendar of one's own."""
    return _page(request, caller)


def _page(request: Request, caller: Caller, address: str = "") -> HTMLResponse:
    is_owner = caller.role in OWNERS
    return page(request, "calendar.html", caller=caller, address=address, is_owner=is_owner)


@router.post("")
@form_of("/calendar")
def open_feed(request: Request, caller: StaffCaller, form: SentForm) -> HTMLResponse:
    """Make a private address; it is shown in the answer, once and nowhere else."""
    with reading(form, caller.shop) as read:
        whose = read.choice("whose", WHOSE)
    token = token_for(caller)
    feeds.open_feed(caller, token_sha256=sha256(token), whole=whose == "shop")
    return _page(request, caller, f"{request.app.state.address}/calendar/{token}")


@router.post("/end")
@form_of("/calendar")
def end(caller: StaffCaller) -> RedirectResponse:
    """End one's own calendar addresses."""
    feeds.end_feeds(caller)
    return see("/calendar")


@router.get("/{token}")
def give(request: Request, visitor: Visitor, token: str) -> Response:
    """Give the calendar behind an address."""
    note_attempt(visitor, door="address", who="", source=source_of(request))
    found = feeds.feed(visitor, token_sha256=sha256(token))
    return Response(calendar(found), media_type="text/calendar; charset=utf-8")
