"""The people who sign in."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import CheckConstraint, delete, false, text
from sqlmodel import Field, Session, col, func, select

from service.records.base import Row, Sha256, not_blank, not_negative, one_of

ROLES = ("owner", "technician", "customer")


class Person(Row, table=True):
    """Somebody who signs in: of the shop, or of one customer."""

    __table_args__ = (
        *not_blank("name", "email"),
        one_of("role", ROLES),
        *not_negative("pin_tries"),
        CheckConstraint("email = lower(email)", name="email_lower"),
        CheckConstraint("(role = 'customer') = (customer_id IS NOT NULL)", name="customer_has_customer"),
    )

    name: str
    email: str = Field(unique=True)
    role: str
    customer_id: UUID | None = Field(default=None, foreign_key="customer.id", index=True)
    password_hash: str | None = None
    # The drawn half of it; the other half is the installation's own secret, which is not in the database.
    totp_secret: str | None = None
    pin_hash: str | None = None
    pin_tries: int = Field(default=0, sa_column_kwargs={"server_default": text("0")})
    # Mail that tells how work goes on; what nobody may miss is sent all the same.
    declines_progress: bool = Field(default=False, sa_column_kwargs={"server_default": false()})
    ended_at: datetime | None = None


class RecoveryCode(Row, table=True):
    """A way in when the second factor is lost; used once."""

    person_id: UUID = Field(foreign_key="person.id", index=True)
    code_sha256: str = Field(sa_type=Sha256, unique=True)
    used_at: datetime | None = None


def person_by_email(session: Session, email: str) -> Person | None:
    """Return who signs in with this address, whatever its capitals."""
    return session.exec(select(Person).where(Person.email == email.strip().lower())).one_or_none()


def person(session: Session, person_id: UUID) -> Person | None:
    """Return one person."""
    return session.get(Person, person_id)


def locked(session: Session, person_id: UUID) -> Person | None:
    """Return one person as he is now, for this transaction alone to change; SQLite has one writer anyway."""
    return session.get(Person, person_id, with_for_update=True, populate_existing=True)


def owners_locked(session: Session) -> list[Person]:
    """Return the owners who may still come in, for this transaction alone to change; others wait and look anew."""
    question = select(Person).where(Person.role == "owner", col(Person.ended_at).is_(None))
    ordered = question.order_by(col(Person.id)).with_for_update()
    return list(session.exec(ordered.execution_options(populate_existing=True)))


def people(session: Session) -> list[Person]:
    """Return everybody, by name."""
    return list(session.exec(select(Person).order_by(col(Person.name), col(Person.id))))


def page_of_people(session: Session, *, page: int, size: int) -> tuple[list[Person], int]:
    """Return one page of everybody, the shop's own people first, by name, and how many there are."""
    total = select(func.count()).select_from(Person).scalar_subquery()
    question = select(Person, total).order_by(col(Person.customer_id).is_not(None), col(Person.name), col(Person.id))
    rows = list(session.exec(question.offset((page - 1) * size).limit(size)))
    return [person for person, _ in rows], rows[0][1] if rows else 0


def names(session: Session, person_ids: set[UUID]) -> dict[UUID, str]:
    """Return what people are called."""
    question = select(Person).where(col(Person.id).in_(person_ids))
    return {person.id: person.name for person in session.exec(question)}


def people_of_customer(session: Session, customer_id: UUID) -> list[Person]:
    """Return who reads for a customer, by name."""
    question = select(Person).where(Person.customer_id == customer_id)
    return list(session.exec(question.order_by(col(Person.name), col(Person.id))))


def people_of_the_shop(session: Session) -> list[Person]:
    """Return who works in the shop, by name."""
    question = select(Person).where(col(Person.customer_id).is_(None))
    return list(session.exec(question.order_by(col(Person.name), col(Person.id))))


def recovery_code(session: Session, person_id: UUID, code_sha256: str) -> RecoveryCode | None:
    """Return a recovery code of a person that was not used yet."""
    question = select(RecoveryCode).where(
        RecoveryCode.person_id == person_id,
        RecoveryCode.code_sha256 == code_sha256,
        col(RecoveryCode.used_at).is_(None),
    )
    return session.exec(question).one_or_none()


def codes_left(session: Session, person_id: UUID) -> int:
    """Return how many recovery codes a person still has."""
    question = select(func.count()).select_from(RecoveryCode)
    return session.exec(question.where(RecoveryCode.person_id == person_id, col(RecoveryCode.used_at).is_(None))).one()


def forget_codes(session: Session, person_id: UUID) -> None:
    """Delete a person's recovery codes."""
    session.execute(delete(RecoveryCode).where(col(RecoveryCode.person_id) == person_id))
