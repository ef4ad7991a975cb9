"""One line of JSON for every request, and none that holds a token, a password or what somebody typed."""

import json
import logging
import traceback
from datetime import UTC, datetime
from time import perf_counter
from uuid import UUID

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from service.web.metrics import Counts

log = logging.getLogger(__name__)

UNKNOWN = "(no address of ours)"
# Files that never change and probes that never stop would drown the rest.
NOT_TOLD = ("/static/", "/vendor/", "/health/", "/metrics")


class JsonLines(logging.Formatter):
    """A log record as one line of JSON."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the line; of an error its kind and its place, for its words may hold what somebody typed."""
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "said": record.getMessage(),
            **getattr(record, "facts", {}),
        }
        if record.exc_info and record.exc_info[1] is not None:
            line["error"] = _error(record.exc_info[1])
        return json.dumps(line, ensure_ascii=False, default=str)


def _error(error: BaseException) -> list[dict[str, object]]:
    chain: list[dict[str, object]] = []
    at: BaseException | None = error
    while at is not None and len(chain) < 10:
        frames = traceback.extract_tb(at.__traceback__)
        places = [f"{frame.filename}:{frame.lineno} {frame.name}" for frame in frames]
        chain.append({"kind": f"{type(at).__module__}.{type(at).__qualname__}", "in": places})
        at = at.__cause__ or at.__context__
    return chain


class Journal:
    """Write down what was asked, by whom, what was answered and how long it took."""

    def __init__(self, app: ASGIApp, *, counts: Counts | None) -> None:
        self.app, self.counts = app, counts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on and tell of it afterwards, also when it broke."""
        if scope["type"] != "http" or scope["path"].startswith(NOT_TOLD):
            await self.app(scope, receive, send)
            return
        began, status = perf_counter(), 500

        async def watched(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self.app(scope, receive, watched)
        finally:
            self._tell(scope, status, perf_counter() - began)

    def _tell(self, scope: Scope, status: int, seconds: float) -> None:
        state = scope.get("state", {})
        caller = state.get("caller")
        facts = {
            "request_id": state.get("request_id"),
            "method": scope["method"],
            "path": path_told(scope),
            "status": status,
            "ms": round(seconds * 1000, 1),
            "person": caller.person_id if caller else None,
            "device": caller.device_id if caller else None,
        }
        log.info("request", extra={"facts": facts})
        if self.counts is not None:
            self.counts.note(scope["method"], template_of(scope), status, seconds)


def template_of(scope: Scope) -> str:
    """Return the address of the route that answered, its parts still in braces."""
    return getattr(scope.get("route"), "path_format", UNKNOWN)


def path_told(scope: Scope) -> str:
    """Return the route's address with ids and numbers put in; every other part may be a secret and stays in braces."""
    told = template_of(scope)
    for name, value in scope.get("path_params", {}).items():
        if isinstance(value, UUID | int):
            told = told.replace(f"{{{name}}}", str(value))
        elif _is_id(value):
            told = told.replace(f"{{{name}}}", str(UUID(value)))
    return told


def _is_id(value: object) -> bool:
    try:
        return isinstance(value, str) and len(value) == 36 and bool(UUID(value))
    except ValueError:
        return False


def write_json_lines() -> None:
    """Send every log of this process to standard error as JSON."""
    handler = logging.StreamHandler()
    handler.setFormatter(JsonLines())
    logging.basicConfig(level=logging.INFO, handlers=[handler], force=True)
    for name in ("uvicorn", "uvicorn.error", "uvicorn.access"):
        theirs = logging.getLogger(name)
        theirs.handlers.clear()
        theirs.propagate = True
    # It tells of itself at every look at the schema, which readiness is.
    logging.getLogger("alembic").setLevel(logging.WARNING)
