"""What every table shares: identity, stamps, exact money, canonical text and the names of constraints."""

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from functools import cache, lru_cache
from typing import Any, ClassVar
from uuid import UUID, uuid4

from sqlalchemy import (
    JSON,
    BigInteger,
    CheckConstraint,
    Dialect,
    Executable,
    MetaData,
    String,
    Uuid,
    bindparam,
    text,
    type_coerce,
)
from sqlalchemy.orm import aliased, declared_attr
from sqlalchemy.types import CHAR, TypeDecorator, UserDefinedType
from sqlmodel import AutoString, Field, Session, SQLModel
from sqlmodel.sql.sqltypes import UTCDateTime

NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}

# Both databases let infinity through "> 0", and PostgreSQL lets NaN through as well. Nothing a bench measures
# reaches this.
BEYOND_MEASURE = "1e9"

MILLIONTHS = Decimal(1_000_000)

# So far apart the clocks of one shop's machines may be; what is dated later than that was dated by a clock that ran
# ahead, and counts as absent.
CLOCKS_DIFFER_BY = timedelta(minutes=5)

# Any number of identities, of a statement that is written down once: writing it takes as long as asking it.
IDS: Any = bindparam("ids", expanding=True, type_=Uuid())


class Money(TypeDecorator[Decimal]):
    """An exact amount in the shop's currency, kept as whole millionths so that both databases sort and sum it."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        if value is None:
            return None
        millionths = value * MILLIONTHS
        if millionths != millionths.to_integral_value():
            raise ValueError("Money is kept to six decimals.")
        return int(millionths)

    def process_result_value(self, value: int | None, dialect: Dialect) -> Decimal | None:
        return None if value is None else Decimal(value) / MILLIONTHS


class AsRead(TypeDecorator[dict[str, dict[str, str]]]):
    """What was typed, word for word: ``{"column": {"text": "7.25", "unit": "lb"}}``."""

    impl = JSON
    cache_ok = True

    def __init__(self) -> None:
        super().__init__(none_as_null=True)

    def process_bind_param(self, value: Mapping[str, Mapping[str, str]] | None, dialect: Dialect) -> Any:
        for column, typed in (value or {}).items():
            if set(typed) != {"text", "unit"}:
                raise ValueError(f"What was typed for {column} is a text and a unit.")
        return value


class Sha256(TypeDecorator[str]):
    """A digest in 64 hexadecimal digits."""

    impl = CHAR(64)
    cache_ok = True


@lru_cache(maxsize=2**15)
def _identity(digits: str | None) -> UUID | None:
    return None if digits is None else UUID(digits)


@lru_cache(maxsize=2**15)
def _moment(written: str | None) -> datetime | None:
    return None if written is None else datetime.fromisoformat(written).replace(tzinfo=UTC)


class _Identity(Uuid[UUID]):
    """An identity that comes out many times: made once of the digits that SQLite gives."""

    cache_ok = True

    def result_processor(self, dialect: Dialect, coltype: object) -> Any:
        return _identity if dialect.name == "sqlite" else None


class _Moment(UserDefinedType[datetime]):
    """A moment that comes out many times, likewise."""

    cache_ok = True

    def result_processor(self, dialect: Dialect, coltype: object) -> Any:
        return _moment if dialect.name == "sqlite" else _in_utc


def _in_utc(moment: datetime | None) -> datetime | None:
    return None if moment is None else moment.astimezone(UTC)


def plain(*columns: Any) -> list[Any]:
    """Return columns for ``plain_rows``: a queue of a thousand blocks names the same jobs, groups and hours in each.

    Making each of them anew takes longer than the database needs to find them.
    """
    swift: dict[type[Any], Any] = {Uuid: _Identity(), UTCDateTime: _Moment(), AutoString: String()}
    return [type_coerce(one, swift[type(one.type)]) if type(one.type) in swift else one for one in columns]


class Table(SQLModel):
    """A table named after its class in small letters: SoilTest is ``soil_test``."""

    model_config = {"defer_build": True}
    metadata: ClassVar[MetaData] = MetaData(naming_convention=NAMES)

    @declared_attr.directive
    @classmethod
    def __tablename__(cls) -> str:
        return re.sub(r"(?<!^)(?=[A-Z])", "_", cls.__name__).lower()


def now() -> datetime:
    """Return this moment, aware and in UTC."""
    return datetime.now(UTC)


class Row(Table):
    """A row with an identity of its own, stamped when it was written (when something happened is another column)."""

    id: UUID = Field(default_factory=uuid4, primary_key=True)
    created_at: datetime = Field(default_factory=now)


class Raw(Row):
    """A row of typed quantities: SI in its columns, and beside them what was typed."""

    as_read: dict[str, dict[str, str]] = Field(sa_type=AsRead)


class Entered(Raw):
    """A row of typed quantities of which the older ones were kept without what was typed."""

    as_read: dict[str, dict[str, str]] = Field(
        default_factory=dict, sa_type=AsRead, sa_column_kwargs={"server_default": text("'{}'")}
    )


class Versioned(Raw):
    """A reading that is corrected by a new row; it stands while ``ended_at`` is empty."""

    ended_at: datetime | None = None
    ended_by: UUID | None = Field(default=None, foreign_key="person.id")
    ended_because: str | None = None
    replaces_id: UUID | None = Field(default=None, unique=True)


@cache
def another(table: Any) -> Any:
    """Return the one other name of a table, for a statement that has it already; naming its columns anew takes long."""
    return aliased(table)


def plain_rows(session: Session, question: Executable, given: Mapping[str, Any] | None = None) -> Any:
    """Return what a question for columns alone finds, without what a session does for objects: a third of the cost."""
    session.flush()
    return session.connection().execute(question, given)


def canonical(value: Any) -> str:
    """Return the one JSON text of a value, fit to be hashed: sorted keys, no spaces, no NaN."""
    return _ENCODER.encode(value)


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {name: getattr(value, name) for name in _names(type(value))}
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, frozenset | set):
        return sorted(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat(timespec="microseconds")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, UUID | Decimal):
        return str(value)
    raise TypeError(f"{type(value).__name__} has no canonical text.")


@cache
def _names(kind: type[Any]) -> tuple[str, ...]:
    """Return the names of the fields of a dataclass; looking them up anew is half of writing one down."""
    return tuple(one.name for one in fields(kind))


# Made once: the trail, the answers that are kept and every row of an archive pass here.
_ENCODER = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False, default=_plain)


def positive(*columns: str) -> list[CheckConstraint]:
    """Return one check per column: above zero and finite."""
    return [CheckConstraint(f"{c} > 0 AND {c} < {BEYOND_MEASURE}", name=f"{c}_positive") for c in columns]


def not_negative(*columns: str) -> list[CheckConstraint]:
    """Return one check per column: zero or above, and finite."""
    return [CheckConstraint(f"{c} >= 0 AND {c} < {BEYOND_MEASURE}", name=f"{c}_not_negative") for c in columns]


def finite(*columns: str) -> list[CheckConstraint]:
    """Return one check per column: a number of either sign, and finite."""
    edges = "{c} > -{edge} AND {c} < {edge}"
    return [CheckConstraint(edges.format(c=c, edge=BEYOND_MEASURE), name=f"{c}_finite") for c in columns]


def fraction(*columns: str) -> list[CheckConstraint]:
    """Return one check per column: above zero, at most one."""
    return [CheckConstraint(f"{c} > 0 AND {c} <= 1", name=f"{c}_fraction") for c in columns]


def not_blank(*columns: str) -> list[CheckConstraint]:
    """Return one check per column: a text with something in it."""
    return [CheckConstraint(f"trim({c}) <> ''", name=f"{c}_not_blank") for c in columns]


def one_of(column: str, values: tuple[str, ...]) -> CheckConstraint:
    """Return the check that a column holds one of the words."""
    words = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({words})", name=f"{column}_known")


def exactly_one(*columns: str) -> CheckConstraint:
    """Return the check that one of the columns is filled, and only one."""
    filled = " + ".join(f"CASE WHEN {c} IS NULL THEN 0 ELSE 1 END" for c in columns)
    return CheckConstraint(f"{filled} = 1", name="belongs_to_one")


def together(*columns: str) -> CheckConstraint:
    """Return the check that the columns are all filled or all empty."""
    first, *others = columns
    same = " AND ".join(f"({first} IS NULL) = ({c} IS NULL)" for c in others)
    return CheckConstraint(same, name=f"{first}_together")
