"""Worked calculations for programs: the same names, inputs, answers and refusals as the command gives."""

from typing import Annotated, Any

from fastapi import Depends, Request
from fastapi.responses import JSONResponse
from starlette.exceptions import HTTPException

from service.trade.sources import SOURCES
from service.web.authentication import COSTLY_WORK, program
from service.web.room import Room
from service.work import registry
from service.work.answering import answer_text
from service.work.examples import EXAMPLES

# Whoever is signed in may calculate, a customer too: an input is all that is read, and nothing is kept.
router = Room(prefix="/api/v1/work", tags=["work"], dependencies=[Depends(program)])

MOST_BODY_BYTES = 1024 * 1024
REFUSED = {"error": "This must be above 0.", "fields": {"components.0.share": "This must be above 0."}}
ANSWERED: dict[int | str, dict[str, Any]] = {
    200: {"description": "The answer, in unrounded numbers; its keys are those of the contract."},
    401: {"description": "No valid password for a program, and no signed-in session."},
    404: {"description": "No calculation has this name."},
    429: {"description": "More than this person or program may ask for in a quarter of an hour, or at once."},
    422: {"description": "Refused, each with its field.", "content": {"application/json": {"example": REFUSED}}},
}
GIVEN = {
    "requestBody": {
        "required": True,
        "content": {
            "application/json": {
                "schema": {"type": "object"},
                "examples": {name: {"summary": name, "value": example} for name, example in EXAMPLES.items()},
            }
        },
    }
}


async def sent_body(request: Request) -> bytes:
    """Return the body as it came, so that a key given twice is still there to be refused."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > MOST_BODY_BYTES:
            raise HTTPException(413)
    return bytes(body)


@router.get("")
def list_names() -> list[dict[str, Any]]:
    """List every calculation, with its formula and how its sources were read."""
    return [_described(name) for name in registry.names()]


def _described(name: str) -> dict[str, Any]:
    calculation = registry.find(name)
    sources = [SOURCES[key] for key in calculation.source_keys]
    return {
        "name": name,
        "formula": calculation.formula,
        "sources": [
            {
                "key": source.key,
                "body": source.body,
                "title": source.title,
                "edition": source.edition,
                "clause": source.clause,
                "standing": source.standing,
            }
            for source in sources
        ],
    }


@router.get("/{name}")
def show_schema(name: str) -> dict[str, Any]:
    """Give the JSON Schema of the input."""
    return registry.find(name).model.model_json_schema()


# Not a coroutine: a strength of many readings takes a while. Its turn comes once the body is whole, so that nobody
# holds one by sending slowly.
@router.post("/{name}", responses=ANSWERED, openapi_extra=GIVEN)
def work(name: str, body: Annotated[bytes, Depends(sent_body)], counted: Annotated[None, COSTLY_WORK]) -> JSONResponse:
    """Work out one calculation. Nothing is stored, so it needs no Idempotency-Key."""
    return JSONResponse(answer_text(name, body))
