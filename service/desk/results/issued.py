"""Issuing, withdrawing and reading what was issued: an issued result never changes."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import EVERYONE, OWNERS, Caller, Done, Language, Role, act, look
from service.desk.results.live import _draft
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.records import files, idempotency, jobs, outbox, people, results, shop
from service.records.base import canonical
from service.records.jobs import Job
from service.records.results import IssuedCalibration, IssuedResult, Replaced

Paper = Literal["page", "pdf"]
MEDIA_TYPES: dict[Paper, str] = {"page": "text/html; charset=utf-8", "pdf": "application/pdf"}


@dataclass(frozen=True)
class Rendered:
    """A paper in the file store: its digest and size."""

    sha256: str
    size: int


@dataclass(frozen=True)
class ReplacedCalibration:
    """A calibration that a result rests on and that another took the place of: told to the shop alone."""

    gauge: str
    done_on: date
    because: str
    new_done_on: date


@dataclass(frozen=True)
class Frozen:
    """An issued result as it may be read: its number, how it stands today, and its data."""

    id: UUID
    job_id: UUID
    job_number: int
    site: str
    number: int
    issued_at: datetime
    data: str
    data_sha256: str
    withdrawn_at: datetime | None
    withdrawn_because: str | None
    language: Language
    newest_id: UUID | None
    newest_number: int | None
    replaced: tuple[ReplacedCalibration, ...]
    whom_to_call: str


@look("result.answered", by=OWNERS)
def answered(session: Session, caller: Caller, *, job_id: UUID) -> UUID | None:
    """Return what this very form issued already, so that a second click draws no paper again."""
    if caller.request_key is None:
        return None
    kept = idempotency.find(session, caller.caller_key, caller.request_key)
    if kept is None or kept.act != "result.issue":
        return None
    answer = json.loads(kept.answer)
    return UUID(answer["id"]) if answer["details"]["job_id"] == str(job_id) else None


@act("result.issue", by=OWNERS)
def issue(
    session: Session,
    caller: Caller,
    *,
    issued_id: UUID,
    job_id: UUID,
    number: int,
    remark: str,
    seen_sha256: str,
    language: Language,
    beside: object,
    unchanged: bool,
    page: Rendered,
    pdf: Rendered,
) -> Done:
    """Freeze a result: data, page and PDF, if its draft is still what the readings say.

    Its id was drawn with the draft, for its paper leads to it.
    """
    draft = _draft(
        session,
        caller,
        job_id=job_id,
        remark=remark,
        seen_sha256=seen_sha256,
        language=language,
        beside=beside,
        unchanged=unchanged,
    )
    if draft.number != number or caller.person_id is None:
        raise Conflict("Another result of this job was issued meanwhile. Read it before issuing the next.")
    for paper, media_type in ((page, MEDIA_TYPES["page"]), (pdf, MEDIA_TYPES["pdf"])):
        files.note(session, sha256=paper.sha256, media_type=media_type, size=paper.size)
    issued = IssuedResult(
        id=issued_id,
        job_id=job_id,
        number=number,
        issued_at=caller.stores.clock(),
        issued_by=caller.person_id,
        remark=remark,
        data=draft.data,
        data_sha256=hashlib.sha256(draft.data.encode()).hexdigest(),
        engine=draft.result.model.engine,
        page_sha256=page.sha256,
        pdf_sha256=pdf.sha256,
        language=language,
        paper=caller.shop.paper,
        changes=canonical(draft.changes),
    )
    session.add(issued)
    session.flush()
    rests_on = {one.id for one in draft.result.calibrations if one.id is not None}
    session.add_all(IssuedCalibration(issued_result_id=issued.id, calibration_id=one) for one in sorted(rests_on))
    _tell_customer(session, caller, issued, kind="result issued" if number == 1 else "result amended")
    return Done("issued_result", issued.id, {"job_id": job_id, "number": number, "data_sha256": issued.data_sha256})


def _tell_customer(session: Session, caller: Caller, issued: IssuedResult, *, kind: str) -> None:
    if caller.stores.sends_mail:
        readers = people.people_of_customer(session, jobs.visible(session, issued.job_id, seen_by=None).customer_id)
        event = f"{kind} {issued.id}"
        outbox.put(session, readers, kind=kind, event=event, subject_id=issued.id, at=caller.stores.clock())


@act("result.withdraw", by=OWNERS)
def withdraw(session: Session, caller: Caller, *, issued_id: UUID, because: str, job_id: UUID | None = None) -> Done:
    """Withdraw an issued result, with the reason that everybody who opens it is told."""
    if not because.strip():
        raise Invalid("Give a reason for withdrawing this result.", {"because": "Everybody who opens it is told this."})
    issued, job = results.visible(session, issued_id, seen_by=None)
    of_its_address(job.id, job_id)
    if issued.withdrawn_at is not None:
        raise Conflict("This result was withdrawn before.")
    issued.withdrawn_at, issued.withdrawn_because = caller.stores.clock(), because
    session.add(issued)
    outbox.drop_of_subject(session, issued.id)
    _tell_customer(session, caller, issued, kind="result withdrawn")
    return Done("issued_result", issued.id, {"job_id": job.id, "number": issued.number, "because": because})


@look("result.read", by=EVERYONE)
def read(session: Session, caller: Caller, *, issued_id: UUID) -> Frozen:
    """Return an issued result to the shop's people and to the customer whose job it is."""
    issued, job = results.visible(session, issued_id, seen_by=caller.seen_by)
    replaced = results.replaced_under(session, issued.id) if caller.seen_by is None else []
    return _frozen(session, issued, job, replaced)


@look("result.paper", by=EVERYONE)
def paper(session: Session, caller: Caller, *, issued_id: UUID, kind: Paper) -> bytes:
    """Return the page or the PDF as it was issued, to the byte; of a withdrawn one to the shop's people only."""
    issued, _ = results.visible(session, issued_id, seen_by=caller.seen_by)
    if issued.withdrawn_at is not None and caller.role is Role.CUSTOMER:
        raise NotFound("This result was withdrawn.")
    return caller.stores.files.get(issued.page_sha256 if kind == "page" else issued.pdf_sha256)


@look("result.data", by=EVERYONE)
def open_data(session: Session, caller: Caller, *, issued_id: UUID) -> Frozen:
    """Return an issued result for its data; a withdrawn one to the shop's people only."""
    issued, job = results.visible(session, issued_id, seen_by=caller.seen_by)
    if issued.withdrawn_at is not None and caller.role is Role.CUSTOMER:
        raise NotFound("This result was withdrawn.")
    return _frozen(session, issued, job)


def _frozen(session: Session, issued: IssuedResult, job: Job, replaced: Sequence[Replaced] = ()) -> Frozen:
    newest = next((one for one in results.issued_of_job(session, job.id) if one.withdrawn_at is None), None)
    kept = shop.shop(session)
    return Frozen(
        id=issued.id,
        job_id=job.id,
        job_number=job.number,
        site=job.site,
        number=issued.number,
        issued_at=issued.issued_at,
        data=issued.data,
        data_sha256=issued.data_sha256,
        withdrawn_at=issued.withdrawn_at,
        withdrawn_because=issued.withdrawn_because,
        language=issued.language,  # type: ignore[arg-type]
        newest_id=newest.id if newest else None,
        newest_number=newest.number if newest else None,
        replaced=tuple(
            ReplacedCalibration(one.gauge.name, one.old.done_on, one.new.replaced_because or "", one.new.done_on)
            for one in replaced
        ),
        whom_to_call=kept.whom_to_call if kept else "",
    )
