"""The slip that travels with a sack: whose job it is, where it goes, and what to write on it."""

from dataclasses import dataclass
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import EVERYONE, Caller, Language, look
from service.records import jobs, shop


@dataclass(frozen=True)
class Slip:
    """What is printed on the slip of a job."""

    job_id: UUID
    job_number: int
    customer: str
    site: str
    letterhead: str
    language: Language


@look("job.slip", by=EVERYONE)
def slip(session: Session, caller: Caller, *, job_id: UUID) -> Slip:
    """Return the slip of a job; a customer has those of their own."""
    job, customer = jobs.with_customer(session, job_id, seen_by=caller.seen_by)
    kept = shop.shop(session)
    reads: Language = "es" if (customer.language or caller.shop.language) == "es" else "en"
    return Slip(job.id, job.number, customer.name, job.site, (kept.letterhead if kept else None) or "", reads)
