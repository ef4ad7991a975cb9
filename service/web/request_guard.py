"""The outermost ring: request id, cross-site refusal, size limit and the headers of every answer."""

import asyncio
import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.web.cookies import COOKIE, give_anew
from service.web.security_log import OTHER_SITE, TOO_MUCH, tell

SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_REQUEST_BYTES = 12 * 1024 * 1024
# How long the body of a request may take; the biggest then needs 100 kB/s.
BODY_SECONDS = 120.0

HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
        "object-src 'none'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; manifest-src 'self'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Permissions-Policy": "geolocation=(), microphone=(), payment=()",
}


class Guard:
    """Refuse what comes from another site, and send every answer out with its headers."""

    def __init__(
        self, app: ASGIApp, *, origins: frozenset[str] = frozenset(), https: bool = False, subdomains: bool = False
    ) -> None:
        self.app, self.origins, self.https = app, origins, https
        # Names below the shop's own may be somebody else's, so they are spoken for only where a setting says so.
        self.lasts = "max-age=31536000; includeSubDomains" if subdomains else "max-age=31536000"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or answer it here."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        sent = Headers(scope=scope)
        request_id = secrets.token_hex(8)
        scope.setdefault("state", {})["request_id"] = request_id

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                self._dress(headers, request_id)
                give_anew(scope, headers)
            await send(message)

        refusal = self._refuse(scope, sent)
        if refusal is not None:
            await refusal(scope, receive, with_headers)
            return
        await self.app(scope, self._limited(receive), with_headers)

    def _refuse(self, scope: Scope, headers: Headers) -> JSONResponse | None:
        if scope["method"] not in SAFE_METHODS and self._from_elsewhere(headers):
            tell(scope, OTHER_SITE)
            return JSONResponse({"error": "This request came from another site.", "fields": {}}, 403)
        if "\0" in scope["path"] or b"%00" in scope["query_string"]:
            # No database keeps this letter, and PostgreSQL does not even compare it.
            return JSONResponse({"error": "There is nothing here.", "fields": {}}, 404)
        length = headers.get("content-length", "")
        if length.isdecimal() and (len(length) > 12 or int(length) > MOST_REQUEST_BYTES):
            tell(scope, TOO_MUCH)
            return JSONResponse({"error": "That is more than can be sent at once.", "fields": {}}, 413)
        return None

    @staticmethod
    def _carries_session(headers: Headers) -> bool:
        # Every cookie of ours has this word in its name: the session's and the tablet's, with or without prefix.
        return COOKIE in headers.get("cookie", "")

    def _from_elsewhere(self, headers: Headers) -> bool:
        site, origin = headers.get("sec-fetch-site"), headers.get("origin")
        if site is not None:
            return site not in ("same-origin", "none")
        # Browsers leave Sec-Fetch-Site out on plain http; they still name the origin.
        if origin is not None:
            host = headers.get("host", "")
            return origin not in self.origins and origin not in (f"http://{host}", f"https://{host}")
        # A program says nothing of where it is. What brings a cookie is a browser: one that says nothing is refused;
        # what brings none can only sign in, and a browser that does so for another site names it.
        return self._carries_session(headers)

    @staticmethod
    def _limited(receive: Receive) -> Receive:
        taken, whole, ends_at = 0, False, asyncio.get_running_loop().time() + BODY_SECONDS

        async def limited() -> Message:
            nonlocal taken, whole
            # After the body this is where the end of the connection is waited for, which may take long.
            if whole:
                return await receive()
            try:
                async with asyncio.timeout_at(ends_at):
                    message = await receive()
            except TimeoutError:
                raise HTTPException(408) from None
            taken, whole = taken + len(message.get("body", b"")), not message.get("more_body", False)
            if taken > MOST_REQUEST_BYTES:
                # A body longer than it said it was, or that said nothing of its length.
                raise HTTPException(413)
            return message

        return limited

    def _dress(self, headers: MutableHeaders, request_id: str) -> None:
        for name, value in HEADERS.items():
            headers.setdefault(name, value)
        headers["X-Request-Id"] = request_id
        if self.https:
            headers["Strict-Transport-Security"] = self.lasts
        if not headers.get("cache-control"):
            headers["Cache-Control"] = "private, no-store"
