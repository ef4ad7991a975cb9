"""Jobs: opened with a customer and a question, corrected with a reason, closed with another and opened again."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.desk.intake._checks import columns_of, correct, require_sides, the_job
from service.errors import Invalid, NotFound
from service.records import criteria as criterion_records
from service.records import customers as customer_records
from service.records import jobs as records
from service.records.base import canonical
from service.records.customers import Customer
from service.records.jobs import QUESTION_KINDS, Job, JobCriterion
from service.trade.criteria import codes_and_rules as rules
from service.trade.criteria.codes_and_rules import Criterion
from service.typed import Typed

SIDES = ("machine_length_mm", "machine_width_mm", "machine_height_mm")


@dataclass(frozen=True)
class Measures:
    """What will be built, and the machine that the customer has; whatever of it is known."""

    wall_thickness_mm: Typed | None = None
    wall_height_m: Typed | None = None
    roof_line_load_kn_m: Typed | None = None
    machine_pressure_mpa: Typed | None = None
    machine_length_mm: Typed | None = None
    machine_width_mm: Typed | None = None
    machine_height_mm: Typed | None = None
    machine_density_kg_m3: Typed | None = None


@dataclass(frozen=True)
class Question:
    """What a customer asks: where, in words, of which kind, and by when."""

    site: str
    question: str
    question_kind: str
    promised_on: date | None = None
    measures: Measures = Measures()


@dataclass(frozen=True)
class OfferedCriterion:
    """A criterion that may be put to a job."""

    key: str
    name: str
    text: str
    chosen: bool = False


@dataclass(frozen=True)
class JobForm:
    """What the form of a new job offers; a customer who is not among the newest is chosen on their own page."""

    customers: list[tuple[UUID, str]]
    has_more: bool
    criteria: list[OfferedCriterion]


@look("job.form", by=STAFF)
def form(session: Session, caller: Caller, *, customer_id: UUID | None = None) -> JobForm:
    """Return the customers to choose from, the newest and a chosen one, and the criteria that may be put to a job."""
    at_hand = customer_records.customers_at_hand(session, most=customer_records.OFFERED, also=customer_id)
    known = [(one.id, one.name) for one in at_hand]
    return JobForm(known, len(known) >= customer_records.OFFERED, _offered(_usable(session), chosen=set()))


@look("job.criteria", by=STAFF)
def criteria_of(session: Session, caller: Caller, *, job_id: UUID) -> list[OfferedCriterion]:
    """Return the criteria that may be put to a job, those it has marked."""
    job = the_job(session, job_id)
    return _offered(_usable(session), chosen={one.key for one in records.criteria_of(session, job.id)})


def _usable(session: Session) -> dict[str, Criterion]:
    """Return every criterion that may be put to a job, by key: one from memory only after its text was read."""
    read = {(check.key, check.edition) for check in criterion_records.criterion_checks(session)}
    published = {
        key: one for key, one in rules.published().items() if one.decides(confirmed=(one.key, one.edition) in read)
    }
    own = [rules.read_criterion(json.loads(one.rules)) for one in criterion_records.own_criteria(session)]
    return published | {one.key: one for one in own}


def _offered(usable: dict[str, Criterion], *, chosen: set[str]) -> list[OfferedCriterion]:
    return [OfferedCriterion(key, one.name, f"{one.body}, {one.edition}", key in chosen) for key, one in usable.items()]


@act("job.open", by=STAFF)
def open_job(
    session: Session,
    caller: Caller,
    *,
    asked: Question,
    customer_id: UUID | None = None,
    new_customer: str | None = None,
    new_contact: str | None = None,
    criteria: Sequence[str] = (),
) -> Done:
    """Open a job for a customer, known or new; its number is the next."""
    _check(asked)
    customer = _customer(session, customer_id, name=new_customer, contact=new_contact)
    measures = vars(asked.measures)
    job = Job(
        number=records.next_number(session),
        customer_id=customer.id,
        **_words(asked),
        **columns_of(measures),
    )
    session.add(job)
    session.flush()
    added = _put_to(session, job, set(criteria))
    return Done("job", job.id, {"number": job.number, "customer": customer.id, "criteria": added})


def _words(asked: Question) -> dict[str, Any]:
    return {name: value for name, value in vars(asked).items() if name != "measures"}


def _check(asked: Question) -> None:
    if asked.question_kind not in QUESTION_KINDS:
        raise Invalid("Choose a kind of question from the list.", {"question_kind": "Choose one from the list."})
    for name in ("site", "question"):
        if not getattr(asked, name).strip():
            raise Invalid("Something is missing.", {name: "Fill this in."})
    measures = vars(asked.measures)
    require_sides(measures, positive=measures)
    missing = [side for side in SIDES if measures[side] is None]
    if missing and len(missing) < len(SIDES):
        raise Invalid("A block has three sides.", dict.fromkeys(missing, "Give all three sides of the block, or none."))


def _customer(session: Session, customer_id: UUID | None, *, name: str | None, contact: str | None) -> Customer:
    if customer_id is not None and name is not None:
        raise Invalid("Choose one customer.", {"new_customer": "Choose a customer or add one, not both."})
    if customer_id is not None:
        found = customer_records.customer(session, customer_id)
        if found is None:
            raise NotFound("There is no such customer.")
        return found
    if name is None or not name.strip():
        raise Invalid("The customer is missing.", {"customer_id": "Choose the customer, or add a new one below."})
    customer = Customer(name=name, contact=contact)
    session.add(customer)
    session.flush()
    return customer


def _put_to(session: Session, job: Job, keys: set[str]) -> list[str]:
    """Copy the rules of criteria to a job, as they read today."""
    usable = _usable(session) if keys else {}
    unknown = keys - set(usable)
    if unknown:
        raise Invalid(
            "A code or rule cannot be used.", {"criteria": "Choose among the codes and rules that are listed."}
        )
    for key in sorted(keys):
        one = usable[key]
        session.add(JobCriterion(job_id=job.id, key=key, edition=one.edition, rules=canonical(one.as_data())))
    session.flush()
    return sorted(keys)


@act("job.correct", by=STAFF)
def correct_job(session: Session, caller: Caller, *, job_id: UUID, asked: Question, because: str) -> Done:
    """Correct what was written down of a job; the old words stay beside the reason."""
    _check(asked)
    job = the_job(session, job_id)
    correction = correct(session, caller, job, values=_words(asked), typed=vars(asked.measures), because=because)
    return Done("job", job.id, {"correction": correction.id, "because": correction.because})


@act("job.choose_criteria", by=STAFF)
def choose_criteria(session: Session, caller: Caller, *, job_id: UUID, criteria: Sequence[str]) -> Done:
    """Set which criteria a job answers to; those it keeps stay as they were copied."""
    job = the_job(session, job_id)
    present = {one.key: one for one in records.criteria_of(session, job.id)}
    gone = sorted(set(present) - set(criteria))
    for key in gone:
        session.delete(present[key])
    added = _put_to(session, job, set(criteria) - set(present))
    return Done("job", job.id, {"added": added, "removed": gone})


@act("job.close", by=STAFF)
def close_job(session: Session, caller: Caller, *, job_id: UUID, because: str) -> Done:
    """Close a job, with the reason."""
    job = the_job(session, job_id)
    if job.closed_at is not None:
        raise Invalid("This job is finished already.", {"because": "The job is finished already."})
    if not because.strip():
        raise Invalid("Give a reason for closing the job.", {"because": "Give a reason for closing the job."})
    job.closed_at, job.closed_because = caller.stores.clock(), because
    session.add(job)
    return Done("job", job.id, {"because": because})


@act("job.open_again", by=STAFF)
def open_again(session: Session, caller: Caller, *, job_id: UUID, because: str) -> Done:
    """Open a closed job again; when and why it was closed stays in the log."""
    job = the_job(session, job_id)
    if job.closed_at is None:
        raise Invalid("This job is open.", {"because": "This job is open."})
    if not because.strip():
        raise Invalid(
            "Give a reason for opening the job again.", {"because": "Give a reason for opening the job again."}
        )
    was = {"closed_at": job.closed_at.isoformat(), "closed_because": job.closed_because}
    job.closed_at = job.closed_because = None
    session.add(job)
    return Done("job", job.id, {"because": because, "was": was})
