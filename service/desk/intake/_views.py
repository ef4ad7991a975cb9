"""What the pages of the intake are handed: numbers in fixed units, and beside them what was typed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID

from service.records.base import Raw, Versioned
from service.records.corrections import Correction, before_and_after
from service.records.soil_tests import MoistureCan
from service.trade.soil.moisture import Can, Moisture, moisture_of_can, moisture_of_cans

NOBODY = "somebody"


@dataclass(frozen=True)
class Reading:
    """Some numbers of one row, each in the unit of its name, and what was typed for it."""

    values: dict[str, Any] = field(default_factory=dict)
    typed: dict[str, dict[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Ended:
    """When a reading ceased to count, by whom and why."""

    at: datetime
    by: str
    because: str


@dataclass(frozen=True)
class CanView:
    """A can with the water found in it."""

    id: UUID
    reading: Reading
    method: str
    moisture: float
    done_at: datetime
    by: str
    ended: Ended | None


@dataclass(frozen=True)
class Change:
    """What one column said before a correction and after it."""

    column: str
    before: str
    after: str


@dataclass(frozen=True)
class CorrectionView:
    """A correction: when, by whom, why and of what."""

    at: datetime
    by: str
    because: str
    changes: list[Change]


def reading(row: Raw, columns: Iterable[str]) -> Reading:
    """Return some columns of a raw row with what was typed for them."""
    return Reading({name: getattr(row, name) for name in columns}, dict(row.as_read))


def ended(row: Versioned, names: dict[UUID, str]) -> Ended | None:
    """Return how a reading ceased to count, or None while it stands."""
    if row.ended_at is None or row.ended_by is None:
        return None
    return Ended(row.ended_at, names.get(row.ended_by, NOBODY), row.ended_because or "")


def who(rows: Iterable[Any]) -> set[UUID]:
    """Return everybody whose name is needed to show some rows."""
    columns = ("done_by", "received_by", "ended_by", "corrected_by")
    found = {getattr(row, column, None) for row in rows for column in columns}
    return {one for one in found if one is not None}


def can_view(can: MoistureCan, names: dict[UUID, str]) -> CanView:
    """Return a can as the page shows it."""
    return CanView(
        can.id,
        reading(can, ("wet_kg", "dry_kg", "can_kg", "temperature_c")),
        can.method,
        moisture_of_can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg),
        can.done_at,
        names.get(can.done_by, NOBODY),
        ended(can, names),
    )


def moisture_of(cans: Sequence[MoistureCan]) -> Moisture | None:
    """Return mean and range of the standing cans, or None when none stands."""
    standing = [Can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg) for can in cans if can.ended_at is None]
    return moisture_of_cans(standing) if standing else None


def correction_view(correction: Correction, names: dict[UUID, str]) -> CorrectionView:
    """Return a correction as the page shows it."""
    changes = [
        Change(column, _said(was), _said(became)) for column, (was, became) in before_and_after(correction).items()
    ]
    by = names.get(correction.corrected_by, NOBODY)
    return CorrectionView(correction.corrected_at, by, correction.because, changes)


def _said(told: dict[str, Any]) -> str:
    if told["typed"]:
        return f"{told['typed']['text']} {told['typed']['unit']}"
    value = told["value"]
    return "nothing" if value is None else {True: "yes", False: "no"}.get(value, str(value))
