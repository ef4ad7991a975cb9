"""Who is calling: a person by cookie and form key, or a program by bearer token and Idempotency-Key."""

import base64
import hashlib
import hmac
from dataclasses import replace
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import Depends, Header, Request
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from starlette.datastructures import FormData
from starlette.exceptions import HTTPException

from service.desk import signing_in
from service.desk.doorway import OWNERS, STAFF, Caller, Stores, Via
from service.errors import Forbidden, SignedOut

COOKIE = "loambook"

_bearer = HTTPBearer(auto_error=False, description="A program's token, made by the owner on the page People.")


def sha256(secret: str) -> str:
    """Return what is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def stranger(request: Request, via: Via = Via.PAGE) -> Caller:
    """Return a caller of whom nothing is known yet."""
    stores: Stores = request.app.state.stores
    return Caller(stores=stores, via=via, request_id=request.state.request_id)


async def form_data(request: Request) -> FormData:
    """Return the form that was sent, empty for a GET."""
    if request.method in ("GET", "HEAD"):
        return FormData()
    try:
        return await request.form(max_files=20, max_fields=3000)
    except HTTPException as fault:
        if fault.detail.startswith("Too many"):
            raise HTTPException(413) from fault
        raise


SentForm = Annotated[FormData, Depends(form_data)]


def visitor(request: Request, form: SentForm) -> Caller:
    """Return who is at the page, who may be nobody."""
    known: Caller | None = getattr(request.state, "caller", None)
    if known is None:
        token = request.cookies.get(COOKIE)
        known = (_recognise(request, token, Via.PAGE, "session") if token else None) or stranger(request)
        request.state.caller = known
    key = form.get("request_key")
    return replace(known, request_key=key if isinstance(key, str) and key else None)


def _recognise(request: Request, token: str, via: Via, kind: str) -> Caller | None:
    known = signing_in.recognise(stranger(request, via), token_sha256=sha256(token), kind=kind)
    if known is None:
        return None
    if known.stale:
        signing_in.note_use(known.caller, token_sha256=sha256(token))
    return known.caller


def source_of(request: Request) -> str:
    """Return the address on the network that a request came from."""
    return request.client.host if request.client else ""


def signed_in(caller: Annotated[Caller, Depends(visitor)]) -> Caller:
    """Return the person at the page; a stranger is sent to sign in."""
    if caller.person_id is None:
        raise SignedOut("Please sign in first.")
    return caller


def of_the_shop(caller: Annotated[Caller, Depends(signed_in)]) -> Caller:
    """Return one of the shop's own people; the doorway has the last word, this answers before the form is read."""
    if caller.role not in STAFF:
        raise Forbidden("That is for the people of the shop.")
    return caller


def owning(caller: Annotated[Caller, Depends(of_the_shop)]) -> Caller:
    """Return the owner."""
    if caller.role not in OWNERS:
        raise Forbidden("That is for the owner of the shop.")
    return caller


Visitor = Annotated[Caller, Depends(visitor)]
PageCaller = Annotated[Caller, Depends(signed_in)]
StaffCaller = Annotated[Caller, Depends(of_the_shop)]
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
    token = bearer.credentials if bearer is not None else request.cookies.get(COOKIE)
    known = _recognise(request, token, Via.API, "api" if bearer is not None else "session") if token else None
    if known is None:
        if bearer is not None:
            signing_in.note_attempt(stranger(request, Via.API), door="token", who="", source=source_of(request))
        raise SignedOut("A valid bearer token is needed.")
    request.state.caller = known
    return replace(known, request_key=idempotency_key)


ApiCaller = Annotated[Caller, Depends(program)]


def token_for(request: Request, caller: Caller) -> str:
    """Return the secret for what this form makes: the same form sent twice makes the same one."""
    words = f"{caller.caller_key} {caller.request_key}".encode()
    drawn = hmac.digest(request.app.state.token_key, words, "sha256")
    return base64.urlsafe_b64encode(drawn).decode().rstrip("=")


def new_key() -> str:
    """Return a fresh request key for a form."""
    return uuid4().hex


def as_uuid(text: str) -> UUID | None:
    """Return text as an id, or None when it is none."""
    try:
        return UUID(text)
    except ValueError:
        return None
