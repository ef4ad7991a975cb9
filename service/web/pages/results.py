"""Results: as they stand, issued, shared; and the frozen papers as they were issued."""

import base64
import hashlib
import re
from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from service.desk import jobs_in_hand
from service.desk.doorway import Caller, Role
from service.desk.results import issued, least_share, live, next_steps, share_links
from service.desk.results.issued import Frozen
from service.desk.results.live import Draft
from service.desk.results.share_links import Shared
from service.desk.signing_in.rate_limit import note_attempt
from service.errors import NotFound
from service.paper import exporting, issuing, notices
from service.paper.beside import site_asks
from service.paper.content_chart import share_charts
from service.paper.evidence import evidence
from service.paper.explained import FORMULAS, charts
from service.paper.glance import area_of, glance
from service.paper.pdf import pdf
from service.paper.readings_table import frozen_job
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
from service.web.form_input import FormReader, reading
from service.web.responses import page, see, speaks
from service.web.room import Room
from service.words.numbers_to_text import day

router = Room()

STYLE = re.compile(rb"<style>(.*?)</style>", re.DOTALL)
NO_TRACE = {"Referrer-Policy": "no-referrer", "X-Robots-Tag": "noindex, nofollow", "Cache-Control": "private, no-store"}


def _view(caller: Caller, job_id: UUID) -> dict[str, Any]:
    found = live.live(caller, job_id=job_id)
    result = found.to_the_shop
    return {
        "job": jobs_in_hand.card(caller, job_id=job_id),
        "result": result,
        "found": found,
        "issued": found.issued,
        "since": found.since,
        "next_number": 1 + max((one.number for one in found.issued), default=0),
        "may_issue": caller.role is Role.OWNER,
        # The screens of the shop are English; the paper speaks the customer's language.
        "view": glance(result, caller.shop.units_first),
        "areas": {one.label: area_of(one.cost, caller.shop.units_first) for one in result.recipes if one.cost},
        "facts_of": evidence(result, zone=caller.shop.time_zone),
        "charts": charts(result, replace(caller.shop, language="en")),
        "formulas": FORMULAS,
        "a_month_on": _a_month_on(caller),
    }


def _a_month_on(caller: Caller) -> str:
    return (caller.clock.today + timedelta(days=share_links.USUAL_DAYS)).isoformat()


@router.get("/jobs/{job_id}/results", name="results")
def show(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show what the readings of a job say now."""
    return page(request, "results.html", caller=caller, **_view(caller, job_id))


@router.get("/jobs/{job_id}/next")
def show_next(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show what more blocks would buy."""
    found = next_steps.next_steps(caller, job_id=job_id)
    card = jobs_in_hand.card(caller, job_id=job_id)
    # The results show the first steps alone, fetched as a part of this page.
    short = request.headers.get("hx-target") == "next_steps"
    return page(request, "next.html", caller=caller, job=card, found=found, short=short)


@router.get("/jobs/{job_id}/least-share")
def show_least_share(request: Request, caller: StaffCaller, job_id: UUID) -> HTMLResponse:
    """Show strength along the share of a stabiliser, and the untested share worth pressing."""
    found = least_share.least_share(caller, job_id=job_id)
    card = jobs_in_hand.card(caller, job_id=job_id)
    return page(
        request, "least_share.html", caller=caller, job=card, found=found, drawn=share_charts(found.series, caller.shop)
    )


@router.get("/jobs/{job_id}/issued")
def show_list(caller: StaffCaller, job_id: UUID) -> RedirectResponse:
    """Lead to what was issued of a job."""
    return see(f"/jobs/{job_id}/results#issued")


@router.get("/jobs/{job_id}/issue", name="issue")
def show_issue(request: Request, caller: OwnerCaller, job_id: UUID) -> HTMLResponse:
    """Show the form for issuing: the remark of the number before, the language, and a look at page and PDF."""
    view = _view(caller, job_id)
    view["remark"] = view["issued"][0].remark if view["issued"] else ""
    view["site"], view["lacks"] = site_asks(caller, view["result"])
    return page(request, "issue.html", caller=caller, **view)


@router.get("/jobs/{job_id}/issue/preview")
def preview(request: Request, caller: OwnerCaller, job_id: UUID) -> Response:
    """Show the page as it would be issued, with the remark and in the language that the form holds."""
    return _page(_previewed(request, caller, job_id)[1].encode())


@router.get("/jobs/{job_id}/issue/preview.pdf", dependencies=[COSTLY_PAPER])
def preview_pdf(request: Request, caller: OwnerCaller, job_id: UUID) -> Response:
    """Give the PDF as it would be issued, marked as not issued on every page."""
    draft, drawn = _previewed(request, caller, job_id)
    headers = {**NO_TRACE, "Content-Disposition": f'inline; filename="job-{draft.result.job.number}-preview.pdf"'}
    return Response(pdf(drawn), media_type="application/pdf", headers=headers)


def _previewed(request: Request, caller: Caller, job_id: UUID) -> tuple[Draft, str]:
    with reading(request.query_params, caller.shop) as read:
        asked = _asked(read)
    draft, beside = issuing.drafted(caller, job_id=job_id, seen_sha256=None, **{**asked, "unchanged": True})
    drawn = issuing.issued_page(draft, beside, caller.shop, address=caller.stores.address)
    return draft, notices.noticed(drawn.encode(), "Preview. Not issued. Do not hand out.")


def _asked(read: FormReader) -> dict[str, Any]:
    return {
        "remark": read.text("remark", most=1000, needed=False),
        "language": read.maybe_choice("language", ("en", "es")),
        "bucket_l": read.maybe_quantity("bucket_l", "volume"),
        "moistures": read.by_id("moistures", kind="moisture", unit="%"),
        "unchanged": read.tick("unchanged"),
    }


@router.post("/jobs/{job_id}/issue", dependencies=[COSTLY_PAPER])
@form_of("/jobs/{job_id}/issue")
def issue(caller: OwnerCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Freeze the result as the owner saw it; one in which nothing has changed asks first."""
    with reading(form, caller.shop) as read:
        asked, seen = _asked(read), read.text("seen_sha256")
    issued_id = issuing.issue(caller, job_id=job_id, seen_sha256=seen, **asked)
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
    """Withdraw an issued result and say why."""
    with reading(form, caller.shop) as read:
        because = read.text("because", most=1000)
    issued.withdraw(caller, issued_id=issued_id, because=because, job_id=job_id)
    return see(f"/jobs/{job_id}/results#issued")


@router.post("/jobs/{job_id}/issued/{issued_id}/shares")
@form_of("/jobs/{job_id}/results")
def share(request: Request, caller: OwnerCaller, form: SentForm, job_id: UUID, issued_id: UUID) -> HTMLResponse:
    """Make a share link and show its address, which is shown this once."""
    with reading(form, caller.shop) as read:
        last_day, name = read.day("last_day"), read.maybe_text("name", most=80)
    token = token_for(caller)
    share_links.make(
        caller, issued_id=issued_id, token_sha256=sha256(token), last_day=last_day, name=name, job_id=job_id
    )
    address = f"{request.app.state.address}/shared/{token}"
    return page(
        request, "link_made.html", caller=caller, address=address, frozen=issued.read(caller, issued_id=issued_id)
    )


@router.post("/jobs/{job_id}/shares/{link_id}/end")
@form_of("/jobs/{job_id}/results")
def end_share(caller: OwnerCaller, job_id: UUID, link_id: UUID) -> RedirectResponse:
    """End a share link now."""
    share_links.end(caller, link_id=link_id, job_id=job_id)
    return see(f"/jobs/{job_id}/results#issued")


@router.get("/results/{issued_id}.pdf")
def show_pdf(caller: PageCaller, issued_id: UUID, as_issued: bool = False) -> Response:
    """Give the PDF as it was issued; where a later one counts, or it was withdrawn, with a notice on every page."""
    frozen = issued.read(caller, issued_id=issued_id)
    notice = "" if as_issued else _notice(frozen, caller)
    if not notice:
        return _pdf(frozen, issued.paper(caller, issued_id=issued_id, kind="pdf"))
    return _pdf(frozen, notices.noticed_pdf(issued.paper(caller, issued_id=issued_id, kind="page"), notice))


@router.get("/results/{issued_id}.json")
def show_data(caller: PageCaller, issued_id: UUID) -> Response:
    """Give the data as they were issued."""
    return _data(issued.open_data(caller, issued_id=issued_id))


@router.get("/results/{issued_id}.csv")
def show_table(caller: PageCaller, issued_id: UUID) -> Response:
    """Give the readings of an issued result as a table, in the language of its paper."""
    return _table(caller, issued_id, "csv")


@router.get("/results/{issued_id}.xlsx")
def show_workbook(caller: PageCaller, issued_id: UUID) -> Response:
    """Give the same as a workbook."""
    return _table(caller, issued_id, "xlsx")


def _table(caller: Caller, issued_id: UUID, form: str) -> Response:
    frozen, out = issued.open_data(caller, issued_id=issued_id), BytesIO()
    exporting.write(out, [frozen_job(frozen.data)], caller.shop, form=form, language=frozen.language)
    headers = {**NO_TRACE, "Content-Disposition": f'attachment; filename="{_name(frozen)}.{form}"'}
    return Response(out.getvalue(), media_type=exporting.FORMS[form], headers=headers)


@router.get("/results/{issued_id}", name="issued_result")
def show_issued(request: Request, caller: PageCaller, issued_id: UUID, as_issued: bool = False) -> Response:
    """Show the page as it was issued, under a notice where a later one counts or it was withdrawn."""
    frozen = issued.read(caller, issued_id=issued_id)
    notice = "" if as_issued else _notice(frozen, caller)
    if frozen.withdrawn_at is not None and caller.role is Role.CUSTOMER:
        links = (
            [(f"{_number(frozen)} {frozen.newest_number}", f"/results/{frozen.newest_id}")] if frozen.newest_id else []
        )
        return page(
            request,
            "shared.html",
            caller=caller,
            language=frozen.language,
            heading=_heading(frozen),
            sentence=notice,
            links=links,
        )
    content = issued.paper(caller, issued_id=issued_id, kind="page")
    if as_issued:
        return _page(content)
    newer = frozen.newest_id if frozen.newest_id != frozen.id else None
    link = (f"{_number(frozen)} {frozen.newest_number}", f"/results/{newer}") if newer else None
    shown = notices.noticed(content, notice, link=link) if notice else content.decode()
    # The screens of the shop are English; a customer's are in their own language, whatever that of the paper.
    language = caller.language if caller.role is Role.CUSTOMER else "en"
    return _page(notices.with_ways(shown, _ways(frozen, caller, noticed=bool(notice)), language=language).encode())


def _ways(frozen: Frozen, caller: Caller, *, noticed: bool) -> tuple[tuple[str, str], ...]:
    """Return where somebody goes from an issued result: back to where it is listed, and to its PDF."""
    paper = ("PDF", f"/results/{frozen.id}.pdf")
    if caller.role is Role.CUSTOMER:
        return ((notices.said("Your soils", language=caller.language), "/soils"), paper)
    ways = ((f"Results of job {frozen.job_number}", f"/jobs/{frozen.job_id}/results#issued"), paper)
    return (*ways, ("As it was issued", f"/results/{frozen.id}?as_issued=yes")) if noticed else ways


@router.get("/shared/{token}", name="shared")
def show_shared(request: Request, visitor: Visitor, token: str) -> Response:
    """Show the issued result that a link opens, under a notice where a later one counts, or why it opens nothing."""
    found = _followed(request, visitor, token)
    frozen = found.frozen
    if frozen is None:
        return _quiet(page(request, "shared.html", caller=None, code=410, links=(), **_over(found)))
    content = share_links.shared_paper(visitor, token_sha256=sha256(token), kind="page").content
    notice = _shared_notice(found, frozen, visitor)
    shown = notices.noticed(content, notice) if notice else content.decode()
    reads = speaks(request, None)
    ways = [("PDF", f"/shared/{token}/pdf")]
    told = notices.said(notices.OTHER_LANGUAGE[reads], language=reads, shop=found.shop_name)
    return _page(notices.with_ways(shown, ways, language=reads, told=told if reads != frozen.language else "").encode())


@router.get("/shared/{token}/pdf")
def show_shared_pdf(request: Request, visitor: Visitor, token: str) -> Response:
    """Give the PDF of the result that a link opens, with the notice on every page where a later one counts."""
    found = _followed(request, visitor, token)
    if found.frozen is None:
        return _quiet(page(request, "shared.html", caller=None, code=410, links=(), **_over(found)))
    notice = _shared_notice(found, found.frozen, visitor)
    paper = share_links.shared_paper(visitor, token_sha256=sha256(token), kind="page" if notice else "pdf")
    return _pdf(paper.frozen, notices.noticed_pdf(paper.content, notice) if notice else paper.content)


def _followed(request: Request, visitor: Caller, token: str) -> Shared:
    """Return what a link opens and count its use; who guesses is counted too, who follows a true link is not."""
    try:
        found = share_links.opened(visitor, token_sha256=sha256(token))
    except NotFound:
        note_attempt(visitor, door="share", who="", source=source_of(request))
        raise
    if found.frozen is not None:
        share_links.note_use(visitor, token_sha256=sha256(token))
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


def _notice(frozen: Frozen, caller: Caller) -> str:
    """Return what has to be said before an old paper, in its own language; nothing while it counts."""
    spoken = frozen.language
    if frozen.withdrawn_at is not None:
        on = day(frozen.withdrawn_at.astimezone(ZoneInfo(caller.shop.time_zone)), language=spoken)
        because = f"{(frozen.withdrawn_because or '').rstrip('. ')}."
        told = notices.said(notices.WITHDRAWN, language=spoken, day=on, because=because)
        return notices.with_call(told, frozen.whom_to_call, language=spoken)
    if frozen.newest_id != frozen.id:
        told = notices.said(notices.AMENDED, language=spoken, number=frozen.newest_number or 0)
        return notices.with_call(told, frozen.whom_to_call, language=spoken)
    if frozen.replaced:
        one = frozen.replaced[0]
        because = f"{one.because.rstrip('. ')}."
        return notices.REPLACED.format(gauge=one.gauge, old=day(one.done_on), new=day(one.new_done_on), because=because)
    return ""


def _shared_notice(found: Shared, frozen: Frozen, visitor: Caller) -> str:
    """Return the notice for whoever holds a link alone: a later result is asked of the shop."""
    notice = _notice(frozen, visitor)
    ask = notices.said(notices.ASK_FOR_IT, language=frozen.language, shop=found.shop_name)
    return f"{notice} {ask}" if notice and frozen.newest_id != frozen.id else notice


def _heading(frozen: Frozen) -> str:
    return notices.said(notices.WITHDREW, language=frozen.language, number=frozen.number, job=frozen.job_number)


def _number(frozen: Frozen) -> str:
    return notices.said("Result no.", language=frozen.language)


def _over(found: Shared) -> dict[str, Any]:
    spoken = found.language
    on = day(found.ended_at.astimezone(ZoneInfo(found.zone)), language=spoken) if found.ended_at else ""
    because = f"{found.because.rstrip('. ')}."
    told = notices.said(
        notices.LINK_WITHDRAWN if found.state == "withdrawn" else notices.LINK_ENDED,
        language=spoken,
        day=on,
        because=because,
        shop=found.shop_name,
    )
    told = notices.with_call(told, found.whom_to_call, language=spoken)
    return {"heading": notices.said(notices.NO_LINK, language=spoken), "sentence": told, "language": spoken}
