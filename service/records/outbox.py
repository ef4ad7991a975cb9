"""Mail that an act decided on and a round sends, and what people wrote to each other about a job."""

from datetime import datetime
from uuid import UUID

from sqlmodel import Field, Session, col, select

from service.records.base import Row, not_blank, not_negative
from service.records.people import Person


class Outbox(Row, table=True):
    """One letter to send: the facts in it, and how sending went."""

    __table_args__ = (*not_blank("event_key", "kind"), *not_negative("tries"))

    event_key: str = Field(unique=True)
    kind: str
    person_id: UUID = Field(foreign_key="person.id")
    facts: str
    due_at: datetime = Field(index=True)
    claimed_until: datetime | None = None
    tries: int = 0
    sent_at: datetime | None = None
    last_error: str | None = None


class Message(Row, table=True):
    """A sentence from one person about one job."""

    __table_args__ = (*not_blank("text"),)

    job_id: UUID = Field(foreign_key="job.id", index=True)
    person_id: UUID = Field(foreign_key="person.id")
    text: str


def messages_of_job(session: Session, job_id: UUID) -> list[tuple[Message, Person]]:
    """Return what was written on a job with who wrote it, oldest first; whoever asks may see the job."""
    question = select(Message, Person).join(Person, col(Person.id) == col(Message.person_id))
    return list(
        session.exec(question.where(Message.job_id == job_id).order_by(col(Message.created_at), col(Message.id)))
    )
