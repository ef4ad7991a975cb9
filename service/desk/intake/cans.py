"""Cans: how much water is in a sack, several cans at once, each corrected by itself."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.intake._checks import columns_of, needs_reason
from service.errors import Invalid, NotFound
from service.records import unfinished, versions
from service.records.materials import Receipt
from service.records.soil_tests import DRYING, MoistureCan
from service.trade.soil.moisture import Can, moisture_of_can, moisture_of_cans
from service.typed import Typed

MOST_CANS = 40


@dataclass(frozen=True)
class CanGiven:
    """A can on the scale: with damp soil, with the same soil dried, and empty."""

    wet_kg: Typed
    dry_kg: Typed
    can_kg: Typed | None = None


@act("moisture.weigh", by=STAFF)
def weigh_cans(
    session: Session,
    caller: Caller,
    *,
    receipt_id: UUID,
    cans: Sequence[CanGiven],
    method: str,
    temperature_c: Typed | None = None,
    done_at: datetime | None = None,
) -> Done:
    """Save cans of a sack, dried in one go."""
    if session.get(Receipt, receipt_id) is None:
        raise NotFound("There is no such sack.")
    if len(cans) > MOST_CANS:
        raise Invalid("That is more than this form takes.", {"cans": f"At most {MOST_CANS} cans at once."})
    found = moisture_of_cans([_of_trade(can) for can in cans])
    at = caller.clock.past(done_at, field="done_at")
    rows = [_row(caller, can, receipt_id, method=method, temperature_c=temperature_c, at=at) for can in cans]
    session.add_all(rows)
    unfinished.end(session, receipt_id, "cans")
    session.flush()
    return Done("receipt", receipt_id, {"cans": [row.id for row in rows], "moisture": found.moisture})


def _of_trade(can: CanGiven) -> Can:
    return Can(
        wet_kg=can.wet_kg.value, dry_kg=can.dry_kg.value, can_kg=can.can_kg.value if can.can_kg is not None else 0.0
    )


def _row(
    caller: Caller, can: CanGiven, receipt_id: UUID, *, method: str, temperature_c: Typed | None, at: datetime
) -> MoistureCan:
    if method not in DRYING:
        raise Invalid("Choose a way of drying from the list.", {"method": "Choose one from the list."})
    if temperature_c is not None and not 0 < temperature_c.value <= 400:
        raise Invalid("Check the drying temperature.", {"temperature_c": "From 1 to 400 °C."})
    typed = {**vars(can), "temperature_c": temperature_c}
    return MoistureCan(
        receipt_id=receipt_id,
        method=method,
        done_at=at,
        done_by=caller.doer,
        **columns_of(typed),
    )


@act("moisture.correct", by=STAFF)
def correct_can(
    session: Session,
    caller: Caller,
    *,
    can_id: UUID,
    can: CanGiven,
    method: str,
    because: str,
    temperature_c: Typed | None = None,
) -> Done:
    """Put a corrected can in the place of one of a sack, with a reason."""
    former = _can_of_sack(session, can_id)
    reason = needs_reason(because)
    given = _of_trade(can)
    moisture_of_can(wet_kg=given.wet_kg, dry_kg=given.dry_kg, can_kg=given.can_kg)
    receipt_id = former.receipt_id or UUID(int=0)
    row = _row(caller, can, receipt_id, method=method, temperature_c=temperature_c, at=former.done_at)
    versions.replace(session, former, row, at=caller.stores.clock(), by=caller.doer, because=reason)
    return Done("moisture_can", row.id, {"replaces": former.id, "because": reason})


@act("moisture.set_aside", by=STAFF)
def exclude_can(session: Session, caller: Caller, *, can_id: UUID, because: str) -> Done:
    """Let a can of a sack no longer count, with a reason; it stays to be seen."""
    former = _can_of_sack(session, can_id)
    reason = needs_reason(because)
    versions.end(session, former, at=caller.stores.clock(), by=caller.doer, because=reason)
    return Done("moisture_can", former.id, {"because": reason})


def _can_of_sack(session: Session, can_id: UUID) -> MoistureCan:
    can = session.get(MoistureCan, can_id)
    if can is None or can.receipt_id is None:
        raise NotFound("There is no such can.")
    return can
