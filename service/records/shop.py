"""The shop itself: how it writes, and what its own history taught it about scatter."""

from datetime import datetime
from decimal import Decimal
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, false
from sqlmodel import Field, Session, col, select

from service.records.base import Money, Row, Sha256, Table, not_blank, now, one_of, positive
from service.records.customers import LANGUAGES

PAPERS = ("A4", "Letter")
UNITS = ("imperial", "metric")


class Shop(Table, table=True):
    """One row: the shop."""

    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        *not_blank("name", "time_zone"),
        CheckConstraint("length(trim(currency)) = 3", name="currency_code"),
        one_of("paper", PAPERS),
        one_of("units_first", UNITS),
        one_of("language", LANGUAGES),
        CheckConstraint("assurance > 0 AND assurance < 1", name="assurance_open"),
        *positive("margin"),
    )

    id: int = Field(default=1, primary_key=True, sa_column_kwargs={"autoincrement": False})
    created_at: datetime = Field(default_factory=now)
    name: str
    letterhead: str | None = None
    # A name and a telephone, for customers.
    whom_to_call: str = Field(default="", sa_column_kwargs={"server_default": ""})
    logo_sha256: str | None = Field(default=None, sa_type=Sha256, foreign_key="file.sha256")
    time_zone: str
    currency: str = Field(max_length=3)
    paper: str = "A4"
    units_first: str = "metric"
    comma_thousands: bool = Field(default=False, sa_column_kwargs={"server_default": false()})
    language: str = "en"
    assurance: float = 0.95
    margin: float = 0.10
    # For a block mixed, pressed, cured and crushed, and for one calibration of a press; None: nobody has said.
    block_price: Decimal | None = Field(default=None, sa_type=Money)
    calibration_price: Decimal | None = Field(default=None, sa_type=Money)
    owners_need_second_factor: bool = Field(default=False, sa_column_kwargs={"server_default": false()})
    all_need_second_factor: bool = Field(default=False, sa_column_kwargs={"server_default": false()})


class ShopSaid(NamedTuple):
    """What every request asks of the shop: plain columns and no row."""

    name: str
    whom_to_call: str
    time_zone: str
    currency: str
    paper: str
    units_first: str
    comma_thousands: bool
    language: str
    assurance: float
    margin: float
    block_price: Decimal | None
    calibration_price: Decimal | None
    owners_need_second_factor: bool
    all_need_second_factor: bool


def asks_second_factor(shop: Shop | ShopSaid, role: str) -> bool:
    """Return whether somebody of this role does nothing without a second factor."""
    return shop.all_need_second_factor or (role == "owner" and shop.owners_need_second_factor)


class Prior(Row, table=True):
    """What the shop's history says of strength and scatter before a job is crushed; the newest row counts."""

    __table_args__ = (
        *positive("median_mpa", "log_sd", "scatter", "scatter_log_sd", "spread", "spread_log_sd", "batch_sd"),
    )

    adopted_at: datetime
    adopted_by: UUID = Field(foreign_key="person.id")
    median_mpa: float
    log_sd: float
    scatter: float
    scatter_log_sd: float
    spread: float
    spread_log_sd: float
    batch_sd: float
    rests_on: str


def shop(session: Session) -> Shop | None:
    """Return the shop, or None before it was set up."""
    return session.get(Shop, 1)


def prior(session: Session) -> Prior | None:
    """Return the adopted prior, or None for the defaults."""
    return session.exec(select(Prior).order_by(col(Prior.adopted_at).desc()).limit(1)).one_or_none()
