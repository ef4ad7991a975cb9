"""Share links: whoever holds one reads one issued result, until a day or until it is ended."""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import ANYONE, CUSTOMERS, OWNERS, Caller, Done, Language, act, look
from service.desk.results.issued import Frozen, Paper, _frozen
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.records import people, results, shop, tokens
from service.records.tokens import Ticket

LONGEST_DAYS = 366
# What the form proposes.
USUAL_DAYS = 30
SHARERS = OWNERS | CUSTOMERS


@dataclass(frozen=True)
class Shared:
    """What a link opens, or why it no longer works; ``frozen`` is None unless it is open."""

    state: Literal["open", "ended", "withdrawn"]
    shop_name: str
    whom_to_call: str
    zone: str
    ended_at: datetime | None
    frozen: Frozen | None
    language: Language
    because: str = ""


@dataclass(frozen=True)
class SharedPaper:
    """A paper that a link leads to, and the result it is of."""

    frozen: Frozen
    content: bytes


@act("share.make", by=SHARERS)
def make(
    session: Session,
    caller: Caller,
    *,
    issued_id: UUID,
    token_sha256: str,
    last_day: date,
    name: str | None = None,
    job_id: UUID | None = None,
) -> Done:
    """Make a link to one issued result that opens through its last day; only the hash of its secret is kept."""
    issued, job = results.visible(session, issued_id, seen_by=caller.seen_by)
    of_its_address(job.id, job_id)
    if issued.withdrawn_at is not None:
        raise Conflict("A withdrawn result is not shared.")
    clock = caller.clock
    if not clock.today <= last_day <= clock.today + timedelta(days=LONGEST_DAYS):
        sentence = "From today to one year from today."
        raise Invalid("This day cannot be the last one of a link.", {"last_day": sentence})
    ends = datetime.combine(last_day + timedelta(days=1), time(), clock.zone).astimezone(UTC)
    link = Ticket(
        kind="share",
        token_sha256=token_sha256,
        issued_result_id=issued.id,
        name=name,
        made_by=caller.person_id,
        expires_at=ends,
    )
    session.add(link)
    session.flush()
    return Done("ticket", link.id, {"issued_result_id": issued.id, "job_id": job.id, "expires_at": ends})


@act("share.end", by=SHARERS)
def end(session: Session, caller: Caller, *, link_id: UUID, job_id: UUID | None = None) -> Done:
    """End a link before its day."""
    link = session.get(Ticket, link_id)
    if link is None or link.kind != "share" or link.issued_result_id is None:
        raise NotFound("There is no such link.")
    _, job = results.visible(session, link.issued_result_id, seen_by=caller.seen_by)
    of_its_address(job.id, job_id)
    if caller.customer_id is not None and link.made_by not in _own_people(session, caller.customer_id):
        raise NotFound("There is no such link.")
    link.ended_at = link.ended_at or caller.stores.clock()
    session.add(link)
    return Done("ticket", link.id, {"job_id": job.id})


@dataclass(frozen=True)
class OwnLink:
    """A link that a customer made: for whom, until when it opens, and how often it was followed."""

    id: UUID
    name: str | None
    made_at: datetime
    expires_at: datetime
    ended_at: datetime | None
    is_open: bool
    uses: int
    last_used_at: datetime | None


@look("share.own", by=CUSTOMERS)
def own(session: Session, caller: Caller, *, issued_id: UUID) -> tuple[Frozen, tuple[OwnLink, ...]]:
    """Return a result of one's own and the links to it that the customer's own people made, the newest first."""
    issued, job = results.visible(session, issued_id, seen_by=caller.seen_by)
    made_by, now = _own_people(session, caller.customer_id), caller.stores.clock()
    links = tuple(
        OwnLink(
            one.id,
            one.name,
            one.created_at,
            one.expires_at,
            one.ended_at,
            one.ended_at is None and one.expires_at > now,
            one.uses,
            one.last_used_at,
        )
        for one in tokens.shares_of(session, issued.id)
        if one.made_by in made_by
    )
    return _frozen(session, issued, job), links


def _own_people(session: Session, customer_id: UUID | None) -> set[UUID]:
    return {one.id for one in people.people_of_customer(session, customer_id)} if customer_id else set()


@look("share.open", by=ANYONE)
def opened(session: Session, caller: Caller, *, token_sha256: str) -> Shared:
    """Return what a link opens today."""
    link, frozen = _followed(session, token_sha256)
    kept = shop.shop(session)
    name, zone = (kept.name, kept.time_zone) if kept else (caller.shop.name, caller.shop.time_zone)
    whom = frozen.whom_to_call
    ended_at = link.ended_at or (link.expires_at if link.expires_at <= caller.stores.clock() else None)
    if ended_at is not None:
        return Shared("ended", name, whom, zone, ended_at, None, frozen.language)
    if frozen.withdrawn_at is not None:
        because = frozen.withdrawn_because or ""
        return Shared("withdrawn", name, whom, zone, frozen.withdrawn_at, None, frozen.language, because)
    return Shared("open", name, whom, zone, None, frozen, frozen.language)


@act("share.note_use", by=ANYONE, replayed=False, trailed=False)
def note_use(session: Session, caller: Caller, *, token_sha256: str) -> Done:
    """Count that a link was followed."""
    link, _ = _followed(session, token_sha256)
    link.last_used_at = caller.stores.clock()
    link.uses += 1
    return Done("ticket", link.id)


@look("share.paper", by=ANYONE)
def shared_paper(session: Session, caller: Caller, *, token_sha256: str, kind: Paper) -> SharedPaper:
    """Return the page or the PDF that an open link leads to."""
    link, frozen = _followed(session, token_sha256)
    over = link.ended_at is not None or link.expires_at <= caller.stores.clock() or frozen.withdrawn_at is not None
    if over:
        raise NotFound("This link has ended.")
    issued, _ = results.visible(session, frozen.id, seen_by=None)
    content = caller.stores.files.get(issued.page_sha256 if kind == "page" else issued.pdf_sha256)
    return SharedPaper(frozen, content)


def _followed(session: Session, token_sha256: str) -> tuple[Ticket, Frozen]:
    link = tokens.ticket_by_token(session, token_sha256)
    if link is None or link.kind != "share" or link.issued_result_id is None:
        raise NotFound("There is no such link.")
    issued, job = results.visible(session, link.issued_result_id, seen_by=None)
    return link, _frozen(session, issued, job)
