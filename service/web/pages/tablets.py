"""The shop's tablets: enrolled and ended by the owner, switched on by name and PIN."""

import secrets
from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response
from markupsafe import Markup

from service.desk.doorway import Caller
from service.desk.signing_in import tablets
from service.desk.signing_in._passwords_and_pins import PIN_DIGITS
from service.desk.signing_in.lifetimes_and_tries import TABLET_LASTS, TABLET_SESSION_LASTS
from service.desk.signing_in.rate_limit import note_attempt
from service.errors import NotFound
from service.paper import square_code
from service.web.authentication import (
    OwnerCaller,
    SentForm,
    Visitor,
    session_sha256,
    sha256,
    source_of,
    tablet_sha256,
    token_for,
)
from service.web.cookies import TABLET_COOKIE, give
from service.web.error_pages import form_of
from service.web.form_input import reading
from service.web.responses import local, page, see
from service.web.room import Room

router = Room()


@router.get("/tablets")
def show(request: Request, caller: OwnerCaller) -> HTMLResponse:
    """Show the tablets of the shop."""
    return _page(request, caller)


def _page(request: Request, caller: Caller, shown: str = "", shown_for: str = "") -> HTMLResponse:
    picture = Markup(square_code.code(shown)) if shown else ""
    lines = tablets.listed(caller)
    return page(request, "tablets.html", caller=caller, lines=lines, shown=shown, shown_for=shown_for, picture=picture)


@router.post("/tablets")
@form_of("/tablets")
def enrol(request: Request, caller: OwnerCaller, form: SentForm) -> HTMLResponse:
    """Add a tablet; the one-use address is shown in the answer, once and nowhere else."""
    with reading(form, caller.shop) as read:
        name = read.text("name", most=40)
    token = token_for(caller)
    tablets.enrol(caller, name=name, token_sha256=sha256(token))
    return _page(request, caller, f"{request.app.state.address}/tablets/begin/{token}", name)


@router.post("/tablets/{device_id}/end")
@form_of("/tablets")
def end(caller: OwnerCaller, device_id: UUID) -> RedirectResponse:
    """End a tablet and every session on it."""
    tablets.end_tablet(caller, device_id=device_id)
    return see("/tablets")


@router.get("/tablets/begin/{token}")
def show_begin(request: Request, visitor: Visitor, token: str) -> HTMLResponse:
    """Show which tablet this browser would become; only the button makes it so."""
    note_attempt(visitor, door="address", who="", source=source_of(request))
    name = tablets.whose_enrolment(visitor, token_sha256=sha256(token))
    return page(request, "tablet_begin.html", caller=None, name=name, token=token)


@router.post("/tablets/begin/{token}")
@form_of("/tablets/begin/{token}")
def begin(request: Request, visitor: Visitor, token: str) -> RedirectResponse:
    """Make this browser the tablet; a second click of the same form makes it the same one."""
    drawn = token_for(visitor)
    tablets.begin(visitor, token_sha256=sha256(token), device_sha256=sha256(drawn))
    answer = see("/tablet")
    give(request, answer, drawn, lasts=TABLET_LASTS, cookie=TABLET_COOKIE)
    return answer


@router.get("/tablet")
def show_names(request: Request, visitor: Visitor, then: str = "/") -> HTMLResponse:
    """Show who may switch on this tablet."""
    screen = tablets.name_screen(visitor, device_sha256=_of_tablet(request))
    return page(request, "tablet.html", caller=None, screen=screen, then=local(then))


def _of_tablet(request: Request) -> str:
    found = tablet_sha256(request)
    if found is None:
        raise NotFound("This is no tablet of the shop. The owner can enrol it.")
    return found


@router.get("/tablet/{person_id}")
def show_pad(request: Request, visitor: Visitor, person_id: UUID, then: str = "/") -> HTMLResponse:
    """Show the pad for somebody's PIN."""
    return _pad(request, visitor, person_id, then, "")


def _pad(request: Request, visitor: Visitor, person_id: UUID, then: str, pin: str) -> HTMLResponse:
    screen = tablets.name_screen(visitor, device_sha256=_of_tablet(request))
    name = dict(screen.people).get(person_id)
    if name is None:
        raise NotFound("Nobody of this name signs in on this tablet.")
    view: dict[str, Any] = {"person_id": person_id, "name": name, "then": local(then)}
    return page(request, "tablet_pin.html", caller=None, pin=pin, digits=PIN_DIGITS, **view)


@router.post("/tablet/{person_id}")
@form_of("/tablet/{person_id}")
def switch_on(request: Request, visitor: Visitor, person_id: UUID, form: SentForm) -> Response:
    """Open a session for whoever knows the PIN; without script every button of the pad sends its digit."""
    with reading(form, visitor.shop) as read:
        pin, pressed = read.text("pin", most=12, needed=False), read.text("digit", most=4, needed=False)
        then = local(read.text("then", needed=False))
    pin = pin[:-1] if pressed == "back" else pin + pressed
    if pressed and len(pin) < PIN_DIGITS:
        return _pad(request, visitor, person_id, then, pin)
    device_sha256 = _of_tablet(request)
    note_attempt(visitor, door="pin", who=f"{device_sha256} {person_id}", source=source_of(request))
    request.state.device_id = tablets.note_pin_try(visitor, device_sha256=device_sha256, person_id=person_id).id
    proof = tablets.prove_pin(visitor, device_sha256=device_sha256, person_id=person_id, pin=pin)
    token = secrets.token_urlsafe(32)
    tablets.open_by_pin(
        visitor,
        proof=proof,
        token_sha256=sha256(token),
        device_sha256=device_sha256,
        instead_of=session_sha256(request),
    )
    answer = see(then)
    give(request, answer, token, lasts=TABLET_SESSION_LASTS)
    return answer
