"""Requests and offers for programs: a customer's program asks and answers, the owner's makes offers."""

from datetime import date
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import Field

from service.desk import offers
from service.desk.offers import Offers
from service.web.api_input import Line, Money, Name, Number, Sent, Words, maybe_typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1", tags=["requests and offers"])


class RequestForm(Sent):
    """A new soil to be tested: the pit, the question, and what will be built."""

    site: Annotated[Name, Field(min_length=1, examples=["North paddock"])]
    question: Annotated[Line, Field(min_length=1, examples=["Is it good enough as it is?"])]
    question_kind: Literal["addition", "least stabiliser", "which soil", "meets code"]
    pit: Annotated[
        Words,
        Field(
            min_length=1,
            examples=["Nothing harmful is known in or near the pit."],
            description="What is known in or near the pit: sewage, fuel, pesticide, asbestos, waste.",
        ),
    ]
    wall_thickness_mm: Annotated[Number | None, Field(examples=[140.0])] = None
    wall_height_m: Annotated[Number | None, Field(examples=[2.4])] = None


class OfferForm(Sent):
    """A price, the day by which the result is expected, and what it covers."""

    price: Money
    expected_on: Annotated[date, Field(examples=["2027-04-08"])]
    remark: Words | None = None


class AcceptForm(Sent):
    """Which offer is accepted; a program of the shop says who accepted."""

    offer_id: UUID
    name: Annotated[Name | None, Field(description="Who accepted, and how. A customer's program leaves it out.")] = None


class DeclineForm(Sent):
    """Which offer is declined."""

    offer_id: UUID


@router.post("/requests", status_code=201)
def ask(caller: ApiCaller, sent: RequestForm) -> dict[str, Any]:
    """Ask for a test of a new soil; for customers alone."""
    measures = {"wall_thickness_mm": "mm", "wall_height_m": "m"}
    done = offers.request(
        caller,
        site=sent.site,
        question=sent.question,
        question_kind=sent.question_kind,
        remark=sent.pit,
        **{name: maybe_typed(getattr(sent, name), unit) for name, unit in measures.items()},
    )
    return {"id": done.id, "number": done.details["number"]}


@router.get("/jobs/{job_id}/offer")
def show(caller: ApiCaller, job_id: UUID) -> Offers:
    """Give the request and the offers of a job, the valid one first."""
    return offers.of_job(caller, job_id=job_id)


@router.post("/jobs/{job_id}/offer", status_code=201)
def make(caller: ApiCaller, job_id: UUID, sent: OfferForm) -> dict[str, Any]:
    """Make an offer. One that waits for an answer gives way to it."""
    done = offers.make(caller, job_id=job_id, price=sent.price, expected_on=sent.expected_on, remark=sent.remark)
    return {"id": done.id}


@router.post("/jobs/{job_id}/offer/accept", status_code=201)
def accept(caller: ApiCaller, job_id: UUID, sent: AcceptForm) -> dict[str, Any]:
    """Accept an offer, or write down who did."""
    return {"id": offers.accept(caller, job_id=job_id, offer_id=sent.offer_id, name=sent.name).id}


@router.post("/jobs/{job_id}/offer/decline", status_code=201)
def decline(caller: ApiCaller, job_id: UUID, sent: DeclineForm) -> dict[str, Any]:
    """Decline an offer."""
    return {"id": offers.decline(caller, job_id=job_id, offer_id=sent.offer_id).id}


@router.post("/jobs/{job_id}/offer/start", status_code=201)
def start_without(caller: ApiCaller, job_id: UUID) -> dict[str, Any]:
    """Start work although nobody accepted."""
    return {"id": offers.start_without(caller, job_id=job_id).id}
