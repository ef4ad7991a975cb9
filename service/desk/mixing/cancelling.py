"""A batch that was begun by mistake is taken back before anything is weighed into it."""

from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.mixing._checks import open_batch
from service.errors import Conflict, Invalid
from service.records import batches, moisture_trials


@act("batch.cancel", by=STAFF)
def cancel_batch(session: Session, caller: Caller, *, batch_id: UUID, because: str) -> Done:
    """Take back a batch of which nothing was weighed: its soil is free again, and the trail keeps what it was to be."""
    found = open_batch(session, caller, batch_id)
    if not because.strip():
        raise Invalid("Say why you cancel it.", {"because": "Give a reason for cancelling this batch."})
    whole = batches.batch(session, batch_id)
    parts = whole.parts if whole else []
    if found.batch.water_kg is not None or any(part.weighed_kg is not None for part in parts):
        raise Conflict("Something was weighed into this batch already, so you cannot cancel it.")
    if found.batch.number != max(one.number for one in batches.batches_of_recipe(session, found.recipe.id)):
        raise Conflict("A later batch of this recipe was started. Cancel that one first.")
    pot = moisture_trials.pot_of(session, batch_id)
    rows = {"batch": found.batch.model_dump(), "parts": [part.model_dump() for part in parts]}
    rows |= {"pot": pot.model_dump()} if pot else {}
    for row in (*parts, *([pot] if pot else [])):
        session.delete(row)
    session.flush()
    session.delete(found.batch)
    label = f"{found.job.number}-{found.recipe.label}{found.batch.number}"
    return Done("batch", batch_id, {"label": label, "rows": rows, "because": because.strip()})
