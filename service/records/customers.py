"""Customers: who asks, and in which language they read."""

from collections.abc import Collection
from uuid import UUID

from sqlalchemy import Index
from sqlmodel import Session, col, func, select

from service.records.base import Row, not_blank, one_of

LANGUAGES = ("en", "es")
# So many customers are offered to choose from; a job of any other is begun on their own page.
OFFERED = 60


class Customer(Row, table=True):
    """Who asks; several people may read for one customer."""

    __table_args__ = (
        *not_blank("name"),
        one_of("language", LANGUAGES),
        Index(None, "name", "id"),
        Index(None, "created_at"),
    )

    name: str
    contact: str | None = None
    language: str | None = None


def customers_at_hand(session: Session, *, most: int, also: UUID | None = None) -> list[Customer]:
    """Return customers to choose from, by name: so many of those who came last, and one that is chosen already."""
    found = {
        one.id: one for one in session.exec(select(Customer).order_by(col(Customer.created_at).desc()).limit(most))
    }
    chosen = session.get(Customer, also) if also else None
    if chosen is not None:
        found[chosen.id] = chosen
    return sorted(found.values(), key=lambda one: (one.name, one.id))


def customer_names(session: Session, customer_ids: Collection[UUID]) -> dict[UUID, str]:
    """Return the names of some customers."""
    return {one.id: one.name for one in session.exec(select(Customer).where(col(Customer.id).in_(customer_ids)))}


def customer(session: Session, customer_id: UUID) -> Customer | None:
    """Return one customer."""
    return session.get(Customer, customer_id)


def page_of_customers(session: Session, *, page: int, size: int) -> tuple[list[Customer], int]:
    """Return one page of customers, by name, and how many there are."""
    total = select(func.count()).select_from(Customer).scalar_subquery()
    question = select(Customer, total).order_by(col(Customer.name), col(Customer.id))
    rows = list(session.exec(question.offset((page - 1) * size).limit(size)))
    return [customer for customer, _ in rows], rows[0][1] if rows else 0
