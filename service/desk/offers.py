"""Requests and offers: a customer asks, the shop names a price and a day, and work starts when it is accepted."""

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import CUSTOMERS, EVERYONE, OWNERS, Caller, Done, act, look
from service.errors import Conflict, Invalid
from service.records import jobs, outbox, people
from service.records import offers as records
from service.records.jobs import QUESTION_KINDS, Job
from service.records.offers import Offer, State
from service.records.people import Person
from service.trade.validation import require
from service.typed import Typed

# What one customer asks for in a day; whoever has more soils calls.
MOST_A_DAY = 10


@dataclass(frozen=True)
class OfferSaid:
    """A request or an offer as it is read, and what became of it."""

    id: UUID
    state: State
    made_by: str
    of_the_shop: bool
    made_at: datetime
    price: Decimal | None
    expected_on: date | None
    remark: str | None
    settled_at: datetime | None
    settled_by: str
    settled_name: str | None


@dataclass(frozen=True)
class Offers:
    """The request and the offers of a job, the valid one first."""

    job_id: UUID
    job_number: int
    customer: str
    site: str
    question: str
    said: tuple[OfferSaid, ...]


@act("job.request", by=CUSTOMERS)
def request(
    session: Session,
    caller: Caller,
    *,
    site: str,
    question: str,
    question_kind: str,
    remark: str | None,
    wall_thickness_mm: Typed | None = None,
    wall_height_m: Typed | None = None,
) -> Done:
    """Ask for a test of a new soil: a job without a sack yet, and a request that the shop answers with an offer."""
    if question_kind not in QUESTION_KINDS:
        raise Invalid("Choose a kind of question from the list.", {"question_kind": "Choose one from the list."})
    missing = {name: "Fill this in." for name, text in (("site", site), ("question", question)) if not text.strip()}
    if missing or caller.customer_id is None:
        raise Invalid("Something is missing.", missing)
    measures = {"wall_thickness_mm": wall_thickness_mm, "wall_height_m": wall_height_m}
    given = {name: one for name, one in measures.items() if one is not None}
    require(positive={name: one.value for name, one in given.items()})
    now = caller.stores.clock()
    today = [one for one in records.made_by(session, caller.doer) if caller.clock.day(one) == caller.clock.day(now)]
    if len(today) >= MOST_A_DAY:
        raise Invalid("That is enough for one day.", {"question": "Call us, or write again tomorrow."})
    columns: dict[str, Any] = {name: one.value for name, one in given.items()}
    job = Job(
        number=jobs.next_number(session),
        customer_id=caller.customer_id,
        site=site.strip(),
        question=question.strip(),
        question_kind=question_kind,
        as_read={name: one.as_read() for name, one in given.items()},
        **columns,
    )
    session.add(job)
    session.flush()
    asked = Offer(job_id=job.id, position=1, made_by=caller.doer, remark=remark, created_at=now)
    session.add(asked)
    session.flush()
    _write(session, caller, job, people.people_of_the_shop(session), kind="request", event=f"request {job.id}")
    return Done("job", job.id, {"number": job.number})


@look("offer.of_job", by=EVERYONE)
def of_job(session: Session, caller: Caller, *, job_id: UUID) -> Offers:
    """Return the request and the offers of a job; a customer has those of their own."""
    job, customer = jobs.with_customer(session, job_id, seen_by=caller.seen_by)
    rows = records.of_job(session, job.id)
    names = people.names(session, {one.settled_by for one, _ in rows if one.settled_by})
    said = tuple(
        OfferSaid(
            one.id,
            one.state,
            person.name,
            person.customer_id is None,
            one.created_at,
            one.price,
            one.expected_on,
            one.remark,
            one.settled_at,
            names.get(one.settled_by, "") if one.settled_by else "",
            one.settled_name,
        )
        for one, person in rows
    )
    return Offers(job.id, job.number, customer.name, job.site, job.question, said)


@act("offer.make", by=OWNERS)
def make(
    session: Session, caller: Caller, *, job_id: UUID, price: Decimal, expected_on: date, remark: str | None
) -> Done:
    """Offer a test at a price by a day; an offer that nobody answered yet gives way to it."""
    job = jobs.visible(session, job_id, seen_by=None)
    if price < 0:
        raise Invalid("Check the price.", {"price": "0 or more."})
    if expected_on < caller.clock.today:
        raise Invalid("This day is past.", {"expected_on": "Today or a later day."})
    before = records.newest(session, job.id)
    if before is not None and not before.holds_up:
        raise Conflict("The offer was accepted. Agree on a change by a question on the job.")
    offer = Offer(
        job_id=job.id,
        position=1 + (before.position if before else 0),
        made_by=caller.doer,
        price=price,
        expected_on=expected_on,
        remark=remark,
        created_at=caller.stores.clock(),
    )
    session.add(offer)
    session.flush()
    readers = people.people_of_customer(session, job.customer_id)
    _write(session, caller, job, readers, kind="offer made", event=f"offer {offer.id}")
    return Done("offer", offer.id, {"job": job.number, "price": price, "expected_on": expected_on})


@act("offer.accept", by=EVERYONE)
def accept(session: Session, caller: Caller, *, job_id: UUID, offer_id: UUID, name: str | None = None) -> Done:
    """Accept an offer: its customer does, or somebody of the shop writes down who did."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    if caller.customer_id is None and not (name or "").strip():
        raise Invalid("Say who accepted.", {"name": "Fill this in."})
    offer = _settle(session, caller, job, offer_id, "accepted")
    offer.settled_name = name.strip() if name and caller.customer_id is None else None
    # What was promised is what was accepted.
    job.promised_on = offer.expected_on
    if caller.customer_id is not None:
        staff = people.people_of_the_shop(session)
        _write(session, caller, job, staff, kind="offer accepted", event=f"accepted {offer.id}")
    return Done("offer", offer.id, {"job": job.number, "accepted": True, "name": offer.settled_name})


@act("offer.decline", by=EVERYONE)
def decline(session: Session, caller: Caller, *, job_id: UUID, offer_id: UUID) -> Done:
    """Decline an offer; the shop may make another."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    return Done("offer", _settle(session, caller, job, offer_id, "declined").id, {"job": job.number, "accepted": False})


@act("offer.start_without", by=OWNERS)
def start_without(session: Session, caller: Caller, *, job_id: UUID) -> Done:
    """Let work start although nobody accepted."""
    job = jobs.visible(session, job_id, seen_by=None)
    offer = records.newest(session, job.id)
    if offer is None or not offer.holds_up:
        raise Conflict("Work on this job waits for no offer.")
    offer.settled_as, offer.settled_at, offer.settled_by = "started without", caller.stores.clock(), caller.doer
    return Done("offer", offer.id, {"job": job.number})


def _settle(session: Session, caller: Caller, job: Job, offer_id: UUID, how: str) -> Offer:
    offer = records.newest(session, job.id)
    if offer is None or offer.id != offer_id or offer.state != "offered":
        raise Conflict("This offer no longer waits for an answer. Reload the page to see why.")
    offer.settled_as, offer.settled_at, offer.settled_by = how, caller.stores.clock(), caller.doer
    session.add(offer)
    return offer


def _write(session: Session, caller: Caller, job: Job, to: list[Person], *, kind: str, event: str) -> None:
    if caller.stores.sends_mail:
        outbox.put(session, to, kind=kind, event=event, subject_id=job.id, at=caller.stores.clock())
