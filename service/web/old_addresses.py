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
    "/prior": "/expected-strength",
    "/starting-values": "/expected-strength",
    "/closed-days": "/opening-hours",
    "/api/v1/bands": "/api/v1/soil-limits",
    "/batches/{batch_id}/trial": "/batches/{batch_id}/test-charge",
    "/api/v1/batches/{batch_id}/trial-blocks": "/api/v1/batches/{batch_id}/test-charges",
    "/api/v1/sacks/cans/{can_id}/aside": "/api/v1/sacks/cans/{can_id}/exclude",
    "/api/v1/batches/cans/{can_id}/aside": "/api/v1/batches/cans/{can_id}/exclude",
    "/api/v1/soils/tests/{test_id}/aside": "/api/v1/soils/tests/{test_id}/exclude",
    "/api/v1/moisture-trial/{trial_id}/aside": "/api/v1/moisture-trial/{trial_id}/exclude",
}

REST = "rest"


@dataclass(frozen=True)
class _Leading:
    """Answers every method: 308 keeps it, so that a form which was open during an upgrade is still sent."""

    old: str
    new: str

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        query = scope["query_string"].decode("latin-1")
        ids = {name: value for name, value in scope["path_params"].items() if name != REST}
        below = scope["path"].removeprefix(self.old.format(**ids))
        place = self.new.format(**ids) + below + (f"?{query}" if query else "")
        await RedirectResponse(place, status_code=308)(scope, receive, send)


def include(app: FastAPI) -> None:
    """Answer at and below each old address with the same place of the new one."""
    for old, new in MOVED.items():
        lead = _Leading(old, new)
        app.router.routes += [Route(old, lead), Route(f"{old}/{{{REST}:path}}", lead)]
