"""Results: as they stand, issued, shared; and the frozen papers as they were issued."""

import base64
import hashlib
import re
from datetime import timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from service.desk import office
from service.desk.doorway import Caller, Role
from service.desk.results import issued, least_share, live, next_steps, shares
from service.desk.results.issued import Frozen
from service.desk.results.shares import Shared
from service.desk.signing_in.tries import note_attempt
from service.errors import NotFound
from service.paper import issuing, readings_table
from service.paper.content_chart import share_charts
from service.paper.telling import FORMULAS, charts
from service.web.authentication import (
    COSTLY_PAPER,
    OwnerCaller,
    PageCaller,
    SentForm,
    StaffCaller,
    Visitor,
    sha256,
    source_of,
    token_for,
)
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.words.numbers_to_text import day

router = APIRouter()

STYLE = re.compile(rb"<style>(.*?)</style>", re.DOTALL)
NO_TRACE = {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex, nofollow", "Cache-Control": "private, no-store"}


def _view(caller: Caller, job_id: UUID) -> dict[str, Any]:
    found = live.live(caller, job_id=job_id)
    return {
        "job": office.card(caller, job_id=job_id),
        "result": found.result,
        "sha256": found.sha256,
        "issued": found.issued,
        "since": found.since,
        "next_number": 1 + max((one.number for one in found.issued), default=0),
        "may_issue": caller.role is Role.OWNER,
        "charts": charts(found.result, caller.shop),
        "formulas": FORMULAS,
        "a_month_on": _a_month_on(caller),
    }


def _a_month_on(caller: Caller) -> str:
    return (caller.clock.today + timedelta(days=30)).isoformat()


@router.get("/jobs/{job_id}/results", name="results")
def show(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show what the readings of a job say now."""
    return page(request, "results.html", caller=caller, **_view(caller, job_id))


@router.get("/jobs/{job_id}/next")
def show_next(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show what more blocks would buy."""
    found = next_steps.next_steps(caller, job_id=job_id)
    return page(request, "next.html", caller=caller, job=office.card(caller, job_id=job_id), found=found)


@router.get("/jobs/{job_id}/least-share")
def show_least_share(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show strength along the share of a stabiliser, and the untested share worth pressing."""
    found = least_share.least_share(caller, job_id=job_id)
    card = office.card(caller, job_id=job_id)
    return page(
        request, "least_share.html", caller=caller, job=card, found=found, drawn=share_charts(found.series, caller.shop)
    )


@router.get("/jobs/{job_id}/issued")
def show_list(caller: StaffCaller, job_id: UUID) -> RedirectResponse:
    """Lead to what was issued of a job."""
    return see(f"/jobs/{job_id}/results#issued")


@router.get("/jobs/{job_id}/issue", name="issue")
def show_issue(request: Request, caller: OwnerCaller, job_id: UUID) -> HTMLResponse:
    """Show what would be issued, with the form for the remark."""
    return page(request, "issue.html", caller=caller, **_view(caller, job_id))


@router.post("/jobs/{job_id}/issue", dependencies=[COSTLY_PAPER])
@form_of("/jobs/{job_id}/issue")
def issue(caller: OwnerCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Freeze the result as the owner saw it."""
    with reading(form, caller.shop) as read:
        remark, seen = read.text("remark", most=1000, needed=False), read.text("seen_sha256")
    issued_id = issuing.issue(caller, job_id=job_id, remark=remark, seen_sha256=seen)
    return see(f"/jobs/{job_id}/issued/{issued_id}")


@router.get("/jobs/{job_id}/issued/{issued_id}")
def show_issued_now(request: Request, caller: OwnerCaller, job_id: UUID, issued_id: UUID) -> HTMLResponse:
    """Say that a result was issued, and offer to share it."""
    frozen = issued.read(caller, issued_id=issued_id)
    if frozen.job_id != job_id:
        raise NotFound("This result belongs to another job.")
    return page(request, "issued_now.html", caller=caller, frozen=frozen, a_month_on=_a_month_on(caller))


@router.post("/jobs/{job_id}/issued/{issued_id}/withdraw")
@form_of("/jobs/{job_id}/results")
def withdraw(caller: OwnerCaller, form: SentForm, job_id: UUID, issued_id: UUID) -> RedirectResponse:
    """Withdraw an issued result with a reason."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=1000)
    issued.withdraw(caller, issued_id=issued_id, because=because, job_id=job_id)
    return see(f"/jobs/{job_id}/results#issued")


@router.post("/jobs/{job_id}/issued/{issued_id}/shares")
@form_of("/jobs/{job_id}/results")
def share(request: Request, caller: OwnerCaller, form: SentForm, job_id: UUID, issued_id: UUID) -> HTMLResponse:
    """Make a share link and show its address, which is shown this once."""
    with reading(form, caller.shop) as read:
        last_day = read.day("last_day")
    token = token_for(caller)
    shares.make(caller, issued_id=issued_id, token_sha256=sha256(token), last_day=last_day, job_id=job_id)
    address = f"{request.app.state.address}/shared/{token}"
    return page(
        request, "link_made.html", caller=caller, address=address, frozen=issued.read(caller, issued_id=issued_id)
    )


@router.post("/jobs/{job_id}/shares/{link_id}/end")
@form_of("/jobs/{job_id}/results")
def end_share(caller: OwnerCaller, job_id: UUID, link_id: UUID) -> RedirectResponse:
    """End a share link now."""
    shares.end(caller, link_id=link_id, job_id=job_id)
    return see(f"/jobs/{job_id}/results#issued")


@router.get("/results/{issued_id}.pdf")
def show_pdf(caller: PageCaller, issued_id: UUID) -> Response:
    """Give the PDF as it was issued."""
    frozen = issued.read(caller, issued_id=issued_id)
    return _pdf(frozen, issued.paper(caller, issued_id=issued_id, kind="pdf"))


@router.get("/results/{issued_id}.json")
def show_data(caller: PageCaller, issued_id: UUID) -> Response:
    """Give the data as they were issued."""
    return _data(issued.open_data(caller, issued_id=issued_id))


@router.get("/results/{issued_id}.csv")
def show_table(caller: PageCaller, issued_id: UUID) -> Response:
    """Give the readings of an issued result as a table."""
    frozen = issued.open_data(caller, issued_id=issued_id)
    headers = {**NO_TRACE, "Content-Disposition": f'attachment; filename="{_name(frozen)}.csv"'}
    return Response(readings_table.as_table(frozen.data), media_type="text/csv; charset=utf-8", headers=headers)


@router.get("/results/{issued_id}", name="issued_result")
def show_issued(request: Request, caller: PageCaller, issued_id: UUID, as_issued: bool = False) -> Response:
    """Show the page as it was issued, or first say that it was withdrawn or amended."""
    frozen = issued.read(caller, issued_id=issued_id)
    current = frozen.withdrawn_at is None and frozen.newest_id == frozen.id and not frozen.replaced
    if not current and not as_issued:
        return page(request, "shared.html", caller=caller, **_superseded(frozen, caller))
    return _page(issued.paper(caller, issued_id=issued_id, kind="page"))


@router.get("/shared/{token}", name="shared")
def show_shared(request: Request, visitor: Visitor, token: str, as_issued: bool = False) -> Response:
    """Show the issued result that a link opens, or why it opens nothing any more."""
    found = _followed(request, visitor, token)
    frozen = found.frozen
    if frozen is None:
        return _quiet(page(request, "shared.html", caller=None, code=410, links=(), **_over(found)))
    if frozen.newest_id != frozen.id and not as_issued:
        here = f"/shared/{token}?as_issued=yes"
        view = _amended(frozen, links=((f"Read no. {frozen.number} as it was issued", here),))
        return _quiet(page(request, "shared.html", caller=None, **view))
    return _page(shares.shared_paper(visitor, token_sha256=sha256(token), kind="page").content)


@router.get("/shared/{token}/pdf")
def show_shared_pdf(request: Request, visitor: Visitor, token: str) -> Response:
    """Give the PDF of the result that a link opens."""
    _followed(request, visitor, token)
    found = shares.shared_paper(visitor, token_sha256=sha256(token), kind="pdf")
    return _pdf(found.frozen, found.content)


def _followed(request: Request, visitor: Caller, token: str) -> Shared:
    """Return what a link opens and count its use; who guesses is counted too, who follows a true link is not."""
    try:
        found = shares.opened(visitor, token_sha256=sha256(token))
    except NotFound:
        note_attempt(visitor, door="share", who="", source=source_of(request))
        raise
    if found.frozen is not None:
        shares.note_use(visitor, token_sha256=sha256(token))
    return found


def _page(content: bytes) -> Response:
    """Return a frozen page; its one style sheet is let through by its digest, and nothing else is."""
    styles = [base64.b64encode(hashlib.sha256(style).digest()).decode() for style in STYLE.findall(content)]
    policy = "default-src 'none'; img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
    allowed = " ".join(f"'sha256-{digest}'" for digest in styles)
    headers = {**NO_TRACE, "Content-Security-Policy": f"{policy}; style-src {allowed}"}
    return Response(content, media_type="text/html; charset=utf-8", headers=headers)


def _pdf(frozen: Frozen, content: bytes) -> Response:
    headers = {**NO_TRACE, "Content-Disposition": f'inline; filename="{_name(frozen)}.pdf"'}
    return Response(content, media_type="application/pdf", headers=headers)


def _data(frozen: Frozen) -> Response:
    headers = {**NO_TRACE, "X-Data-SHA256": frozen.data_sha256}
    return Response(frozen.data, media_type="application/json", headers=headers)


def _name(frozen: Frozen) -> str:
    return f"job-{frozen.job_number}-result-{frozen.number}"


def _quiet(answer: HTMLResponse) -> HTMLResponse:
    answer.headers.update(NO_TRACE)
    return answer


def _superseded(frozen: Frozen, caller: Caller) -> dict[str, Any]:
    here = f"/results/{frozen.id}?as_issued=yes"
    if frozen.withdrawn_at is None and frozen.newest_id == frozen.id:
        return _resting_on_replaced(frozen, here)
    links = [(f"Read no. {frozen.newest_number}", f"/results/{frozen.newest_id}")] if frozen.newest_id else []
    if frozen.withdrawn_at is None:
        return _amended(frozen, links=(*links, (f"Read no. {frozen.number} as it was issued", here)))
    if caller.role is not Role.CUSTOMER:
        links.append((f"Read no. {frozen.number} as it was issued", here))
    return {
        "heading": f"Result no. {frozen.number} of job {frozen.job_number} was withdrawn",
        "sentence": f"Withdrawn {day(frozen.withdrawn_at)}. Nothing in it should be relied on.",
        "because": frozen.withdrawn_because,
        "links": links,
    }


def _resting_on_replaced(frozen: Frozen, here: str) -> dict[str, Any]:
    one = frozen.replaced[0]
    now = ("See what the readings say now", f"/jobs/{frozen.job_id}/results")
    return {
        "heading": f"Result no. {frozen.number} of job {frozen.job_number} rests on a replaced calibration",
        "sentence": f"The calibration of gauge {one.gauge} of {day(one.done_on)} was replaced by that of "
        f"{day(one.new_done_on)}. Customers still see this result as it was issued.",
        "because": f"Why it was replaced: {one.because}",
        "links": (now, (f"Read no. {frozen.number} as it was issued", here)),
    }


def _amended(frozen: Frozen, *, links: tuple[tuple[str, str], ...]) -> dict[str, Any]:
    return {
        "heading": f"Result no. {frozen.number} of job {frozen.job_number} was amended",
        "sentence": f"Result no. {frozen.newest_number} has taken its place; ask for it before relying on this one.",
        "because": "",
        "links": links,
    }


def _over(found: Shared) -> dict[str, Any]:
    on = day(found.ended_at.astimezone(ZoneInfo(found.zone))) if found.ended_at else ""
    told = "The result it led to was withdrawn" if found.state == "withdrawn" else "This link ended"
    return {
        "heading": "This link opens nothing any more",
        "sentence": f"{told} on {on}. Ask {found.shop_name} for a new one.",
        "because": "",
    }
