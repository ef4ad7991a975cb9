"""Questions and answers on a job, between its customer and the shop; whoever may see the job reads and writes them."""

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import EVERYONE, Caller, Done, act, look
from service.errors import Invalid
from service.records import jobs, outbox, people
from service.records import messages as records
from service.records.messages import Message

# What one person writes on one job in a day; more is no conversation.
MOST_A_DAY = 50


@dataclass(frozen=True)
class Said:
    """One question or answer."""

    name: str
    of_the_shop: bool
    at: datetime
    text: str


@dataclass(frozen=True)
class Talk:
    """What was asked and answered on a job, oldest first."""

    job_id: UUID
    job_number: int
    site: str
    closed: bool
    said: tuple[Said, ...]


@look("message.of_job", by=EVERYONE)
def of_job(session: Session, caller: Caller, *, job_id: UUID) -> Talk:
    """Return the questions and answers of a job; a customer sees those of their own."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    said = records.messages_of_job(session, job.id)
    return Talk(
        job.id,
        job.number,
        job.site,
        job.closed_at is not None,
        tuple(Said(person.name, person.customer_id is None, one.created_at, one.text) for one, person in said),
    )


@act("message.write", by=EVERYONE)
def write(session: Session, caller: Caller, *, job_id: UUID, text: str) -> Done:
    """Keep a question or an answer on a job; it stays as it was written."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    if not text.strip():
        raise Invalid("Nothing is written.", {"text": "Write your question or answer."})
    now = caller.stores.clock()
    today = [
        one
        for one, person in records.messages_of_job(session, job.id)
        if person.id == caller.doer and caller.clock.day(one.created_at) == caller.clock.day(now)
    ]
    if len(today) >= MOST_A_DAY:
        raise Invalid("That is enough for one day.", {"text": "Call us, or write again tomorrow."})
    message = Message(job_id=job.id, person_id=caller.doer, text=text.strip(), created_at=now)
    session.add(message)
    session.flush()
    if caller.stores.sends_mail:
        asks = caller.customer_id is not None
        to = people.people_of_the_shop(session) if asks else people.people_of_customer(session, job.customer_id)
        kind, event = "question" if asks else "answer", f"message {message.id}"
        outbox.put(session, to, kind=kind, event=event, subject_id=job.id, at=now)
    return Done("message", message.id, {"job": job.number})
