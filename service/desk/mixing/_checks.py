"""What every act at the mixer and the press asks of what it is given."""

from collections.abc import Mapping
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import Caller
from service.errors import Conflict, Invalid, NotFound
from service.records import batch_queries
from service.records.batch_queries import PlacedBatch
from service.typed import Typed


def the_batch(session: Session, caller: Caller, batch_id: UUID, *, lock: bool = False) -> PlacedBatch:
    """Return a batch of a job that the caller may see and that is still open."""
    found = batch_queries.placed_batch(session, batch_id, lock=lock)
    if caller.seen_by not in (None, found.job.customer_id):
        raise NotFound("There is no such batch.")
    return found


def open_batch(session: Session, caller: Caller, batch_id: UUID) -> PlacedBatch:
    """Return a batch to work on, kept from others meanwhile."""
    found = the_batch(session, caller, batch_id, lock=True)
    if found.job.closed_at is not None:
        raise Conflict("This job is finished. Open it again first.")
    return found


def require_above_zero(given: Mapping[str, Typed | None]) -> None:
    """Refuse given quantities that are not above zero, each at its field."""
    faults = {
        name: "This must be above 0." for name, typed in given.items() if typed is not None and not typed.value > 0
    }
    refuse(faults)


def refuse(faults: Mapping[str, str]) -> None:
    """Raise one refusal that names every field at fault, if there is one."""
    if faults:
        only = next(iter(faults.values()))
        raise Invalid(only if len(faults) == 1 else "Check the marked fields.", faults)
