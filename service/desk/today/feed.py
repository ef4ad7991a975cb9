"""The calendar of the shop or of one person: what is to be done with blocks, and by when, at a private address."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from sqlalchemy import update
from sqlmodel import Session, col, select

from service.desk.doorway import ANYONE, OWNERS, STAFF, Caller, Done, Role, act, look
from service.desk.today._tasks import Task, beside_closed_days, in_order, of_blocks
from service.errors import Forbidden, NotFound
from service.measured.opening_hours import opening_days
from service.records import block_queries, people, tokens
from service.records.blocks import Block
from service.records.shop import Shop
from service.records.tokens import Ticket
from service.shop_clock import ShopClock
from service.trade.block.opening_days import OpeningDays

LASTS = timedelta(days=730)


@dataclass(frozen=True)
class Feed:
    """The tasks with blocks that are ahead or late, and for whom."""

    shop: str
    whose: str
    now: datetime
    tasks: list[Task]
    opening: OpeningDays


def _is_whole(ticket: Ticket) -> bool:
    return ticket.role == Role.OWNER


@act("calendar.open", by=STAFF)
def open_feed(session: Session, caller: Caller, *, token_sha256: str, whole: bool) -> Done:
    """Make a private address of a calendar; the one that its person had for the same is over."""
    if whole and caller.role not in OWNERS:
        raise Forbidden("The calendar of the whole shop is for the owner.")
    now, role = caller.stores.clock(), Role.OWNER if whole else Role.TECHNICIAN
    _end(session, caller.doer, role=role, at=now)
    ticket = Ticket(
        kind="calendar",
        token_sha256=token_sha256,
        person_id=caller.doer,
        role=role.value,
        made_by=caller.doer,
        expires_at=now + LASTS,
    )
    session.add(ticket)
    session.flush()
    return Done("ticket", ticket.id, {"whole": whole})


@act("calendar.end", by=STAFF)
def end_feeds(session: Session, caller: Caller) -> Done:
    """End one's own calendar addresses."""
    for role in (Role.OWNER, Role.TECHNICIAN):
        _end(session, caller.doer, role=role, at=caller.stores.clock())
    return Done("person", caller.doer)


def _end(session: Session, person_id: UUID, *, role: Role, at: datetime) -> None:
    its = update(Ticket).where(col(Ticket.person_id) == person_id, col(Ticket.kind) == "calendar")
    session.execute(its.where(col(Ticket.role) == role.value, col(Ticket.ended_at).is_(None)).values(ended_at=at))


@look("calendar.feed", by=ANYONE, unfinished=True)
def feed(session: Session, caller: Caller, *, token_sha256: str) -> Feed:
    """Return the tasks behind a calendar's address, which ends when its person does."""
    now, ticket = caller.stores.clock(), tokens.ticket_by_token(session, token_sha256)
    person = people.person(session, ticket.person_id) if ticket and ticket.person_id else None
    is_open = ticket and ticket.kind == "calendar" and ticket.ended_at is None and ticket.expires_at > now
    if ticket is None or not is_open or person is None or person.ended_at is not None:
        raise NotFound("There is no such calendar, or no longer.")
    rows = block_queries.waiting(session)
    if not _is_whole(ticket):
        batches = {row.batch_id for row in rows}
        pressed = select(Block.batch_id).where(col(Block.batch_id).in_(batches), Block.pressed_by == person.id)
        own = set(session.exec(pressed))
        rows = [row for row in rows if row.batch_id in own]
    shop = session.get_one(Shop, 1)
    # Whoever reads a calendar is not signed in, so its shop is not told with the caller.
    opening = opening_days(session, ShopClock(now, ZoneInfo(shop.time_zone)))
    tasks = beside_closed_days(of_blocks(rows, now), now=now, opening=opening)
    return Feed(shop.name, "" if _is_whole(ticket) else person.name, now, in_order(tasks), opening)
