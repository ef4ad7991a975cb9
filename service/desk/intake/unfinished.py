"""Forms of a sack or a soil that are finished another day: kept as typed, shown again, forgotten when sent whole."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.errors import Invalid, NotFound
from service.records import unfinished
from service.records.materials import Material, Receipt
from service.records.unfinished import Unfinished

# The forms that wait for an oven or for clay to settle.
WAIT = ("cans", "flow", "thread", "jar", "hydrometer", "bulk", "sieve", "shrinkage")
MOST_FIELDS = 400


@dataclass(frozen=True)
class Half:
    """A half-filled form: what was typed, when and by whom."""

    typed: Mapping[str, str]
    at: datetime
    by: str


@look("unfinished.of", by=STAFF)
def halves(session: Session, caller: Caller, *, subject_id: UUID) -> dict[str, Half]:
    """Return the half-filled forms of a sack or a soil, by the name of the form."""
    return {
        one.form: Half(one.typed, one.kept_at, person.name)
        for one, person in unfinished.of_subject(session, subject_id)
    }


@act("unfinished.keep", by=STAFF)
def keep(session: Session, caller: Caller, *, subject_id: UUID, form: str, typed: Mapping[str, str]) -> Done:
    """Keep what was typed so far, in the place of what was kept before."""
    if form not in WAIT:
        raise Invalid("This form is sent whole.", {"form": "Fill in all of it."})
    if not any(typed.values()) or len(typed) > MOST_FIELDS:
        raise Invalid("Nothing was typed yet.", {})
    if session.get(Receipt, subject_id) is None and session.get(Material, subject_id) is None:
        raise NotFound("There is no such sack or soil.")
    unfinished.end(session, subject_id, form)
    row = Unfinished(
        subject_id=subject_id, form=form, typed=dict(typed), kept_at=caller.stores.clock(), kept_by=caller.doer
    )
    session.add(row)
    session.flush()
    return Done("unfinished", row.id, {"subject": subject_id, "form": form})
