"""Every secret in one table: sessions, invitations, sign-in links, tokens and shares, each kept as its hash only."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, col, select

from service.records.base import Row, Sha256, not_negative, one_of, positive
from service.records.people import ROLES, Person
from service.records.shop import Shop

KINDS = ("session", "invite", "sign_in", "api", "share", "calendar", "device")


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
    made_by: UUID | None = Field(default=None, foreign_key="person.id")
    expires_at: datetime
    last_used_at: datetime | None = None
    uses: int = 0
    most_uses: int | None = None
    ended_at: datetime | None = None


def ticket_by_token(session: Session, token_sha256: str) -> Ticket | None:
    """Return the ticket of a token's hash, ended or not: why it no longer opens is the desk's to say."""
    return session.exec(select(Ticket).where(Ticket.token_sha256 == token_sha256)).one_or_none()


def bearer(session: Session, token_sha256: str, *, kind: str, at: datetime) -> tuple[Ticket, Person, Shop] | None:
    """Return whom a token speaks for, with the shop's facts, in the one statement every page begins with."""
    question = (
        select(Ticket, Person, Shop)
        .join(Person, col(Person.id) == col(Ticket.person_id))
        .join(Shop, col(Shop.id) == 1)
        .where(Ticket.token_sha256 == token_sha256, Ticket.kind == kind)
        .where(col(Ticket.ended_at).is_(None), col(Ticket.expires_at) > at, col(Person.ended_at).is_(None))
    )
    return session.exec(question).one_or_none()


def shares_of(session: Session, issued_result_ids: list[UUID]) -> list[Ticket]:
    """Return the share links of issued results, newest first."""
    question = select(Ticket).where(col(Ticket.issued_result_id).in_(issued_result_ids))
    return list(session.exec(question.order_by(col(Ticket.created_at).desc())))


def sessions_of(session: Session, person_id: UUID) -> list[Ticket]:
    """Return the sessions of one person that were not ended, newest first."""
    question = select(Ticket).where(
        Ticket.person_id == person_id, Ticket.kind == "session", col(Ticket.ended_at).is_(None)
    )
    return list(session.exec(question.order_by(col(Ticket.created_at).desc())))


def tokens_in_force(session: Session, *, at: datetime) -> list[Ticket]:
    """Return the programs' tokens that still open, the newest first."""
    question = select(Ticket).where(Ticket.kind == "api", col(Ticket.ended_at).is_(None), col(Ticket.expires_at) > at)
    return list(session.exec(question.order_by(col(Ticket.created_at).desc())))
