"""A printed paper checked by anybody: by its square, or by its number and digest."""

from typing import Any
from uuid import UUID

from fastapi import Request
from fastapi.responses import HTMLResponse

from service.desk.doorway import Caller
from service.desk.results import checking
from service.desk.results.checking import Checked
from service.desk.signing_in.rate_limit import note_attempt
from service.errors import NotFound
from service.paper.notices import said, with_call
from service.web.authentication import Visitor, source_of
from service.web.responses import page
from service.web.room import Room
from service.words.numbers_to_text import day

router = Room()

HEADING = "Result no. {number} of job {job}, issued by {shop} on {day}."
COMPARE = "Compare these signs with those on your paper. One that differs: it is another paper."
STATES = {
    "counts": "This is the newest result of this job.",
    "amended": "Result no. {newest} has taken the place of this one. Do not rely on this one.",
    "withdrawn": "This result was withdrawn on {withdrawn}: {because} Do not rely on it.",
}


@router.get("/check")
def check(request: Request, visitor: Visitor, job: str = "", number: str = "", sha256: str = "") -> HTMLResponse:
    """Ask for number and digest of a paper, and say whether it counts."""
    asked = {"job": job, "number": number, "sha256": sha256}
    if not any(asked.values()):
        return page(request, "check.html", caller=None, told=None, missed="", asked=asked)
    try:
        told = _found(visitor, **asked)
    except NotFound as missed:
        # Who guesses is counted, as at every door.
        note_attempt(visitor, door="check", who="", source=source_of(request))
        return page(request, "check.html", caller=None, code=404, told=None, missed=missed.sentence, asked=asked)
    return page(request, "check.html", caller=None, **_told(told))


@router.get("/check/{issued_id}")
def check_square(request: Request, visitor: Visitor, issued_id: UUID) -> HTMLResponse:
    """Say of a paper, by the id in its square, whether it counts."""
    try:
        told = checking.check(visitor, issued_id=issued_id)
    except NotFound:
        note_attempt(visitor, door="check", who="", source=source_of(request))
        raise
    return page(request, "check.html", caller=None, **_told(told))


def _found(visitor: Caller, *, job: str, number: str, sha256: str) -> Checked:
    # Nine figures are more than any shop counts to, and fit every database.
    if not all(one.strip().isascii() and one.strip().isdigit() and len(one.strip()) < 10 for one in (job, number)):
        raise NotFound(checking.NO_SUCH)
    return checking.check_number(visitor, job_number=int(job), number=int(number), sha256=sha256)


def _told(one: Checked) -> dict[str, Any]:
    speaks = one.language
    values: dict[str, str | int] = {
        "number": one.number,
        "job": one.job_number,
        "shop": one.shop,
        "day": day(one.issued_on, language=speaks),
        "newest": one.newest or 0,
        "withdrawn": day(one.withdrawn_on, language=speaks) if one.withdrawn_on else "",
        "because": f"{(one.withdrawn_because or '').rstrip('. ')}.",
    }
    heading, sentence, compare = (
        said(text, language=speaks, **values) for text in (HEADING, STATES[one.state], COMPARE)
    )
    sentence = with_call(sentence, one.whom_to_call, language=speaks)
    return {"language": speaks, "told": one, "heading": heading, "sentence": sentence, "compare": compare}
