"""Mail: what the outbox holds, whose turn a mail is, what it says, and how sending went.

An act puts mail into the outbox (``records/outbox.put``) where the shop sends mail at all; rounds send it.
"""

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Literal, cast
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlmodel import Session

from service.desk.doorway import EVERYONE, OWNERS, Caller, Done, Language, act, look
from service.errors import NotFound
from service.form_secret import secret_of_form
from service.measured.crushed import step_of
from service.records import archive_runs, block_queries, jobs, materials, outbox, people, shop, tokens
from service.records import customers as customer_records
from service.records.outbox import Outbox
from service.records.people import Person
from service.records.results import IssuedResult
from service.shop_clock import ShopClock

MORNING = time(6)
DAILY = "mail of the day"
UNSURE = "The connection broke after the mail was handed over: it may have arrived."
EXPIRED = "It was not sent within five days."

Outcome = Literal["sent", "later", "never", "unsure", "unwanted"]


@dataclass(frozen=True)
class Letter:
    """What one mail says, not yet in words: its kind, whom it is for, in which language, and where it leads."""

    id: UUID
    kind: str
    is_progress: bool
    name: str
    email: str
    language: Language
    shop: str
    whom_to_call: str
    address: str
    path: str
    values: dict[str, Any]
    made_at: datetime


@act("mail.claim", by=OWNERS, trailed=False)
def claim(session: Session, caller: Caller) -> Done:
    """Hold the next mail that is due; the details say whether there is one, or one that may have left before."""
    now = caller.stores.clock()
    held = outbox.claim(session, at=now, until=now + outbox.CLAIM_LASTS)
    if held is None:
        return Done("mail", UUID(int=0), {"state": "none"})
    if held.handed_at is None:
        return Done("mail", held.id, {"state": "held"})
    # A process ended while the text was leaving. A person gets one mail of an event at most.
    held.given_up_at, held.last_error = now, UNSURE
    return Done("mail", held.id, {"state": "unsure"})


@act("mail.hand_over", by=OWNERS, trailed=False)
def hand_over(session: Session, caller: Caller, *, mail_id: UUID) -> Done:
    """Note that the text of a mail begins to leave."""
    found = session.get(Outbox, mail_id)
    if found is None:
        raise NotFound("There is no such mail.")
    found.handed_at = caller.stores.clock()
    return Done("mail", mail_id)


@act("mail.note", by=OWNERS, trailed=False)
def note(session: Session, caller: Caller, *, mail_id: UUID, outcome: Outcome, error: str = "") -> Done:
    """Note how sending a mail went; what a server declined for now is tried again after a growing pause."""
    found, now = session.get(Outbox, mail_id), caller.stores.clock()
    if found is None:
        return Done("mail", mail_id)
    found.claimed_until, found.last_error = None, error or None
    if outcome == "unwanted":
        session.delete(found)
    elif outcome == "sent":
        found.sent_at = now
    else:
        found.due_at = now + outbox.PAUSES[min(found.tries, len(outbox.PAUSES)) - 1]
        if outcome == "later":
            found.handed_at = None
        if outcome in ("never", "unsure") or found.due_at > found.until_at:
            found.given_up_at = now
    return Done("mail", mail_id, {"outcome": outcome})


@act("mail.give_up", by=OWNERS, trailed=False)
def give_up(session: Session, caller: Caller) -> Done:
    """Give up mail that waits for longer than mail is tried, also where none is sent any more."""
    outbox.give_up(session, at=caller.stores.clock(), because=EXPIRED)
    return Done("mail", UUID(int=0))


@look("mail.letter", by=OWNERS)
def letter(session: Session, caller: Caller, *, mail_id: UUID) -> Letter | None:
    """Return what a mail says as things are now, or None where nobody needs it any more."""
    mail, kept = session.get(Outbox, mail_id), shop.shop(session)
    person = people.person(session, mail.person_id) if mail else None
    if mail is None or kept is None or person is None or person.ended_at is not None:
        return None
    if mail.kind in outbox.PROGRESS and person.declines_progress:
        return None
    found = _SUBJECTS[mail.kind](session, caller, mail, person)
    if found is None:
        return None
    path, values = found
    customer = customer_records.customer(session, person.customer_id) if person.customer_id else None
    return Letter(
        id=mail.id,
        kind=mail.kind,
        is_progress=mail.kind in outbox.PROGRESS,
        name=person.name,
        email=person.email,
        # The shop's own people read English, as their screens do.
        language=cast(Language, customer.language or kept.language) if customer else "en",
        shop=kept.name,
        whom_to_call=kept.whom_to_call,
        address=caller.stores.address,
        path=path,
        values=values,
        made_at=mail.created_at,
    )


Found = tuple[str, dict[str, Any]] | None


def _invitation(session: Session, caller: Caller, mail: Outbox, person: Person) -> Found:
    facts = json.loads(mail.facts)
    token = secret_of_form(caller.stores.key, caller_key=facts["caller_key"], request_key=facts["request_key"])
    ticket = tokens.ticket_by_token(session, hashlib.sha256(token.encode()).hexdigest())
    if ticket is None or ticket.person_id != person.id or ticket.ended_at is not None or ticket.uses:
        return None
    if ticket.expires_at <= caller.stores.clock():
        return None
    return f"/sign-in/{token}", {"until": _shop_clock(session, caller).day(ticket.expires_at)}


def _job(session: Session, caller: Caller, mail: Outbox, person: Person, *, path: str) -> Found:
    job, customer = jobs.with_customer(session, mail.subject_id, seen_by=person.customer_id)
    return path.format(job=job.id), {"job": job.number, "site": job.site, "customer": customer.name}


def _about_a_job(path: str) -> Callable[[Session, Caller, Outbox, Person], Found]:
    return lambda session, caller, mail, person: _job(session, caller, mail, person, path=path)


def _soil(session: Session, caller: Caller, mail: Outbox, person: Person) -> Found:
    # A sack that was a slip was undone before its mail was due.
    there = materials.receipts_of_job(session, mail.subject_id)
    return _job(session, caller, mail, person, path="/soils") if there else None


def _blocks_due(session: Session, caller: Caller, mail: Outbox, person: Person) -> Found:
    facts = json.loads(mail.facts)
    on = date.fromisoformat(facts["on"])
    return ("/today", {"count": facts["count"], "on": on}) if on == _shop_clock(session, caller).today else None


def _result(session: Session, caller: Caller, mail: Outbox, person: Person) -> Found:
    issued = session.get_one(IssuedResult, mail.subject_id)
    if issued.withdrawn_at is not None and mail.kind != "result withdrawn":
        return None
    job = jobs.visible(session, issued.job_id, seen_by=person.customer_id)
    return f"/results/{issued.id}", {"job": job.number, "site": job.site, "number": issued.number}


_SUBJECTS: dict[str, Callable[[Session, Caller, Outbox, Person], Found]] = {
    "invitation": _invitation,
    "request": _about_a_job("/jobs/{job}/offer"),
    "offer made": _about_a_job("/jobs/{job}/offer"),
    "offer accepted": _about_a_job("/jobs/{job}/offer"),
    "soil received": _soil,
    "question": _about_a_job("/jobs/{job}/questions"),
    "answer": _about_a_job("/jobs/{job}/questions"),
    "blocks due": _blocks_due,
    "result issued": _result,
    "result amended": _result,
    "result withdrawn": _result,
}


def _shop_clock(session: Session, caller: Caller) -> ShopClock:
    # Rounds belong to nobody, so that the shop's clock is asked of the shop itself.
    kept = shop.shop(session)
    return ShopClock(caller.stores.clock(), ZoneInfo(kept.time_zone if kept else caller.shop.time_zone))


@look("mail.day_is_told", by=OWNERS)
def day_is_told(session: Session, caller: Caller) -> bool:
    """Return whether the shop was told of this day's blocks, or has no need to be."""
    if not caller.stores.sends_mail or shop.shop(session) is None:
        return True
    return archive_runs.turn_is_held(session, name=DAILY, at=caller.stores.clock())


@act("mail.tell_day", by=OWNERS, trailed=False)
def tell_day(session: Session, caller: Caller) -> Done:
    """Write to the shop's people how many blocks are due by tonight; once a day, from six in the morning."""
    clock = _shop_clock(session, caller)
    day = clock.today if clock.now >= datetime.combine(clock.today, MORNING, clock.zone) else None
    ends = datetime.combine(clock.today + timedelta(days=1 if day else 0), MORNING, clock.zone)
    done = Done("turn", UUID(int=0))
    if not archive_runs.take_turn(session, name=DAILY, holder=caller.request_id, at=clock.now, until=ends):
        return done
    event = f"blocks due {day}"
    if day is None or outbox.has_event(session, event):
        return done
    midnight = datetime.combine(clock.today + timedelta(days=1), time(), clock.zone)
    count = sum(step_of(row).starts_at < midnight for row in block_queries.waiting(session))
    if count:
        staff = people.people_of_the_shop(session)
        facts = {"count": count, "on": day}
        outbox.put(session, staff, kind="blocks due", event=event, subject_id=UUID(int=0), at=clock.now, facts=facts)
    return done


@look("mail.own", by=EVERYONE)
def declines(session: Session, caller: Caller) -> bool:
    """Return whether one declines mail on progress."""
    person = people.person(session, caller.doer)
    return person is not None and person.declines_progress


@act("mail.choose", by=EVERYONE)
def choose(session: Session, caller: Caller, *, declines_progress: bool) -> Done:
    """Decline mail on progress, or have it again."""
    person = people.person(session, caller.doer)
    if person is None:
        raise NotFound("There is no such person.")
    person.declines_progress = declines_progress
    return Done("person", person.id, {"declines_progress": declines_progress})


@dataclass(frozen=True)
class MailLine:
    """One mail that did not go yet, or that was given up."""

    id: UUID
    kind: str
    name: str
    email: str
    made_at: datetime
    due_at: datetime
    tries: int
    error: str


@dataclass(frozen=True)
class Mails:
    """Whether the shop sends mail, what waits, and what was given up."""

    is_on: bool
    waiting: list[MailLine]
    given_up: list[MailLine]


@look("mail.show", by=OWNERS)
def show(session: Session, caller: Caller) -> Mails:
    """Return what waits in the outbox and what will not go by itself."""
    return Mails(caller.stores.sends_mail, _lines(outbox.waiting(session)), _lines(outbox.given_up(session)))


def _lines(rows: list[tuple[Outbox, Person]]) -> list[MailLine]:
    return [
        MailLine(
            one.id, one.kind, person.name, person.email, one.created_at, one.due_at, one.tries, one.last_error or ""
        )
        for one, person in rows
    ]


@look("mail.stuck", by=OWNERS)
def stuck(session: Session, caller: Caller) -> int:
    """Return how many mails do not go."""
    return outbox.stuck(session, before=caller.stores.clock() - outbox.STUCK_AFTER)


@act("mail.send_again", by=OWNERS)
def send_again(session: Session, caller: Caller, *, mail_id: UUID) -> Done:
    """Try a mail again that was given up, or that waits; whoever does this knows that it may come twice."""
    found, now = _unsent(session, mail_id), caller.stores.clock()
    found.due_at, found.until_at, found.tries = now, now + outbox.GIVE_UP_AFTER, 0
    found.given_up_at = found.handed_at = found.last_error = None
    return Done("mail", found.id, {"kind": found.kind, "person": found.person_id})


@act("mail.remove", by=OWNERS)
def remove(session: Session, caller: Caller, *, mail_id: UUID) -> Done:
    """Throw a mail away that was not sent."""
    found = _unsent(session, mail_id)
    session.delete(found)
    return Done("mail", found.id, {"kind": found.kind, "person": found.person_id})


def _unsent(session: Session, mail_id: UUID) -> Outbox:
    found = session.get(Outbox, mail_id)
    if found is None or found.sent_at is not None:
        raise NotFound("There is no such mail.")
    return found
