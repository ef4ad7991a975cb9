"""The moisture trial of a job: blocks pressed alike at three moistures or more, and the one that became densest."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.errors import Forbidden, Invalid, NotFound, of_its_address
from service.records import jobs, people, versions
from service.records import moisture_trials as records
from service.records.as_read import as_read
from service.records.moisture_trials import MoistureTrial
from service.trade.block.measurements import block_volume_m3, dry_density_kg_m3
from service.trade.mix.best_moisture import Best, best_moisture
from service.trade.validation import require
from service.typed import Typed

# A pressed block of earth is lighter than rock and heavier than loose soil.
LEAST_KG_M3, MOST_KG_M3 = 800.0, 2800.0


@dataclass(frozen=True)
class TriedBlock:
    """One block of the trial."""

    id: UUID
    moisture: float
    wet_mass_kg: float
    dry_density_kg_m3: float
    made_at: datetime
    by: str
    ended_because: str | None


@dataclass(frozen=True)
class MoistureSheet:
    """The blocks tried and what they say."""

    job_id: UUID
    blocks: list[TriedBlock]
    best: Best


@look("plan.moisture", by=STAFF)
def trial(session: Session, caller: Caller, *, job_id: UUID) -> MoistureSheet:
    """Return the blocks of the moisture trial and the moisture that gave the densest."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    rows = records.moisture_trials(session, job.id)
    names = people.names(session, {one.made_by for one in rows})
    blocks = [_block(one, names) for one in rows]
    counting = [(one.moisture, one.dry_density_kg_m3) for one in blocks if one.ended_because is None]
    return MoistureSheet(job.id, blocks, best_moisture(counting))


def _block(row: MoistureTrial, names: dict[UUID, str]) -> TriedBlock:
    return TriedBlock(
        row.id,
        row.moisture,
        row.wet_mass_kg,
        _dry_density(row),
        row.made_at,
        names.get(row.made_by, "somebody"),
        row.ended_because,
    )


def _dry_density(row: MoistureTrial) -> float:
    volume = block_volume_m3(length_mm=row.length_mm, width_mm=row.width_mm, heights_mm=[row.height_mm])
    return dry_density_kg_m3(wet_mass_kg=row.wet_mass_kg, moisture=row.moisture, volume_m3=volume)


@act("plan.try_moisture", by=STAFF)
def try_moisture(
    session: Session,
    caller: Caller,
    *,
    job_id: UUID,
    moisture: Typed,
    wet_mass_kg: Typed,
    length_mm: Typed,
    width_mm: Typed,
    height_mm: Typed,
) -> Done:
    """Keep a block pressed at one moisture."""
    job = jobs.visible(session, job_id, seen_by=caller.seen_by)
    if caller.person_id is None:
        raise Forbidden("A reading is taken by a person.")
    given = {
        "moisture": moisture,
        "wet_mass_kg": wet_mass_kg,
        "length_mm": length_mm,
        "width_mm": width_mm,
        "height_mm": height_mm,
    }
    values: dict[str, Any] = {name: typed.value for name, typed in given.items()}
    require(positive=values)
    row = MoistureTrial(
        job_id=job.id,
        **values,
        as_read=as_read(given),
        made_at=caller.stores.clock(),
        made_by=caller.person_id,
    )
    density = _dry_density(row)
    if not LEAST_KG_M3 <= density <= MOST_KG_M3:
        sentence = "No block of this mass has these sides. Check the units."
        raise Invalid(sentence, {"wet_mass_kg": "This and the sides cannot belong to one pressed block."})
    session.add(row)
    session.flush()
    return Done("moisture_trial", row.id, {"job": job.id, "dry_density_kg_m3": density, **values})


@act("plan.set_aside_moisture", by=STAFF)
def exclude(session: Session, caller: Caller, *, trial_id: UUID, because: str, job_id: UUID | None = None) -> Done:
    """Let a block of the trial no longer count, with a reason."""
    row = session.get(MoistureTrial, trial_id)
    if row is None:
        raise NotFound("There is no such block.")
    of_its_address(row.job_id, job_id)
    jobs.visible(session, row.job_id, seen_by=caller.seen_by)
    if caller.person_id is None or not because.strip():
        raise Invalid("Give a reason.", {"because": "Give a reason."})
    versions.end(session, row, at=caller.stores.clock(), by=caller.person_id, because=because.strip())
    return Done("moisture_trial", row.id, {"because": because.strip()})
