"""The blocks of a job as a table, each with what it came to: what is looked at after the last one was crushed."""

from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results._compute import read_of
from service.desk.results.result_facts import ReadingFacts


@look("results.readings", by=STAFF)
def readings(session: Session, caller: Caller, *, job_id: UUID) -> list[ReadingFacts]:
    """Return every block of a job, by recipe and condition, with its reading or why it has none."""
    return [one.facts for one in read_of(session, caller, job_id)]
