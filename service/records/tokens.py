"""Every secret in one table: sessions, invitations, sign-in links, tokens and shares, each kept as its hash only."""

from collections.abc import Iterable
from datetime import datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, ColumnElement, bindparam, exists, or_, update
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Field, Session, col, select

from service.records.base import Row, Sha256, not_negative, one_of, plain_rows, positive
from service.records.customers import Customer
from service.records.people import ROLES, Person
from service.records.shop import Shop, ShopSaid
from service.records.tablets import Device

KINDS = ("session", "invite", "sign_in", "api", "share", "calendar", "device")


# What lets somebody in once.
ADDRESSES = ("invite", "sign_in")


class Ticket(Row, table=True):
    """One secret: what it opens, for whom, until when and how often."""

    __table_args__ = (
        one_of("kind", KINDS),
        one_of("role", ROLES),
        CheckConstraint("(kind = 'share') = (issued_result_id IS NOT NULL)", name="share_has_result"),
        *not_negative("uses"),
        *positive("most_uses"),
    )

    kind: str
    token_sha256: str = Field(sa_type=Sha256, unique=True)
    person_id: UUID | None = Field(default=None, foreign_key="person.id", index=True)
    device_id: UUID | None = Field(default=None, foreign_key="device.id")
    issued_result_id: UUID | None = Field(default=None, foreign_key="issued_result.id", index=True)
    role: str | None = None
    # For whom a share link was made.
    name: str | None = None
    made_by: UUID | None = Field(default=None, foreign_key="person.id")
    expires_at: datetime
    last_used_at: datetime | None = None
    # When the password, or an address in its stead, last showed whose session this is.
    confirmed_at: datetime | None = None
    uses: int = 0
    most_uses: int | None = None
    ended_at: datetime | None = None


def ticket_by_token(session: Session, token_sha256: str) -> Ticket | None:
    """Return the ticket of a token's hash, ended or not: why it no longer opens is the desk's to say."""
    return session.exec(select(Ticket).where(Ticket.token_sha256 == token_sha256)).one_or_none()


def locked(session: Session, token_sha256: str) -> Ticket | None:
    """Return the ticket of a token's hash for this transaction alone to spend; whoever comes second sees it spent."""
    return session.exec(select(Ticket).where(Ticket.token_sha256 == token_sha256).with_for_update()).one_or_none()


class Bearer(NamedTuple):
    """Whom a token speaks for: its ticket, the person with their customer's language, and the shop."""

    shop: ShopSaid
    ticket_id: UUID
    created_at: datetime
    last_used_at: datetime | None
    expires_at: datetime
    confirmed_at: datetime | None
    role: str | None
    device_id: UUID | None
    person_id: UUID
    name: str
    own_role: str
    customer_id: UUID | None
    totp_secret: str | None
    language: str | None


def bearer(session: Session, token_sha256: str, *, kind: str, device_sha256: str | None, at: datetime) -> Bearer | None:
    """Return whom a token speaks for, the shop's facts and the customer's language, in one statement for every page.

    What is bound to a tablet speaks together with the secret of that tablet alone.
    """
    given = {"token_sha256": token_sha256, "kind": kind, "device_sha256": device_sha256 or "", "at": at}
    found = plain_rows(session, _bearer(), given).one_or_none()
    return None if found is None else Bearer(ShopSaid(*found[:_OF_SHOP]), *found[_OF_SHOP:])


_OF_SHOP = len(ShopSaid._fields)


# Asked before every page, so it is written down once; its values come when it is asked.
@cache
def _bearer() -> Any:
    return (
        select_many(
            *(getattr(Shop, name) for name in ShopSaid._fields),
            *(col(Ticket.id), col(Ticket.created_at), col(Ticket.last_used_at), col(Ticket.expires_at)),
            *(col(Ticket.confirmed_at), col(Ticket.role), col(Ticket.device_id), col(Person.id), col(Person.name)),
            *(col(Person.role), col(Person.customer_id), col(Person.totp_secret), col(Customer.language)),
        )
        .select_from(Ticket)
        .join(Person, col(Person.id) == col(Ticket.person_id))
        .join(Shop, col(Shop.id) == 1)
        .outerjoin(Customer, col(Customer.id) == col(Person.customer_id))
        .where(col(Ticket.token_sha256) == bindparam("token_sha256"), col(Ticket.kind) == bindparam("kind"))
        .where(col(Ticket.ended_at).is_(None), col(Ticket.expires_at) > bindparam("at"), col(Person.ended_at).is_(None))
        .where(or_(col(Ticket.device_id).is_(None), _on_its_tablet()))
    )


def _on_its_tablet() -> ColumnElement[bool]:
    tablets = aliased(Ticket)
    here = exists().where(col(tablets.kind) == "device", col(tablets.token_sha256) == bindparam("device_sha256"))
    in_force = here.where(col(tablets.ended_at).is_(None), col(tablets.expires_at) > bindparam("at"))
    enrolled = in_force.where(col(tablets.device_id) == Ticket.device_id, col(Device.id) == tablets.device_id)
    return enrolled.where(col(Device.ended_at).is_(None)).correlate(Ticket)


def tablet(session: Session, device_sha256: str, *, at: datetime) -> Device | None:
    """Return the tablet that holds a secret, if it is still one of the shop's."""
    question = (
        select(Device)
        .join(Ticket, col(Ticket.device_id) == col(Device.id))
        .where(Ticket.kind == "device", Ticket.token_sha256 == device_sha256)
        .where(col(Ticket.ended_at).is_(None), col(Ticket.expires_at) > at, col(Device.ended_at).is_(None))
    )
    return session.exec(question).one_or_none()


def end_all_of_device(session: Session, device_id: UUID, *, at: datetime) -> None:
    """End a tablet's own secret and every session on it."""
    session.execute(
        update(Ticket).where(col(Ticket.device_id) == device_id, col(Ticket.ended_at).is_(None)).values(ended_at=at)
    )


def end_all_of_person(session: Session, person_id: UUID, *, at: datetime) -> None:
    """End everything that lets somebody in: sessions, addresses and programs' tokens."""
    session.execute(
        update(Ticket).where(col(Ticket.person_id) == person_id, col(Ticket.ended_at).is_(None)).values(ended_at=at)
    )


def end_of_kinds(session: Session, person_id: UUID, kinds: Iterable[str], *, at: datetime) -> None:
    """End what one person has of some kinds."""
    his = update(Ticket).where(col(Ticket.person_id) == person_id, col(Ticket.kind).in_(list(kinds)))
    session.execute(his.where(col(Ticket.ended_at).is_(None)).values(ended_at=at))


def end_session(session: Session, token_sha256: str, *, at: datetime) -> None:
    """End the session of a token's hash, whosever it is."""
    its = update(Ticket).where(col(Ticket.token_sha256) == token_sha256, col(Ticket.kind) == "session")
    session.execute(its.where(col(Ticket.ended_at).is_(None)).values(ended_at=at))


def end_other_sessions(session: Session, person_id: UUID, *, but_sha256: str, at: datetime) -> None:
    """End the sessions of one person but for the one he is at."""
    his = update(Ticket).where(col(Ticket.person_id) == person_id, col(Ticket.kind) == "session")
    others = his.where(col(Ticket.ended_at).is_(None), col(Ticket.token_sha256) != but_sha256)
    session.execute(others.values(ended_at=at))


def sessions_of(session: Session, person_id: UUID) -> list[Ticket]:
    """Return the sessions of one person that were not ended, newest first."""
    question = select(Ticket).where(
        Ticket.person_id == person_id, Ticket.kind == "session", col(Ticket.ended_at).is_(None)
    )
    return list(session.exec(question.order_by(col(Ticket.created_at).desc())))


def shares_of(session: Session, issued_result_id: UUID) -> list[Ticket]:
    """Return the links to an issued result, ended or not, the newest first."""
    question = select(Ticket).where(Ticket.kind == "share", Ticket.issued_result_id == issued_result_id)
    return list(session.exec(question.order_by(col(Ticket.created_at).desc(), col(Ticket.id))))


def tokens_in_force(session: Session, *, at: datetime) -> list[Ticket]:
    """Return the programs' tokens that still open, the newest first."""
    question = select(Ticket).where(Ticket.kind == "api", col(Ticket.ended_at).is_(None), col(Ticket.expires_at) > at)
    return list(session.exec(question.order_by(col(Ticket.created_at).desc())))
