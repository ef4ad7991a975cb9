"""Mail that an act decided on and a round sends: one for each event and person, and how sending it went."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import Index, Select, UniqueConstraint, bindparam, delete, func, or_, update
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, select

from service.records.base import CLOCKS_DIFFER_BY, Row, canonical, not_blank, not_negative, one_of, plain_rows
from service.records.people import Person

# How long a mail is tried, as long as servers do it among each other (RFC 5321, 4.5.4.1, from memory).
GIVE_UP_AFTER = timedelta(days=5)
# Longer than a server may take over one mail; what is claimed for longer was claimed by a process that is gone.
CLAIM_LASTS = timedelta(minutes=10)
# How long to wait after each try that failed; the last pause goes on until the mail is given up.
PAUSES = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60, 180, 360))
# Mail that waits for longer than this is told as trouble.
STUCK_AFTER = timedelta(hours=2)
# Mail that tells how work goes on, which a person may decline; the rest is sent all the same.
PROGRESS = ("soil received", "question", "answer", "blocks due")
KINDS = (
    "invitation", "offer made", "offer accepted", "request", *PROGRESS, "result issued", "result amended",
    "result withdrawn",
)  # fmt: skip


class Outbox(Row, table=True):
    """One mail to send. ``handed_at`` is when its text began to leave: from then on it may have arrived."""

    __table_args__ = (
        *not_blank("event_key"),
        one_of("kind", KINDS),
        *not_negative("tries"),
        UniqueConstraint("event_key", "person_id"),
        # What waits is found by it, however much was sent.
        Index(None, "sent_at", "given_up_at", "due_at"),
    )

    event_key: str
    kind: str
    person_id: UUID = Field(foreign_key="person.id", index=True)
    subject_id: UUID = Field(index=True)
    facts: str
    due_at: datetime
    until_at: datetime
    claimed_until: datetime | None = None
    tries: int = 0
    handed_at: datetime | None = None
    sent_at: datetime | None = None
    given_up_at: datetime | None = None
    last_error: str | None = None


def put(
    session: Session,
    people: Iterable[Person],
    *,
    kind: str,
    event: str,
    subject_id: UUID,
    at: datetime,
    facts: dict[str, Any] | None = None,
    after: timedelta = timedelta(0),
) -> None:
    """Put one mail of an event into the outbox for each of these people, in the transaction of the act."""
    for person in people:
        if person.ended_at is None and not (kind in PROGRESS and person.declines_progress):
            session.add(
                Outbox(
                    event_key=event,
                    kind=kind,
                    person_id=person.id,
                    subject_id=subject_id,
                    facts=canonical(facts or {}),
                    created_at=at,
                    due_at=at + after,
                    until_at=at + GIVE_UP_AFTER,
                )
            )


def has_event(session: Session, event: str) -> bool:
    """Return whether mail of this event was written before."""
    return session.exec(select(Outbox.id).where(Outbox.event_key == event).limit(1)).first() is not None


def _waits() -> tuple[Any, Any]:
    return col(Outbox.sent_at).is_(None), col(Outbox.given_up_at).is_(None)


def claim(session: Session, *, at: datetime, until: datetime) -> Outbox | None:
    """Hold the next mail that is due, so that no other replica sends it; None where none is due.

    One statement on either database. On PostgreSQL others skip the row that one replica holds; SQLite has one writer.
    A claim that reaches further than anybody could claim now was made by a clock that ran ahead: it is free.
    """
    free = or_(
        col(Outbox.claimed_until).is_(None),
        col(Outbox.claimed_until) <= at,
        col(Outbox.claimed_until) > until + CLOCKS_DIFFER_BY,
    )
    due = select(col(Outbox.id)).where(*_waits(), col(Outbox.due_at) <= at, free)
    next_one = due.order_by(col(Outbox.due_at), col(Outbox.id)).limit(1).with_for_update(skip_locked=True)
    held = update(Outbox).where(col(Outbox.id) == next_one.scalar_subquery())
    counted = held.values(claimed_until=until, tries=col(Outbox.tries) + 1).returning(col(Outbox.id))
    found = session.execute(counted).scalar_one_or_none()
    return None if found is None else session.get_one(Outbox, found, populate_existing=True)


def waiting(session: Session) -> list[tuple[Outbox, Person]]:
    """Return the mail that is still to go, with whom it is for, the next one first."""
    return _with_people(session, *_waits(), order=col(Outbox.due_at))


def given_up(session: Session) -> list[tuple[Outbox, Person]]:
    """Return the mail that will not go by itself, with whom it is for, the newest first."""
    return _with_people(
        session, col(Outbox.sent_at).is_(None), col(Outbox.given_up_at).is_not(None), order=col(Outbox.due_at).desc()
    )


def _with_people(session: Session, *conditions: Any, order: Any) -> list[tuple[Outbox, Person]]:
    question = select(Outbox, Person).join(Person, col(Person.id) == col(Outbox.person_id)).where(*conditions)
    return list(session.exec(question.order_by(order, col(Outbox.id)).limit(100)))


def stuck(session: Session, *, before: datetime) -> int:
    """Return how many mails were given up, or wait since before this moment."""
    return int(plain_rows(session, _stuck(), {"before": before}).scalar_one())


@cache
def _stuck() -> Select[int]:
    late = or_(col(Outbox.given_up_at).is_not(None), col(Outbox.created_at) <= bindparam("before"))
    return select_many(func.count()).select_from(Outbox).where(col(Outbox.sent_at).is_(None), late)


def give_up(session: Session, *, at: datetime, because: str, whole: bool = False) -> None:
    """Give up what waits for longer than mail is tried, or the ``whole`` of what waits."""
    old = update(Outbox).where(*_waits(), *(() if whole else (col(Outbox.until_at) <= at,)))
    session.execute(old.values(given_up_at=at, last_error=func.coalesce(col(Outbox.last_error), because)))


def drop_of_person(session: Session, person_id: UUID) -> None:
    """Throw away what was not sent to somebody."""
    session.execute(delete(Outbox).where(col(Outbox.person_id) == person_id, col(Outbox.sent_at).is_(None)))


def drop_of_subject(session: Session, subject_id: UUID) -> None:
    """Throw away the unsent mail about something that is no longer so; what may have left already stays told."""
    about = delete(Outbox).where(col(Outbox.subject_id) == subject_id, col(Outbox.sent_at).is_(None))
    session.execute(about.where(col(Outbox.handed_at).is_(None)))
