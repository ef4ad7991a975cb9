"""Every refusal becomes an answer here, and nowhere else."""

import logging
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import Any, TypeVar
from urllib.parse import quote

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse, Response
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect
from starlette.types import Message, Receive, Scope, Send

from service.desk.doorway import ShopFacts
from service.errors import (
    Conflict,
    Forbidden,
    Invalid,
    NotFound,
    PasswordNeeded,
    Refusal,
    SecondFactorNeeded,
    SignedOut,
    TooMany,
    Unavailable,
    Unsettled,
)
from service.web.authentication import whoever
from service.web.cookies import TABLET_COOKIE, held
from service.web.responses import page, speaks
from service.web.security_log import BROKEN, TOO_MUCH, tell, tell_of
from service.words.both_systems import in_both
from service.words.numbers_to_text import thousands_parted
from service.words.sentences import refused as refused_in

log = logging.getLogger(__name__)

# Matched in order by base class, so that a new child of Invalid is a 422 without being listed.
STATUS: dict[type[Refusal], int] = {
    SignedOut: 401,
    Forbidden: 403,
    NotFound: 404,
    Conflict: 409,
    Invalid: 422,
    TooMany: 429,
    Unavailable: 503,
    Unsettled: 422,
}
SENTENCES = {
    404: "There is no such page, or you may not see it.",
    405: "This address does not take that kind of request.",
    408: "What was sent did not arrive whole in time. Send it again.",
    413: "That is more than this form takes at once.",
}
# What is never put back into a form.
SECRETS = frozenset({"password", "new_password", "confirm_password", "code", "pin", "digit", "request_key"})
STILL_HERE = "You are signed out. What you typed is still here: sign in in another window, then send it."


Endpoint = TypeVar("Endpoint", bound=Callable[..., Any])


def form_of(path: str) -> Callable[[Endpoint], Endpoint]:
    """Say at which address the form stands, so that a refused one is shown again with what was typed."""

    def mark(endpoint: Endpoint) -> Endpoint:
        endpoint.form_of = path  # type: ignore[attr-defined]
        return endpoint

    return mark


class FormAgain(Response):
    """The page of the form once more, with what was typed and a sentence at each field."""

    def __init__(self, app: FastAPI, path: str, refusal: Refusal, status: int, typed: Mapping[str, str]) -> None:
        super().__init__(status_code=status)
        self.app, self.path, self.refusal, self.typed = app, path, refusal, typed

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Run the page's own GET and send its answer with the status of the refusal."""
        state = {**scope.get("state", {}), "typed": self.typed, "errors": self.refusal.fields}
        state["refusal"] = self.refusal.sentence
        again = {**scope, "method": "GET", "path": self.path, "raw_path": self.path.encode(), "state": state}
        again.pop("route", None)
        again.pop("endpoint", None)
        # Starlette keeps a Request's parsed parts in the scope's own extensions; none may leak over.
        again["path_params"] = {}

        async def with_status(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 200:
                message = {**message, "status": self.status_code}
            await send(message)

        await self.app.router(again, _nothing_more, with_status)


async def _nothing_more() -> Message:
    return {"type": "http.request", "body": b"", "more_body": False}


def is_for_programs(request: Request) -> bool:
    """Return whether the answer is read by a program."""
    return request.url.path.startswith("/api/")


async def refused(request: Request, error: Exception) -> Response:
    """Turn a refusal into the answer for a program, for htmx or for a person."""
    refusal = error if isinstance(error, Refusal) else Refusal(str(error))
    status = next((code for kind, code in STATUS.items() if isinstance(refusal, kind)), 422)
    secret_came = "authorization" in request.headers or held(request) is not None
    tell_of(request.scope, refusal, secret_came=secret_came)
    if status == 503:
        log.error("request %s met an outage", request.state.request_id, exc_info=error)
    return await _answer(request, refusal, status)


async def _answer(request: Request, refusal: Refusal, status: int) -> Response:
    if is_for_programs(request):
        headers = {"WWW-Authenticate": "Bearer"} if status == 401 else None
        return JSONResponse({"error": refusal.sentence, "fields": refusal.fields}, status, headers)
    refusal = _in_their_language(request, refusal)
    told = {"error": refusal.sentence, "fields": refusal.fields}
    sent_by_htmx = request.headers.get("hx-request") == "true"
    if status == 401 and request.method == "POST" and sent_by_htmx:
        said = refused_in(STILL_HERE, language=speaks(request, None))
        return JSONResponse({"error": said, "fields": {}}, status, {"Vary": "HX-Request, HX-Target"})
    if status == 401:
        return _sent_to(request, _way_in(request))
    if isinstance(refusal, SecondFactorNeeded):
        return _sent_to(request, "/you/second-factor")
    if isinstance(refusal, PasswordNeeded):
        return await _password_asked(request, refusal)
    if sent_by_htmx and request.method == "POST":
        return JSONResponse(told, status, {"Vary": "HX-Request, HX-Target"})
    shown_by = getattr(request.scope.get("endpoint"), "form_of", None)
    if request.method == "POST" and shown_by and status in (409, 422, 429):
        path = shown_by.format(**request.path_params)
        return FormAgain(request.app, path, refusal, status, await _typed(request))
    return refusal_page(request, refusal.sentence, status, refusal.fields)


def _in_their_language(request: Request, refusal: Refusal) -> Refusal:
    caller = getattr(request.state, "caller", None)
    language, shop = speaks(request, caller), caller.shop if caller else ShopFacts()
    with thousands_parted(shop.comma_thousands):
        told = {
            text: in_both(refused_in(text, language=language), units=shop.units_first)
            for text in (refusal.sentence, *refusal.fields.values())
        }
    return type(refusal)(told[refusal.sentence], {name: told[text] for name, text in refusal.fields.items()})


async def _password_asked(request: Request, refusal: PasswordNeeded) -> Response:
    """Ask for the password, with everything typed so far in the same form."""
    action, kept = request.url.path, [("then", request.url.path)]
    if request.method == "POST":
        form = await request.form()
        kept = [(name, value) for name, value in form.multi_items() if isinstance(value, str) and _goes_on(name)]
    else:
        action = "/you/confirm"
    view: dict[str, Any] = {"action": action, "kept": kept, "errors": refusal.fields, "refusal": refusal.sentence}
    return page(request, "confirm.html", caller=request.state.caller, code=403, **view)


def _goes_on(name: str) -> bool:
    # The key stays, so that the act is done once however often the password is sent.
    return name not in SECRETS or name == "request_key"


async def _typed(request: Request) -> dict[str, str]:
    form = await request.form()
    return {key: value for key, value in form.items() if isinstance(value, str) and key not in SECRETS}


def _way_in(request: Request) -> str:
    page = "/tablet" if held(request, TABLET_COOKIE) else "/sign-in"
    back = request.url.path if request.method == "GET" else "/"
    return page if back == "/" else f"{page}?then={quote(back)}"


def _sent_to(request: Request, target: str) -> Response:
    if request.headers.get("hx-request") == "true":
        return Response(status_code=204, headers={"HX-Redirect": target})
    return RedirectResponse(target, 303)


def refusal_page(request: Request, sentence: str, status: int, fields: Mapping[str, str] | None = None) -> Response:
    """Return the page that says what went wrong, with the request id to quote."""
    return page(
        request,
        "refusal.html",
        caller=getattr(request.state, "caller", None),
        code=status,
        status=status,
        sentence=sentence,
        fields=fields or {},
        request_id=request.state.request_id,
    )


async def not_shown(request: Request, error: Exception) -> Response:
    """Answer the framework's own 404, 405 and the like in the shop's words."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    if status == 413:
        tell(request.scope, TOO_MUCH)
    sentence = SENTENCES.get(status, "This request could not be understood.")
    if is_for_programs(request):
        return JSONResponse({"error": sentence, "fields": {}}, status)
    # No route looked who asks; whoever is signed in keeps their menu on this page too.
    with suppress(Refusal):
        await run_in_threadpool(whoever, request)
    return _said_on_a_page(request, sentence, status)


def _said_on_a_page(request: Request, sentence: str, status: int) -> Response:
    language = speaks(request, getattr(request.state, "caller", None))
    return refusal_page(request, refused_in(sentence, language=language), status)


async def not_understood(request: Request, error: Exception) -> Response:
    """Answer a request whose parts do not have the right form."""
    problems = error.errors() if isinstance(error, RequestValidationError) else []
    # An address with something that is no id in it is simply no address of ours.
    if any(problem["loc"][0] == "path" for problem in problems):
        return await not_shown(request, HTTPException(404))
    fields = {_dotted(problem["loc"]): problem["msg"] for problem in problems}
    return await _answer(request, Invalid("Some of this could not be read.", fields), 422)


def _dotted(place: tuple[Any, ...]) -> str:
    return ".".join(str(part) for part in place[1:]) or str(place[0])


async def left(request: Request, error: Exception) -> Response:
    """Answer whoever hung up before the request was whole: nobody hears it, and it is no fault of ours."""
    return Response(status_code=400)


async def broken(request: Request, error: Exception) -> Response:
    """Answer a bug: logged in full, told in one sentence."""
    log.error("request %s failed", request.state.request_id, exc_info=error)
    tell(request.scope, BROKEN)
    sentence = "Something went wrong on our side. Nothing was half-stored. Send it again."
    if is_for_programs(request) or request.headers.get("hx-request") == "true":
        return JSONResponse({"error": sentence, "fields": {}}, 500)
    return _said_on_a_page(request, sentence, 500)


def install(app: FastAPI) -> None:
    """Register every answer with the application."""
    app.add_exception_handler(Refusal, refused)
    app.add_exception_handler(HTTPException, not_shown)
    app.add_exception_handler(RequestValidationError, not_understood)
    app.add_exception_handler(ClientDisconnect, left)
    app.add_exception_handler(Exception, broken)
