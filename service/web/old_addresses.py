"""Old addresses of pages: each leads to the new one, so that a bookmark or a printed link still opens."""

from dataclasses import dataclass

from fastapi import FastAPI
from starlette.responses import RedirectResponse
from starlette.routing import Route
from starlette.types import Receive, Scope, Send

MOVED = {
    "/reckoner": "/calculator",
    "/keeping": "/backups",
    "/bands": "/soil-limits",
    "/criteria": "/codes",
    "/prior": "/starting-values",
    "/api/v1/bands": "/api/v1/soil-limits",
}


@dataclass(frozen=True)
class _Leading:
    """Answers every method: 308 keeps it, so that a form which was open during an upgrade is still sent."""

    old: str
    new: str

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        query = scope["query_string"].decode("latin-1")
        place = self.new + scope["path"].removeprefix(self.old) + (f"?{query}" if query else "")
        await RedirectResponse(place, status_code=308)(scope, receive, send)


def include(app: FastAPI) -> None:
    """Answer at and below each old address with the same place of the new one."""
    for old, new in MOVED.items():
        lead = _Leading(old, new)
        app.router.routes += [Route(old, lead), Route(f"{old}/{{rest:path}}", lead)]
