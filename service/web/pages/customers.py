"""Customers: the list, and each with his jobs and people."""

from typing import Annotated, Any
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse

from service.desk import customers, people
from service.desk.doorway import Caller
from service.desk.intake import compared
from service.desk.results import older_jobs
from service.web.authentication import SentForm, StaffCaller
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room(prefix="/customers")

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
    return see(f"/customers/{people.add_customer(caller, **_known(caller, form)).id}")


@router.post("/{customer_id}")
@form_of("/customers/{customer_id}")
def change(caller: StaffCaller, form: SentForm, customer_id: UUID) -> RedirectResponse:
    """Change what is known of a customer."""
    people.change_customer(caller, customer_id=customer_id, **_known(caller, form))
    return see(f"/customers/{customer_id}")


def _known(caller: Caller, form: SentForm) -> dict[str, Any]:
    with reading(form, caller.shop) as read:
        return {
            "name": read.text("name", most=80),
            "contact": read.maybe_text("contact"),
            "language": read.maybe_choice("language", tuple(code for code, _ in LANGUAGES)),
        }


@router.get("/{customer_id}")
def show_one(
    request: Request, caller: StaffCaller, customer_id: UUID, page_number: PageNumber = 1, closed: bool = False
) -> HTMLResponse:
    """Show one customer."""
    found = customers.customer(caller, customer_id=customer_id, page=page_number, closed=closed)
    return page(request, "customer.html", caller=caller, customer=found, closed=closed, languages=dict(LANGUAGES))


@router.get("/{customer_id}/soils")
def show_soils(request: Request, caller: StaffCaller, customer_id: UUID) -> HTMLResponse:
    """Show the soils of a customer side by side, and what their imported readings came to."""
    found, older = (ask(caller, customer_id=customer_id) for ask in (compared.beside, older_jobs.of_customer))
    return page(request, "soils_beside.html", caller=caller, found=found, older=older)
