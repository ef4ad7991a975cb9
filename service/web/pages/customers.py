"""Customers: the list, and each with his jobs and people."""

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import customers, people
from service.web.caller import SentForm, StaffCaller
from service.web.forms import reading
from service.web.refusals import form_of
from service.web.render import page, see

router = APIRouter(prefix="/customers")

PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]
LANGUAGES = (("en", "English"), ("es", "Spanish"))


@router.get("")
def show(request: Request, caller: StaffCaller, page_number: PageNumber = 1) -> HTMLResponse:
    """Show the customers."""
    found = customers.customers(caller, page=page_number)
    return page(request, "customers.html", caller=caller, found=found, languages=LANGUAGES)


@router.post("")
@form_of("/customers")
def add(caller: StaffCaller, form: SentForm) -> RedirectResponse:
    """Add a customer."""
    with reading(form, caller.shop) as read:
        name, contact = read.text("name", most=80), read.maybe_text("contact")
        language = read.maybe_choice("language", tuple(code for code, _ in LANGUAGES))
    done = people.add_customer(caller, name=name, contact=contact, language=language)
    return see(f"/customers/{done.id}")


@router.get("/{customer_id}")
def show_one(
    request: Request, caller: StaffCaller, customer_id: UUID, page_number: PageNumber = 1, closed: bool = False
) -> HTMLResponse:
    """Show one customer."""
    found = customers.customer(caller, customer_id=customer_id, page=page_number, closed=closed)
    return page(request, "customer.html", caller=caller, customer=found, closed=closed, languages=dict(LANGUAGES))
