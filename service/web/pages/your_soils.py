"""What a customer sees: his own soils, where each stands, and the results issued to him."""

from datetime import timedelta
from typing import Annotated
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import photos
from service.desk.doorway import CUSTOMERS, Caller
from service.desk.results import customer_jobs, share_links
from service.errors import Forbidden
from service.web.authentication import PageCaller, SentForm, sha256, token_for
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

PAGE_SIZE = 25
NEWEST = 4


@router.get("/results/{issued_id}/links")
def show_links(request: Request, caller: PageCaller, issued_id: UUID) -> HTMLResponse:
    """Show the links that a customer made to a result of their own."""
    return _links(request, caller, issued_id)


def _links(request: Request, caller: Caller, issued_id: UUID, made: str = "") -> HTMLResponse:
    frozen, links = share_links.own(caller, issued_id=issued_id)
    a_month_on = (caller.clock.today + timedelta(days=share_links.USUAL_DAYS)).isoformat()
    return page(request, "own_links.html", caller=caller, frozen=frozen, links=links, made=made, a_month_on=a_month_on)


@router.post("/results/{issued_id}/links")
@form_of("/results/{issued_id}/links")
def make_link(request: Request, caller: PageCaller, form: SentForm, issued_id: UUID) -> HTMLResponse:
    """Make a link to a result of one's own; its address is shown this once."""
    _require_customer(caller)
    with reading(form, caller.shop) as read:
        last_day, name = read.day("last_day"), read.maybe_text("name", most=80)
    token = token_for(caller)
    share_links.make(caller, issued_id=issued_id, token_sha256=sha256(token), last_day=last_day, name=name)
    return _links(request, caller, issued_id, made=f"{request.app.state.address}/shared/{token}")


@router.post("/results/{issued_id}/links/{link_id}/end")
@form_of("/results/{issued_id}/links")
def end_link(caller: PageCaller, issued_id: UUID, link_id: UUID) -> RedirectResponse:
    """End a link that one's own people made."""
    _require_customer(caller)
    share_links.end(caller, link_id=link_id)
    return see(f"/results/{issued_id}/links")


def _require_customer(caller: Caller) -> None:
    # Owners have links on the page of a job's results.
    if caller.role not in CUSTOMERS:
        raise Forbidden("Your role does not allow this.")


@router.get("/soils")
def show(
    request: Request,
    caller: PageCaller,
    closed: bool = False,
    page_number: Annotated[int, Query(alias="page", ge=1, le=10_000)] = 1,
) -> HTMLResponse:
    """Show a customer his own jobs and nothing of anybody else's."""
    found = customer_jobs.own_jobs(caller, closed=closed, page=page_number, size=PAGE_SIZE)
    return page(
        request,
        "your_soils.html",
        caller=caller,
        jobs=found.jobs,
        photos=photos.own(caller, job_ids=[job.id for job in found.jobs], most=NEWEST),
        closed=closed,
        page_number=page_number,
        pages=max(1, -(-found.total // PAGE_SIZE)),
    )
