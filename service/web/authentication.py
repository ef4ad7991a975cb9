"""Who is calling: a person by cookie and form key, or a program by bearer token and Idempotency-Key."""

import hashlib
import json
import secrets
from collections import Counter
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import suppress
from dataclasses import replace
from typing import Annotated, Any
from uuid import UUID, uuid4

from fastapi import Depends, Header, Request
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from service.desk.doorway import CAME_BY_PIN, CUSTOMERS, OWES, OWNERS, STAFF, TECHNICIANS, Caller, Stores, Via
from service.desk.signing_in import own_access
from service.desk.signing_in.rate_limit import note_attempt, note_costly
from service.desk.signing_in.sessions import note_use, recognise
from service.errors import Forbidden, Invalid, SecondFactorNeeded, SignedOut, Unavailable
from service.form_secret import secret_of_form
from service.web.cookies import TABLET_COOKIE, held
from service.web.entries import as_entered
from service.web.request_log import path_told
from service.web.turns import turn

_bearer = HTTPBearer(
    auto_error=False, description="The password for a program, made by the owner on the page Who can sign in."
)


def sha256(secret: str) -> str:
    """Return what is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def stranger(request: Request, via: Via = Via.PAGE) -> Caller:
    """Return a caller of whom nothing is known yet."""
    stores: Stores = request.app.state.stores
    place = f"{request.method} {path_told(request.scope)}"
    return Caller(stores=stores, via=via, request_id=request.state.request_id, place=place)


async def form_data(request: Request) -> AsyncIterator[FormData]:
    """Give the form that was sent, empty for a GET; what came as a file with it is thrown away afterwards."""
    if request.method in ("GET", "HEAD"):
        yield FormData()
        return
    try:
        form = await request.form(max_files=20, max_fields=3000)
    except HTTPException as fault:
        if fault.detail.startswith("Too many") or "exceeded maximum size" in fault.detail:
            raise HTTPException(413) from fault
        raise
    try:
        yield form
    finally:
        await form.close()


SentForm = Annotated[FormData, Depends(form_data)]


def visitor(request: Request, form: SentForm) -> Caller:
    """Return who is at the page, who may be nobody; a password that was asked for on the way is looked at here."""
    key, password = form.get("request_key"), form.get("confirm_password")
    caller = replace(whoever(request), request_key=key if isinstance(key, str) and key else None)
    caller = as_entered(caller, request.headers)
    if caller.person_id is None or not isinstance(password, str) or not password:
        return caller
    return _confirmed(request, caller, password)


def _confirmed(request: Request, caller: Caller, password: str) -> Caller:
    note_attempt(caller, door="password", who=str(caller.person_id), source=source_of(request))
    # The key is that of the act that follows.
    old_sha256, token = session_sha256(request) or "", secrets.token_urlsafe(32)
    own_access.confirm(
        replace(caller, request_key=None), password=password, token_sha256=old_sha256, new_sha256=sha256(token)
    )
    request.state.session_token = token
    request.state.caller = replace(request.state.caller, confirmed=True)
    return replace(caller, confirmed=True)


def whoever(request: Request) -> Caller:
    """Return who is at this browser, who may be nobody; looked up once a request."""
    known: Caller | None = getattr(request.state, "caller", None)
    if known is None:
        token = held(request)
        known = (_recognise(request, token, Via.PAGE, "session") if token else None) or stranger(request)
        request.state.caller = known
    return known


def glancing(request: Request) -> Caller:
    """Return one of the shop's own people without noting it as use: a page left open asks by itself."""
    token = held(request)
    known = token and recognise(
        stranger(request), token_sha256=sha256(token), kind="session", device_sha256=tablet_sha256(request)
    )
    if not known:
        raise SignedOut("Please sign in first.")
    if known.caller.owes_second_factor:
        raise SecondFactorNeeded(OWES)
    return known.caller


def session_sha256(request: Request) -> str | None:
    """Return what is kept of the secret of this browser's session."""
    token = held(request)
    return sha256(token) if token else None


def tablet_sha256(request: Request) -> str | None:
    """Return what is kept of the secret of the tablet that this browser says it is."""
    token = held(request, TABLET_COOKIE)
    return sha256(token) if token else None


def _recognise(request: Request, token: str, via: Via, kind: str) -> Caller | None:
    known = recognise(
        stranger(request, via), token_sha256=sha256(token), kind=kind, device_sha256=tablet_sha256(request)
    )
    if known is None:
        return None
    if known.stale:
        # Records that cannot be written to can still be read.
        with suppress(Unavailable):
            note_use(known.caller, token_sha256=sha256(token))
    return known.caller


def source_of(request: Request) -> str:
    """Return the address on the network that a request came from."""
    return request.client.host if request.client else ""


# What looks nothing up is asked where the request is read: another thread would take longer than the question.
async def somebody(caller: Annotated[Caller, Depends(visitor)]) -> Caller:
    """Return the person at the page, even an owner without the second factor his shop asks for."""
    if caller.person_id is None:
        raise SignedOut("Please sign in first.")
    return caller


async def signed_in(caller: Annotated[Caller, Depends(somebody)]) -> Caller:
    """Return the person at the page; a stranger is sent to sign in."""
    if caller.owes_second_factor:
        raise SecondFactorNeeded(OWES)
    return caller


async def of_the_shop(caller: Annotated[Caller, Depends(signed_in)]) -> Caller:
    """Return one of the shop's own people; the doorway has the last word, this answers before the form is read."""
    if caller.role not in STAFF:
        raise Forbidden("That is for the people of the shop.")
    return caller


async def owning(caller: Annotated[Caller, Depends(of_the_shop)]) -> Caller:
    """Return the owner."""
    if caller.role not in OWNERS:
        raise Forbidden("That is for the owner of the shop.")
    return caller


async def of_a_customer(caller: Annotated[Caller, Depends(signed_in)]) -> Caller:
    """Return one of a customer's people."""
    if caller.role not in CUSTOMERS:
        raise Forbidden("That is for customers.")
    return caller


async def by_password(caller: Annotated[Caller, Depends(somebody)]) -> Caller:
    """Return the person at the page, who came in by more than a PIN; an owner may still lack his second factor."""
    if caller.by_pin:
        raise Forbidden(CAME_BY_PIN)
    return caller


async def technician(caller: Annotated[Caller, Depends(by_password)]) -> Caller:
    """Return the technician, who came in by more than a PIN."""
    if caller.role not in TECHNICIANS:
        raise Forbidden("A PIN is for technicians.")
    return caller


Visitor = Annotated[Caller, Depends(visitor)]
GlancingCaller = Annotated[Caller, Depends(glancing)]
UnfinishedCaller = Annotated[Caller, Depends(somebody)]
PageCaller = Annotated[Caller, Depends(signed_in)]
StaffCaller = Annotated[Caller, Depends(of_the_shop)]
CustomerCaller = Annotated[Caller, Depends(of_a_customer)]
PasswordCaller = Annotated[Caller, Depends(by_password)]
TechnicianCaller = Annotated[Caller, Depends(technician)]
OwnerCaller = Annotated[Caller, Depends(owning)]


IdempotencyKey = Annotated[
    str | None,
    Header(
        alias="Idempotency-Key",
        description="A fresh key for every act, at most 64 characters: the same request sent twice is done once. "
        "Without it an act is refused with 422; reading and the worked calculations need none.",
    ),
]


def program(
    request: Request,
    bearer: Annotated[HTTPAuthorizationCredentials | None, Depends(_bearer)] = None,
    idempotency_key: IdempotencyKey = None,
) -> Caller:
    """Return the program behind a bearer token, or the person whose session cookie came along."""
    token = bearer.credentials if bearer is not None else held(request)
    known = _recognise(request, token, Via.API, "api" if bearer is not None else "session") if token else None
    if known is None:
        if bearer is not None:
            note_attempt(stranger(request, Via.API), door="token", who="", source=source_of(request))
        raise SignedOut("A valid password for a program is needed.")
    request.state.caller = known
    if known.owes_second_factor:
        raise SecondFactorNeeded(OWES)
    return replace(known, request_key=idempotency_key)


async def keys_once(request: Request) -> None:
    """Refuse JSON in which a key stands twice: readers would silently take the one or the other."""

    def pairs(given: list[tuple[str, Any]]) -> dict[str, Any]:
        counted = Counter(key for key, _ in given)
        twice.extend(key for key, times in counted.items() if times > 1)
        return dict(given)

    twice: list[str] = []
    # What is no JSON, or nests too deeply, was refused when it was first read.
    with suppress(ValueError, RecursionError):
        json.loads(await request.body(), object_pairs_hook=pairs)
    if twice:
        raise Invalid("Some of this could not be read.", {key[:80]: "This key is given twice." for key in twice})


async def acting_program(
    caller: Annotated[Caller, Depends(program)], checked: Annotated[None, Depends(keys_once)]
) -> Caller:
    """Return the program behind a request whose body says each thing once."""
    return caller


ApiCaller = Annotated[Caller, Depends(acting_program)]


def _counting(kind: str, caller_of: Callable[..., Caller | Awaitable[Caller]]) -> Any:
    async def count(caller: Annotated[Caller, Depends(caller_of)]) -> AsyncIterator[None]:
        await run_in_threadpool(note_costly, caller, kind=kind)
        async with turn(kind, str(caller.person_id)):
            yield

    # The turn is over when the answer is worked out, however slowly it is taken.
    return Depends(count, scope="function")


# What takes long is counted for each person and each program before it begins, and done a few at a time.
COSTLY_FORM, COSTLY_PAPER = _counting("work", signed_in), _counting("paper", signed_in)
COSTLY_WORK, COSTLY_ISSUE = _counting("work", program), _counting("paper", program)


def token_for(caller: Caller) -> str:
    """Return the secret for what this form makes: the same form sent twice makes the same one."""
    return secret_of_form(caller.stores.key, caller_key=caller.caller_key, request_key=caller.request_key)


def new_key() -> str:
    """Return a fresh request key for a form."""
    return uuid4().hex


def as_uuid(text: str) -> UUID | None:
    """Return text as an id, or None when it is none."""
    try:
        return UUID(text)
    except ValueError:
        return None
