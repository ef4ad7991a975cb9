"""Materials with their prices, and the sacks in which they came."""

from collections.abc import Collection
from datetime import date, datetime
from decimal import Decimal
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import BindParameter, CheckConstraint, ColumnElement, Index, UniqueConstraint, and_, text
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, func, or_, select

from service.records.base import (
    Entered,
    Money,
    Raw,
    Row,
    Versioned,
    another,
    not_blank,
    not_negative,
    one_of,
    positive,
    together,
)
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.versions import versions

KEPT = "retained_until IS NOT NULL AND discarded_at IS NULL"
IN_USE = "ended_at IS NULL"
KINDS = ("soil", "sand", "cement", "lime", "other")


class Material(Row, table=True):
    """What goes into a mix: a customer's soil or something of the shop's."""

    __table_args__ = (
        *not_blank("name"),
        one_of("kind", KINDS),
        # In the order of names, so that a search ends with the first that it shows.
        Index("ix_material_in_use", "name", sqlite_where=text(IN_USE), postgresql_where=text(IN_USE)),
    )

    kind: str
    name: str
    customer_id: UUID | None = Field(default=None, foreign_key="customer.id", index=True)
    ended_at: datetime | None = None
    # Until when what stands on the shelf is good: cement that drew water sets badly.
    good_until: date | None = None


class Price(Entered, table=True):
    """What a material costs, and its carbon, from a day on; what was typed says for how much of it."""

    __table_args__ = (
        UniqueConstraint("material_id", "valid_from"),
        CheckConstraint("per_kg >= 0", name="per_kg_not_negative"),
        *not_negative("carbon_kg_per_kg", "carbon_low", "carbon_high"),
        CheckConstraint("carbon_low <= carbon_kg_per_kg AND carbon_kg_per_kg <= carbon_high", name="carbon_in_range"),
        *not_blank("source"),
        *positive("bag_kg", "bulk_kg_m3"),
    )

    material_id: UUID = Field(foreign_key="material.id")
    valid_from: date
    per_kg: Decimal | None = Field(default=None, sa_type=Money)
    carbon_kg_per_kg: float | None = None
    carbon_low: float | None = None
    carbon_high: float | None = None
    source: str
    bag_kg: float | None = None
    bulk_kg_m3: float | None = None


class Receipt(Raw, table=True):
    """One sack: what it weighed, where it was dug and how it looked when it came."""

    __table_args__ = (
        *not_blank("label"),
        *positive("mass_kg"),
        *not_negative("depth_m"),
        together("retained", "retained_until"),
        Index(None, "received_at"),
        Index("ix_receipt_retained", "retained_until", sqlite_where=text(KEPT), postgresql_where=text(KEPT)),
    )

    job_id: UUID = Field(foreign_key="job.id", index=True)
    material_id: UUID = Field(foreign_key="material.id", index=True)
    label: str = Field(unique=True)
    received_at: datetime
    received_by: UUID = Field(foreign_key="person.id")
    mass_kg: float
    pit: str | None = None
    dug_by: str | None = None
    dug_on: date | None = None
    depth_m: float | None = None
    topsoil_stripped: bool | None = None
    colour: str | None = None
    smell: str | None = None
    roots: str | None = None
    remarks: str | None = None
    retained: str | None = None
    retained_until: date | None = None
    discarded_at: datetime | None = None


class Preparation(Versioned, table=True):
    """What was done to a sack before testing: oversize taken off and what became of it, pulverised or not."""

    __table_args__ = (
        *positive("oversize_mm"),
        *not_negative("oversize_kg"),
        together("oversize_mm", "oversize_kg", "oversize_became"),
        *versions("preparation", once="receipt_id"),
    )

    receipt_id: UUID = Field(foreign_key="receipt.id", index=True)
    oversize_mm: float | None = None
    oversize_kg: float | None = None
    oversize_became: str | None = None
    pulverised: bool = False
    done_at: datetime
    done_by: UUID = Field(foreign_key="person.id")


class Priced(NamedTuple):
    """A material and the price that counts on a day, if there is one."""

    material: Material
    price: Price | None


def valid_on(day: date | BindParameter[date]) -> ColumnElement[bool]:
    """Return the condition by which a material is joined to the newest of its prices valid on a day."""
    known = another(Price)
    newest = (
        select_many(func.max(known.valid_from))
        .where(known.material_id == col(Material.id), known.valid_from <= day)
        .correlate(Material)
        .scalar_subquery()
    )
    return and_(col(Price.material_id) == col(Material.id), col(Price.valid_from) == newest)


def priced(session: Session, *, on: date, customer_id: UUID | None) -> list[Priced]:
    """Return the shop's materials in use, and those of one customer, with the newest price valid on a day."""
    question = (
        select(Material, Price)
        .outerjoin(Price, valid_on(on))
        .where(col(Material.ended_at).is_(None))
        .where(or_(col(Material.customer_id).is_(None), col(Material.customer_id) == customer_id))
        .order_by(col(Material.name), col(Material.id))
    )
    return [Priced(material, price) for material, price in session.exec(question)]


def prices_of(session: Session, material_id: UUID) -> list[Price]:
    """Return every price a material had, newest first."""
    question = select(Price).where(Price.material_id == material_id)
    return list(session.exec(question.order_by(col(Price.valid_from).desc())))


def receipts_of_job(session: Session, job_id: UUID) -> list[tuple[Receipt, Material]]:
    """Return the sacks of a job with what is in them, in order of arrival."""
    question = (
        select(Receipt, Material)
        .join(Material, col(Material.id) == col(Receipt.material_id))
        .where(Receipt.job_id == job_id)
        .order_by(col(Receipt.received_at), col(Receipt.label))
    )
    return [(receipt, material) for receipt, material in session.exec(question)]


def preparations_of_job(session: Session, job_id: UUID) -> list[Preparation]:
    """Return what was done to the sacks of a job, as it stands."""
    question = (
        select(Preparation)
        .join(Receipt, col(Receipt.id) == col(Preparation.receipt_id))
        .where(Receipt.job_id == job_id, col(Preparation.ended_at).is_(None))
    )
    return list(session.exec(question.order_by(col(Preparation.created_at))))


def with_customer(session: Session, material_id: UUID) -> tuple[Material, Customer | None, float | None] | None:
    """Return a material, the customer whose it is if it is not the shop's, and the newest bulk density of a price."""
    priced = select(Price.bulk_kg_m3).where(col(Price.material_id) == material_id, col(Price.bulk_kg_m3).is_not(None))
    newest = priced.order_by(col(Price.valid_from).desc()).limit(1).scalar_subquery()
    question = select(Material, Customer, newest).outerjoin(Customer, col(Customer.id) == col(Material.customer_id))
    found = session.exec(question.where(Material.id == material_id)).one_or_none()
    return (found[0], found[1], found[2]) if found is not None else None


def named_like(session: Session, words: str, *, most: int) -> list[tuple[Material, Customer | None]]:
    """Return materials in use whose name holds some words, the customers' soils too, by name."""
    # For LIKE in SQLite small and capital letters are one anyway; to make them so first takes two thirds of the time.
    is_sqlite, name = session.get_bind().dialect.name == "sqlite", col(Material.name)
    holds = name.contains(words, autoescape=True) if is_sqlite else name.icontains(words, autoescape=True)
    question = select(Material, Customer).outerjoin(Customer, col(Customer.id) == col(Material.customer_id))
    question = question.where(holds, col(Material.ended_at).is_(None))
    return [(one, whose) for one, whose in session.exec(question.order_by(col(Material.name)).limit(most))]


class SackOfMaterial(NamedTuple):
    """A sack with the job it came for and what was done to it before testing."""

    receipt: Receipt
    job: Job
    preparation: Preparation | None


def receipts_of_material(session: Session, material_id: UUID) -> list[SackOfMaterial]:
    """Return every sack of a material with its job and preparation, in order of arrival."""
    return [SackOfMaterial(*row) for row in session.exec(_sacks_of([material_id]))]


def _sacks_of(material_ids: Collection[UUID]) -> Any:
    return (
        select(Receipt, Job, Preparation)
        .join(Job, col(Job.id) == col(Receipt.job_id))
        .outerjoin(
            Preparation,
            and_(col(Preparation.receipt_id) == col(Receipt.id), col(Preparation.ended_at).is_(None)),
        )
        .where(col(Receipt.material_id).in_(material_ids))
        .order_by(col(Receipt.received_at), col(Receipt.label))
    )


def soils_of_customer(session: Session, customer_id: UUID, *, most: int) -> tuple[list[Material], int]:
    """Return the newest soils of a customer that are in use, by the index of the customer, and how many there are."""
    mine = (col(Material.customer_id) == customer_id, col(Material.ended_at).is_(None))
    total = select(func.count()).select_from(Material).where(*mine).scalar_subquery()
    question = select_many(Material, total).where(*mine).order_by(col(Material.created_at).desc(), col(Material.id))
    found = session.execute(question.limit(most)).all()
    return [material for material, _ in found], found[0][1] if found else 0


def sacks_of_materials(session: Session, material_ids: Collection[UUID]) -> list[SackOfMaterial]:
    """Return every sack of some materials with its job and preparation, in order of arrival."""
    return [SackOfMaterial(*row) for row in session.exec(_sacks_of(material_ids))]


def receipt_with_material(session: Session, receipt_id: UUID) -> tuple[Receipt, Material] | None:
    """Return one sack with what is in it."""
    question = select(Receipt, Material).join(Material, col(Material.id) == col(Receipt.material_id))
    found = session.exec(question.where(Receipt.id == receipt_id)).one_or_none()
    return (found[0], found[1]) if found is not None else None


def receipt_by_label(session: Session, label: str) -> Receipt | None:
    """Return the sack that carries a label."""
    return session.exec(select(Receipt).where(Receipt.label == label)).one_or_none()


def preparations_of_receipt(session: Session, receipt_id: UUID) -> list[Preparation]:
    """Return what was done to a sack, the corrected entries too, oldest first."""
    question = select(Preparation).where(Preparation.receipt_id == receipt_id)
    return list(session.exec(question.order_by(col(Preparation.created_at))))
