"""Whether the service lives and can reach its database."""

from fastapi import APIRouter, Request
from fastapi.responses import PlainTextResponse

from service.desk import signing_in
from service.web.caller import stranger

router = APIRouter(include_in_schema=False)


@router.get("/health/live")
def live() -> PlainTextResponse:
    """Answer as long as the process does."""
    return PlainTextResponse("alive")


@router.get("/health/ready")
def ready(request: Request) -> PlainTextResponse:
    """Answer once the database does."""
    signing_in.greet(stranger(request))
    return PlainTextResponse("ready")
