"""Results for programs: live, issued, withdrawn, shared; the data as they were frozen."""

import json
from datetime import date
from typing import Annotated
from uuid import UUID

from fastapi import Request, Response
from pydantic import BaseModel, Field

from service.desk.results import issued, live, share_links
from service.paper import issuing
from service.web.api_input import Name, Sent, Words
from service.web.authentication import COSTLY_ISSUE, ApiCaller, sha256, token_for
from service.web.room import Room
from service.words.sentences import say

router = Room(prefix="/api/v1", tags=["results"])


class IssueForm(Sent):
    """What the owner says with a result, and the digest of what they looked at."""

    remark: Annotated[Words, Field(examples=["Use recipe B; test five full-size blocks first."])] = ""
    seen_sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$", description="`sha256` of the live result.")]


class WithdrawForm(Sent):
    """Why an issued result is withdrawn."""

    because: Annotated[Words, Field(min_length=1, examples=["The gauge was read in the wrong unit."])]


class ShareForm(Sent):
    """Until when a link opens."""

    last_day: Annotated[date, Field(examples=["2027-04-08"])]
    name: Annotated[Name | None, Field(description="For whom the link is.")] = None


class Issued(BaseModel):
    """What was made."""

    id: UUID


class Link(BaseModel):
    """A share link; its address is told this once."""

    id: UUID
    address: str


@router.get("/jobs/{job_id}/results")
def show_live(caller: ApiCaller, job_id: UUID) -> Response:
    """Give the result of a job from its readings today, with the answer in words."""
    found = live.live(caller, job_id=job_id)
    shop = caller.shop
    spoken = [
        say(sentence, language=shop.language, units=shop.units_first, currency=shop.currency)
        for sentence in found.result.answer
    ]
    words = json.dumps({"sha256": found.sha256, "answer_in_words": spoken}, ensure_ascii=False)
    # The result goes out as it was hashed, so that whoever reads it can check the digest he sends back.
    return Response(f'{words[:-1]}, "result": {found.data}}}', media_type="application/json")


@router.post("/jobs/{job_id}/results", status_code=201, dependencies=[COSTLY_ISSUE])
def issue(caller: ApiCaller, job_id: UUID, given: IssueForm) -> Issued:
    """Issue a result: page, PDF and data."""
    return Issued(id=issuing.issue(caller, job_id=job_id, remark=given.remark, seen_sha256=given.seen_sha256))


@router.get("/results/{issued_id}")
def show_issued(caller: ApiCaller, issued_id: UUID) -> Response:
    """Give the data of an issued result, byte for byte."""
    frozen = issued.open_data(caller, issued_id=issued_id)
    return Response(frozen.data, media_type="application/json", headers={"X-Data-SHA256": frozen.data_sha256})


@router.post("/results/{issued_id}/withdraw", status_code=201)
def withdraw(caller: ApiCaller, issued_id: UUID, given: WithdrawForm) -> Issued:
    """Withdraw an issued result and say why."""
    return Issued(id=issued.withdraw(caller, issued_id=issued_id, because=given.because).id)


@router.post("/results/{issued_id}/shares", status_code=201)
def share(request: Request, caller: ApiCaller, issued_id: UUID, given: ShareForm) -> Link:
    """Make a share link. The same key sent again gives the same link."""
    token = token_for(caller)
    done = share_links.make(
        caller, issued_id=issued_id, token_sha256=sha256(token), last_day=given.last_day, name=given.name
    )
    return Link(id=done.id, address=f"{request.app.state.address}/shared/{token}")


@router.post("/shares/{link_id}/end", status_code=201)
def end_share(caller: ApiCaller, link_id: UUID) -> Issued:
    """End a share link now."""
    return Issued(id=share_links.end(caller, link_id=link_id).id)
