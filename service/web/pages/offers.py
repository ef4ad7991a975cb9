"""A customer asks for a test of a new soil, the shop makes an offer, and somebody accepts it."""

from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import offers
from service.desk.doorway import CUSTOMERS
from service.errors import Forbidden
from service.web.authentication import OwnerCaller, PageCaller, SentForm
from service.web.error_pages import form_of
from service.web.form_input import FormReader, reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

KINDS = ("addition", "least stabiliser", "which soil", "meets code")
NOTHING_KNOWN = "Nothing harmful is known in or near the pit."


@router.get("/requests/new")
def show_new(request: Request, caller: PageCaller) -> HTMLResponse:
    """Show the form with which a customer asks for a test."""
    if caller.role not in CUSTOMERS:
        raise Forbidden("Your role does not allow this.")
    return page(request, "request.html", caller=caller)


@router.post("/requests")
@form_of("/requests/new")
def ask(caller: PageCaller, form: SentForm) -> RedirectResponse:
    """Ask for a test of a new soil; the slip for the sack comes next."""
    with reading(form, caller.shop) as read:
        site, question = read.text("site", most=120), read.text("question", most=400)
        kind, remark = read.choice("question_kind", KINDS), _pit(read)
        thickness = read.maybe_quantity("wall_thickness_mm", "length")
        height = read.maybe_quantity("wall_height_m", "height")
    done = offers.request(
        caller,
        site=site,
        question=question,
        question_kind=kind,
        remark=remark,
        wall_thickness_mm=thickness,
        wall_height_m=height,
    )
    return see(f"/jobs/{done.id}/slip")


def _pit(read: FormReader) -> str:
    """Return what the customer says of the pit; harm that may be there is told in words."""
    pit, words = read.choice("pit", ("nothing", "perhaps")), read.maybe_text("pit_words", most=400)
    if pit == "perhaps" and not words:
        read.wrong("pit_words", "Write what there is or may be.")
    return words or NOTHING_KNOWN


@router.get("/jobs/{job_id}/offer")
def show(request: Request, caller: PageCaller, job_id: UUID) -> HTMLResponse:
    """Show the request and the offers of a job, and what may be done with them."""
    return page(request, "offer.html", caller=caller, found=offers.of_job(caller, job_id=job_id))


@router.post("/jobs/{job_id}/offer")
@form_of("/jobs/{job_id}/offer")
def make(caller: OwnerCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Make an offer."""
    with reading(form, caller.shop) as read:
        price, expected_on = read.money("price"), read.day("expected_on")
        remark = read.maybe_text("remark", most=1000)
    offers.make(caller, job_id=job_id, price=price, expected_on=expected_on, remark=remark)
    return see(f"/jobs/{job_id}/offer")


@router.post("/jobs/{job_id}/offer/accept")
@form_of("/jobs/{job_id}/offer")
def accept(caller: PageCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Accept the offer, or write down who did."""
    with reading(form, caller.shop) as read:
        offer_id, name = read.id("offer_id"), read.maybe_text("name", most=80)
    offers.accept(caller, job_id=job_id, offer_id=offer_id, name=name)
    return see(f"/jobs/{job_id}/offer")


@router.post("/jobs/{job_id}/offer/decline")
@form_of("/jobs/{job_id}/offer")
def decline(caller: PageCaller, form: SentForm, job_id: UUID) -> RedirectResponse:
    """Decline the offer."""
    with reading(form, caller.shop) as read:
        offer_id = read.id("offer_id")
    offers.decline(caller, job_id=job_id, offer_id=offer_id)
    return see(f"/jobs/{job_id}/offer")


@router.post("/jobs/{job_id}/offer/start")
@form_of("/jobs/{job_id}/offer")
def start_without(caller: OwnerCaller, job_id: UUID) -> RedirectResponse:
    """Start work although nobody accepted."""
    offers.start_without(caller, job_id=job_id)
    return see(f"/jobs/{job_id}/offer")
