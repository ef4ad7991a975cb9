"""What people wrote to each other about a job."""

from uuid import UUID

from sqlmodel import Field, Session, col, select

from service.records.base import Row, not_blank
from service.records.people import Person


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
