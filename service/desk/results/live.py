"""Results as they stand now, and the draft that an owner looks at before issuing."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import NamedTuple
from uuid import UUID, uuid4

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Language, look
from service.desk.results._changes import NOTHING_CHANGED, changed
from service.desk.results._compute import work_out
from service.desk.results._kept import Kept
from service.desk.results.result_facts import Result
from service.errors import Conflict, Invalid
from service.phrase import Phrase, stored
from service.records import audit_log, result_queries
from service.records.base import canonical
from service.records.result_queries import IssuedBefore
from service.records.tokens import Ticket
from service.trade.sentences.asking import for_the_shop


@dataclass(frozen=True)
class LinkView:
    """A share link: for whom, through which day it opens, whether it still does, and how often it was followed."""

    id: UUID
    made_at: datetime
    last_day: date
    ended_at: datetime | None
    open: bool
    name: str | None
    uses: int
    last_used_at: datetime | None


@dataclass(frozen=True)
class IssuedView:
    """An issued result in the list of its job."""

    id: UUID
    number: int
    issued_at: datetime
    issued_by: str
    remark: str
    changes: tuple[Phrase, ...]
    data_sha256: str
    withdrawn_at: datetime | None
    withdrawn_because: str | None
    links: tuple[LinkView, ...]


@dataclass(frozen=True)
class Live:
    """A job's result as it stands, what was issued of it before, newest first, and what changed since the newest."""

    result: Result
    data: str
    issued: tuple[IssuedView, ...]
    since: tuple[Phrase, ...]

    @property
    def sha256(self) -> str:
        """What tells this result from another."""
        return hashlib.sha256(self.data.encode()).hexdigest()

    @property
    def to_the_shop(self) -> Result:
        """The result with its answer in words for the people of the shop; what is issued speaks to the customer."""
        return replace(self.result, answer=for_the_shop(self.result.answer))


@dataclass(frozen=True)
class Draft:
    """What would be issued: the result with its number, day and words, and its data as they would be frozen."""

    id: UUID
    result: Result
    number: int
    issued_on: date
    issued_by: str
    remark: str
    changes: tuple[Phrase, ...]
    language: Language
    sha256: str
    data: str


@look("result.live", by=STAFF)
def live(session: Session, caller: Caller, *, job_id: UUID) -> Live:
    """Return the result of a job worked out from its readings as they stand."""
    before = result_queries.issued_with_links(session, job_id)
    stands = _STANDS.get(_rests_on(session, caller, job_id), lambda: _stands(session, caller, job_id, before))
    return Live(
        result=stands.result, data=stands.data, since=stands.since, issued=tuple(_view(one, caller) for one in before)
    )


class _Stands(NamedTuple):
    result: Result
    # The one text of the result.
    data: str
    since: tuple[Phrase, ...]


# Of so many jobs the result is at hand while nothing is recorded.
_STANDS: Kept[_Stands] = Kept(most=16)


def _rests_on(session: Session, caller: Caller, job_id: UUID) -> tuple[object, ...]:
    """Return what decides a result: the digest of all that was recorded, which job, the day, and what the shop is."""
    _, recorded = audit_log.head(session)
    return recorded, job_id, caller.clock.today, caller.shop


def _stands(session: Session, caller: Caller, job_id: UUID, before: Sequence[IssuedBefore]) -> _Stands:
    result = work_out(session, caller, job_id)
    data = canonical(result)
    return _Stands(result, data, _since(before, data, before[0].issued.remark) if before else ())


def _since(before: Sequence[IssuedBefore], data: str, remark: str) -> tuple[Phrase, ...]:
    """Return what changed since the result that was issued last."""
    return changed(json.loads(before[0].issued.data), json.loads(data), remark)


@look("result.draft", by=OWNERS)
def draft(
    session: Session,
    caller: Caller,
    *,
    job_id: UUID,
    remark: str,
    seen_sha256: str,
    language: Language | None = None,
    beside: object = None,
    unchanged: bool = False,
) -> Draft:
    """Return what would be issued now, refusing if it is no longer what the owner looked at.

    ``beside`` is what else stands on the paper; it is frozen as it is handed in.
    """
    return _draft(
        session,
        caller,
        job_id=job_id,
        remark=remark,
        seen_sha256=seen_sha256,
        language=language,
        beside=beside,
        unchanged=unchanged,
    )


def _draft(
    session: Session,
    caller: Caller,
    *,
    job_id: UUID,
    remark: str,
    seen_sha256: str,
    language: Language | None,
    beside: object,
    unchanged: bool,
) -> Draft:
    result = work_out(session, caller, job_id)
    if not result.issuable:
        raise Conflict("There is nothing to issue before the first block is crushed and counted.")
    as_it_is = canonical(result)
    if hashlib.sha256(as_it_is.encode()).hexdigest() != seen_sha256:
        raise Conflict("The readings or prices have changed since you looked. Read the result again before issuing it.")
    before = result_queries.issued_with_links(session, job_id)
    number = 1 + max((one.issued.number for one in before), default=0)
    changes = (_since(before, as_it_is, remark) or (NOTHING_CHANGED,)) if before else ()
    if changes == (NOTHING_CHANGED,) and not unchanged:
        raise Invalid(
            f"Nothing has changed since no. {number - 1}.",
            {"unchanged": "Tick this to issue the same result once more."},
        )
    speaks: Language = language or result.job.language
    issued_on = caller.clock.today
    data = canonical(
        {
            "number": number,
            "issued_on": issued_on,
            "issued_by": caller.name,
            "remark": remark,
            "changes": changes,
            "language": speaks,
            "paper": caller.shop.paper,
            "result": result,
            "beside": beside,
        }
    )
    return Draft(uuid4(), result, number, issued_on, caller.name, remark, changes, speaks, seen_sha256, data)


def _view(before: IssuedBefore, caller: Caller) -> IssuedView:
    issued = before.issued
    return IssuedView(
        id=issued.id,
        number=issued.number,
        issued_at=issued.issued_at,
        issued_by=before.by.name,
        remark=issued.remark,
        changes=tuple(stored(one) for one in json.loads(issued.changes)),
        data_sha256=issued.data_sha256,
        withdrawn_at=issued.withdrawn_at,
        withdrawn_because=issued.withdrawn_because,
        links=tuple(_link(one, caller, withdrawn=issued.withdrawn_at is not None) for one in before.links),
    )


def _link(ticket: Ticket, caller: Caller, *, withdrawn: bool) -> LinkView:
    is_open = ticket.ended_at is None and ticket.expires_at > caller.stores.clock() and not withdrawn
    # It ends with the first moment of the next day on the shop's clock.
    last_day = caller.clock.day(ticket.expires_at - timedelta(microseconds=1))
    return LinkView(
        ticket.id,
        ticket.created_at,
        last_day,
        ticket.ended_at,
        is_open,
        ticket.name,
        ticket.uses,
        ticket.last_used_at,
    )
