"""People of the shop and of its customers, programs' tokens, and how the shop writes."""

from typing import Annotated, cast, get_args
from uuid import UUID

from fastapi import Query, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from markupsafe import Markup

from service.desk import people
from service.desk.doorway import Caller, Role, ShopFacts
from service.paper import square_code
from service.web.authentication import OwnerCaller, SentForm, as_uuid, sha256, token_for
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import page, see
from service.web.room import Room

router = Room()

ROLES = tuple(role.value for role in Role)
PageNumber = Annotated[int, Query(alias="page", ge=1, le=10_000)]


@router.get("/people")
def show(
    request: Request, caller: OwnerCaller, customer: UUID | None = None, page_number: PageNumber = 1
) -> HTMLResponse:
    """Show who signs in, a page of them, and invite somebody of a customer if one is named."""
    chosen = customer or as_uuid(getattr(request.state, "typed", {}).get("customer_id", ""))
    return _page(request, caller, customer_id=chosen, page_number=page_number)


def _page(
    request: Request,
    caller: Caller,
    *,
    shown: str = "",
    shown_for: str = "",
    picture: str = "",
    customer_id: UUID | None = None,
    page_number: int = 1,
) -> HTMLResponse:
    everybody = people.everybody(caller, page=page_number, customer_id=customer_id)
    return page(
        request,
        "people.html",
        caller=caller,
        everybody=everybody,
        shown=shown,
        shown_for=shown_for,
        picture=picture,
        chosen=customer_id,
        sends_mail=caller.stores.sends_mail,
    )


def _with_address(request: Request, caller: Caller, token: str, shown_for: str, page_number: int = 1) -> HTMLResponse:
    address = f"{request.app.state.address}/sign-in/{token}"
    picture = Markup(square_code.code(address))
    return _page(request, caller, shown=address, shown_for=shown_for, picture=picture, page_number=page_number)


@router.post("/people")
@form_of("/people")
def invite(request: Request, caller: OwnerCaller, form: SentForm) -> HTMLResponse:
    """Invite somebody; the single-use address is shown in the answer, once and nowhere else."""
    with reading(form, caller.shop) as read:
        name, email = read.text("name", most=80), read.text("email", most=120)
        role, customer_id = read.choice("role", ROLES), read.maybe_id("customer_id")
        if "@" not in email:
            read.wrong("email", "An e-mail address has an @ in it.")
    token = token_for(caller)
    role_given = Role(role)
    people.invite(
        caller,
        name=name,
        email=email,
        role=role_given,
        customer_id=customer_id if role_given is Role.CUSTOMER else None,
        token_sha256=sha256(token),
    )
    return _with_address(request, caller, token, name)


@router.post("/people/{person_id}/address")
@form_of("/people")
def make_address(request: Request, caller: OwnerCaller, person_id: UUID, page_number: PageNumber = 1) -> HTMLResponse:
    """Make a one-use sign-in address for somebody who lost his password."""
    token = token_for(caller)
    people.make_address(caller, person_id=person_id, token_sha256=sha256(token))
    return _with_address(request, caller, token, "this person", page_number)


@router.post("/people/{person_id}/reset")
@form_of("/people")
def reset(request: Request, caller: OwnerCaller, person_id: UUID, page_number: PageNumber = 1) -> HTMLResponse:
    """End every way in of somebody, and show the one address at which he chooses a password anew."""
    token = token_for(caller)
    people.reset(caller, person_id=person_id, token_sha256=sha256(token))
    return _with_address(request, caller, token, "this person", page_number)


@router.post("/people/{person_id}/end")
@form_of("/people")
def end_person(caller: OwnerCaller, person_id: UUID, page_number: PageNumber = 1) -> RedirectResponse:
    """Let somebody in no longer."""
    people.end_person(caller, person_id=person_id)
    return see("/people" if page_number == 1 else f"/people?page={page_number}")


@router.post("/people/{person_id}/tokens")
@form_of("/people")
def make_token(
    request: Request, caller: OwnerCaller, form: SentForm, person_id: UUID, page_number: PageNumber = 1
) -> HTMLResponse:
    """Create a token for a program; it is shown in the answer, once and nowhere else."""
    with reading(form, caller.shop) as read:
        role = read.choice("role", ROLES)
        lasts_days = read.count("lasts_days", least=1, most=people.MOST_TOKEN_DAYS)
    token = token_for(caller)
    people.make_token(caller, person_id=person_id, role=Role(role), token_sha256=sha256(token), lasts_days=lasts_days)
    return _page(request, caller, shown=token, shown_for="a program", page_number=page_number)


@router.post("/tokens/{ticket_id}/end")
@form_of("/people")
def end_token(caller: OwnerCaller, ticket_id: UUID) -> RedirectResponse:
    """End a program's token."""
    people.end_token(caller, ticket_id=ticket_id)
    return see("/people")


@router.get("/settings")
def show_settings(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show how the shop writes."""
    asked = people.who_needs_second_factor(caller)
    return page(request, "settings.html", caller=caller, letterhead=people.letterhead(caller), asked=asked)


@router.post("/settings/second-factor")
@form_of("/settings")
def ask_second_factor(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Ask the owners, everybody or nobody for a second factor."""
    with reading(form, caller.shop) as read:
        needed = read.choice("needed", get_args(people.Asked))
    people.ask_second_factor(caller, needed=cast(people.Asked, needed))
    return see("/settings")


@router.post("/settings")
@form_of("/settings")
def change_settings(caller: OwnerCaller, form: SentForm) -> RedirectResponse:
    """Change how the shop writes."""
    with reading(form, caller.shop) as read:
        assurance, margin = read.quantity("assurance", "share"), read.quantity("margin", "share")
        if not 0.5 < assurance.value < 1:
            read.wrong("assurance", "Above 50 % and below 100 %.")
        if not 0 < margin.value < 1:
            read.wrong("margin", "Above 0 and below 100 %.")
        name, letterhead = read.text("name", most=80), read.maybe_text("letterhead", most=400)
        whom_to_call = read.text("whom_to_call", most=120, needed=False)
        time_zone, currency = read.text("time_zone", most=60), read.text("currency", most=3).upper()
        block_price, calibration_price = read.maybe_money("block_price"), read.maybe_money("calibration_price")
        thousands = read.maybe_choice("comma_thousands", ("yes", "no"))
        paper, units, language = (
            read.choice(field, offered)
            for field, offered in (
                ("paper", ("A4", "Letter")),
                ("units_first", ("metric", "imperial")),
                ("language", ("en", "es")),
            )
        )
    facts = ShopFacts(
        name=name,
        time_zone=time_zone,
        currency=currency,
        paper=paper,
        units_first="imperial" if units == "imperial" else "metric",
        comma_thousands=caller.shop.comma_thousands if thousands is None else thousands == "yes",
        language="es" if language == "es" else "en",
        whom_to_call=whom_to_call.strip(),
        assurance=assurance.value,
        margin=margin.value,
        block_price=block_price,
        calibration_price=calibration_price,
    )
    people.change_shop(caller, facts=facts, letterhead=letterhead)
    return see("/settings")
