"""What was really weighed into a batch, and how much water a can of it holds; corrected with a reason."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.mixing._checks import open_batch
from service.errors import Conflict, Invalid, NotFound, of_its_address
from service.records import batch_queries, versions
from service.records.as_read import columns_of, corrected, fill
from service.records.batches import Batch, BatchPart
from service.records.soil_tests import DRYING, MoistureCan
from service.trade.soil.moisture import moisture_of_can
from service.typed import Typed


@act("batch.weigh", by=STAFF)
def weigh(
    session: Session,
    caller: Caller,
    *,
    batch_id: UUID,
    weighed: Sequence[tuple[UUID, Typed]] = (),
    water_kg: Typed | None = None,
    wetted_at: datetime | None = None,
    remark: str | None = None,
) -> Done:
    """Save masses so far; the batch is mixed once everything and the water is in."""
    batch = open_batch(session, caller, batch_id).batch
    parts = {one.part.id: one.part for one in batch_queries.parts_of_batch(session, batch_id)}
    given = dict(weighed)
    if not given and water_kg is None:
        raise Invalid("Nothing was weighed.", {"water_kg": "Write down at least one mass."})
    _check_masses(parts, given, batch, water_kg)
    for part_id, typed in given.items():
        fill(parts[part_id], {"weighed_kg": typed})
    if water_kg is not None:
        fill(batch, {"water_kg": water_kg})
        batch.wetted_at = caller.clock.past(wetted_at, field="wetted_at")
    batch.remark = remark or batch.remark
    if batch.water_kg is not None and all(part.weighed_kg is not None for part in parts.values()):
        batch.mixed_at, batch.mixed_by = batch.wetted_at, caller.doer
    session.add_all([batch, *parts.values()])
    details = {"weighed": len(given), "parts": list(given), "water": water_kg is not None, "mixed": batch.mixed_at}
    return Done("batch", batch.id, details)


def _check_masses(
    parts: Mapping[UUID, BatchPart], given: Mapping[UUID, Typed], batch: Batch, water_kg: Typed | None
) -> None:
    faults = _unknown(parts, given)
    if water_kg is not None and batch.water_kg is not None:
        faults["water_kg"] = "The water was weighed already. Correct it below."
    for part_id in given:
        if part_id in parts and parts[part_id].weighed_kg is not None:
            faults[f"weighed_kg.{part_id}"] = "This was weighed already. Correct it below."
    if faults:
        raise Invalid("Check the marked fields.", faults)


def _unknown(parts: Mapping[UUID, BatchPart], given: Mapping[UUID, Typed]) -> dict[str, str]:
    faults = {f"weighed_kg.{part_id}": "This is not part of the batch." for part_id in given if part_id not in parts}
    return faults | {
        f"weighed_kg.{part_id}": "This must be above 0." for part_id, typed in given.items() if not typed.value > 0
    }


@act("batch.correct", by=STAFF)
def correct_weighing(
    session: Session,
    caller: Caller,
    *,
    batch_id: UUID,
    because: str,
    weighed: Sequence[tuple[UUID, Typed]] = (),
    water_kg: Typed | None = None,
    wetted_at: datetime | None = None,
) -> Done:
    """Correct what was weighed into a batch; the old masses stay beside the reason."""
    batch = open_batch(session, caller, batch_id).batch
    parts = {one.part.id: one.part for one in batch_queries.parts_of_batch(session, batch_id)}
    given = dict(weighed)
    faults = _unknown(parts, given)
    not_yet = [part_id for part_id in given if part_id in parts and parts[part_id].weighed_kg is None]
    faults |= {f"weighed_kg.{part_id}": "This was not weighed yet." for part_id in not_yet}
    if water_kg is not None and batch.water_kg is None:
        faults["water_kg"] = "The water was not weighed yet."
    if faults:
        raise Invalid("Check the marked fields.", faults)
    by: dict[str, Any] = {"at": caller.stores.clock(), "by": caller.doer, "because": because}
    made = [corrected(session, parts[one], typed={"weighed_kg": typed}, words={}, **by) for one, typed in given.items()]
    words = {"wetted_at": caller.clock.past(wetted_at, field="wetted_at")} if wetted_at else {}
    made.append(corrected(session, batch, typed={"water_kg": water_kg} if water_kg else {}, words=words, **by))
    if not any(made):
        raise Invalid("Nothing changed.", {"because": "All values are the same as before."})
    return Done("batch", batch.id, {"corrections": [one.id for one in made if one], "because": because})


@act("batch.weigh_can", by=STAFF)
def weigh_can(
    session: Session,
    caller: Caller,
    *,
    batch_id: UUID,
    wet_kg: Typed,
    dry_kg: Typed,
    can_kg: Typed | None = None,
    method: str = "oven",
    temperature_c: Typed | None = None,
    done_at: datetime | None = None,
) -> Done:
    """Keep a can of the mix, which checks the water by itself."""
    batch = open_batch(session, caller, batch_id).batch
    if method not in DRYING:
        raise Invalid("Choose a way of drying from the list.", {"method": "Choose one from the list."})
    found = moisture_of_can(wet_kg=wet_kg.value, dry_kg=dry_kg.value, can_kg=can_kg.value if can_kg else 0.0)
    typed = {"wet_kg": wet_kg, "dry_kg": dry_kg, "can_kg": can_kg, "temperature_c": temperature_c}
    can = MoistureCan(
        batch_id=batch.id,
        method=method,
        done_at=caller.clock.past(done_at, field="done_at"),
        done_by=caller.doer,
        **columns_of(typed),
    )
    session.add(can)
    session.flush()
    return Done("moisture_can", can.id, {"batch": batch.id, "moisture": found})


@act("batch.set_aside_can", by=STAFF)
def exclude_can(session: Session, caller: Caller, *, can_id: UUID, because: str, batch_id: UUID | None = None) -> Done:
    """Let a can of a mix no longer count, with a reason; it stays to be seen."""
    can = session.get(MoistureCan, can_id)
    if can is None or can.batch_id is None:
        raise NotFound("There is no such can.")
    of_its_address(can.batch_id, batch_id)
    open_batch(session, caller, can.batch_id)
    if not because.strip():
        raise Invalid("Give a reason.", {"because": "Give a reason for excluding this can."})
    if can.ended_at is not None:
        raise Conflict("This can was excluded already.")
    versions.end(session, can, at=caller.stores.clock(), by=caller.doer, because=because.strip())
    return Done("moisture_can", can.id, {"because": because.strip()})
