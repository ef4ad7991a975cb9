"""What every act of the intake asks of what it is given, and how it is kept."""

from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.errors import Invalid, NotFound
from service.records.base import Raw
from service.records.corrections import Correction, amend
from service.records.jobs import Job
from service.records.materials import Material
from service.trade.validation import require
from service.typed import Typed

Quantities = Mapping[str, Typed | None]

NO_REASON = "Give a reason."


def columns_of(given: Quantities) -> dict[str, Any]:
    """Return the columns of a raw row: quantities in their fixed units and, beside them, what was typed."""
    values = {name: typed.value for name, typed in given.items() if typed is not None}
    return {**values, "as_read": as_read(given)}


def as_read(given: Quantities) -> dict[str, dict[str, str]]:
    """Return what the raw tables keep of quantities, word for word."""
    return {name: typed.as_read() for name, typed in given.items() if typed is not None}


def require_sides(given: Quantities, *, positive: Iterable[str] = (), not_negative: Iterable[str] = ()) -> None:
    """Refuse given quantities on the wrong side of zero; what was left out is nobody's fault."""
    values = {name: typed.value for name, typed in given.items() if typed is not None}
    require(
        positive={name: values[name] for name in positive if name in values},
        not_negative={name: values[name] for name in not_negative if name in values},
    )


def the_job(session: Session, job_id: UUID) -> Job:
    """Return a job that is there."""
    job = session.get(Job, job_id)
    if job is None:
        raise NotFound("There is no such job.")
    return job


def the_material(session: Session, material_id: UUID) -> Material:
    """Return a material that is there."""
    material = session.get(Material, material_id)
    if material is None:
        raise NotFound("There is no such soil or material.")
    return material


def needs_reason(because: str | None) -> str:
    """Return the reason of a correction."""
    if because is None or not because.strip():
        raise Invalid("Give a reason.", {"because": NO_REASON})
    return because.strip()


def correct(
    session: Session, caller: Caller, row: Raw, *, values: Mapping[str, Any], typed: Quantities, because: str
) -> Correction:
    """Give a row the values that differ from its own, and keep the old ones beside the reason."""
    reason = needs_reason(because)
    wanted = {**values, **{name: one.value if one is not None else None for name, one in typed.items()}}
    changes = {name: value for name, value in wanted.items() if getattr(row, name) != value}
    if not changes:
        raise Invalid("Nothing changed.", {"because": "All values are the same as before."})
    read = {name: text for name, text in as_read(typed).items() if name in changes}
    return amend(session, row, changes, as_read=read, at=caller.stores.clock(), by=caller.doer, because=reason)
