"""Sacks: taken in with a label, corrected with a reason, prepared for testing."""

import re
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act
from service.desk.intake._checks import (
    columns_of,
    correct,
    needs_reason,
    require_sides,
    the_job,
    the_material,
)
from service.errors import Invalid, NotFound
from service.records import materials as records
from service.records import outbox, people, versions
from service.records.jobs import Job
from service.records.materials import Material, Preparation, Price, Receipt
from service.typed import Typed, TypedPrice

# A sack that was a slip is undone within this time, and nobody is written to.
SLIPS_LAST = timedelta(minutes=10)
LABEL = re.compile(r"[A-Z0-9][A-Z0-9.-]{0,23}")
TYPED = ("mass_kg", "depth_m")


@dataclass(frozen=True)
class Sack:
    """One sack as it came: what it is called and weighs, where it was dug, how it looks and what is kept of it."""

    label: str
    mass_kg: Typed
    received_at: datetime | None = None
    pit: str | None = None
    dug_by: str | None = None
    dug_on: date | None = None
    depth_m: Typed | None = None
    topsoil_stripped: bool | None = None
    colour: str | None = None
    smell: str | None = None
    roots: str | None = None
    remarks: str | None = None
    retained: str | None = None
    retained_until: date | None = None


@act("receipt.take_in", by=STAFF)
def take_in(
    session: Session,
    caller: Caller,
    *,
    job_id: UUID,
    sack: Sack,
    material_id: UUID | None = None,
    new_soil: str | None = None,
    price: TypedPrice | None = None,
    bag_kg: Typed | None = None,
) -> Done:
    """Take in one sack of a soil, known or new with its price; the label is what stands on it."""
    job = the_job(session, job_id)
    label = _label(session, sack.label, own=None)
    _check(sack, caller.clock.today)
    material = _material(session, job, material_id, new_soil)
    if price is not None and material_id is None:
        _first_price(session, caller, material, price, bag_kg)
    typed = _typed(sack)
    receipt = Receipt(
        job_id=job.id,
        material_id=material.id,
        received_by=caller.doer,
        **_words(caller, sack, label),
        **columns_of(typed),
    )
    session.add(receipt)
    session.flush()
    _tell_customer(session, caller, job)
    return Done("receipt", receipt.id, {"label": label, "material": material.id, "job": job.id})


def _tell_customer(session: Session, caller: Caller, job: Job) -> None:
    event = f"soil received {job.id} {caller.clock.today}"
    if caller.stores.sends_mail and not outbox.has_event(session, event):
        readers = people.people_of_customer(session, job.customer_id)
        outbox.put(
            session,
            readers,
            kind="soil received",
            event=event,
            subject_id=job.id,
            at=caller.clock.now,
            after=SLIPS_LAST,
        )


def _typed(sack: Sack) -> dict[str, Typed | None]:
    return {name: getattr(sack, name) for name in TYPED}


def _words(caller: Caller, sack: Sack, label: str) -> dict[str, Any]:
    words = {name: value for name, value in vars(sack).items() if name not in TYPED}
    received_at = caller.clock.past(sack.received_at, field="received_at")
    return {**words, "label": label, "received_at": received_at}


def _check(sack: Sack, today: date) -> None:
    require_sides(_typed(sack), positive=["mass_kg"], not_negative=["depth_m"])
    if (sack.retained is None) != (sack.retained_until is None):
        field = "retained" if sack.retained is None else "retained_until"
        raise Invalid("Say until when the sample is kept.", {field: "Give the sample and its date, or neither."})
    if sack.dug_on is not None and sack.dug_on > today:
        raise Invalid("This day is still to come.", {"dug_on": "Today or an earlier day."})


def _label(session: Session, text: str, *, own: UUID | None) -> str:
    label = text.strip().upper()
    if not LABEL.fullmatch(label):
        raise Invalid("This label cannot be used.", {"label": "Up to 24 letters, digits, points and hyphens."})
    holder = records.receipt_by_label(session, label)
    if holder is not None and holder.id != own:
        raise Invalid("Another sack has this label.", {"label": "Choose a label that no other sack has."})
    return label


def _material(session: Session, job: Job, material_id: UUID | None, new_soil: str | None) -> Material:
    if material_id is not None and new_soil is not None:
        raise Invalid("One sack holds one soil.", {"new_soil": "Choose a soil or name a new one, not both."})
    if material_id is not None:
        material = the_material(session, material_id)
        if material.customer_id not in (None, job.customer_id) or material.ended_at is not None:
            raise NotFound("There is no such soil or material.")
        return material
    if new_soil is None or not new_soil.strip():
        raise Invalid("What is in the sack?", {"material_id": "Choose what is in it, or name a new soil below."})
    material = Material(kind="soil", name=new_soil, customer_id=job.customer_id)
    session.add(material)
    session.flush()
    return material


def _first_price(session: Session, caller: Caller, material: Material, price: TypedPrice, bag_kg: Typed | None) -> None:
    """Keep what a new soil costs, as said at intake; from then on its price is the owner's to change."""
    read = {**price.as_read(), **({"bag_kg": bag_kg.as_read()} if bag_kg else {})}
    session.add(
        Price(
            material_id=material.id,
            valid_from=caller.clock.today,
            per_kg=price.per_kg,
            bag_kg=bag_kg.value if bag_kg else None,
            bulk_kg_m3=price.bulk_kg_m3.value if price.bulk_kg_m3 else None,
            source="Said at intake" if price.per_kg else "Dug on site",
            as_read=read,
        )
    )


@act("receipt.correct", by=STAFF)
def correct_sack(session: Session, caller: Caller, *, receipt_id: UUID, sack: Sack, because: str) -> Done:
    """Correct what was written down of a sack; the old words stay beside the reason."""
    receipt = _receipt(session, receipt_id)
    _check(sack, caller.clock.today)
    words = _words(caller, sack, _label(session, sack.label, own=receipt.id))
    if sack.received_at is None:
        words["received_at"] = receipt.received_at
    correction = correct(session, caller, receipt, values=words, typed=_typed(sack), because=because)
    return Done("receipt", receipt.id, {"correction": correction.id, "because": correction.because})


def _receipt(session: Session, receipt_id: UUID) -> Receipt:
    receipt = session.get(Receipt, receipt_id)
    if receipt is None:
        raise NotFound("There is no such sack.")
    return receipt


@act("receipt.prepare", by=STAFF)
def prepare(
    session: Session,
    caller: Caller,
    *,
    receipt_id: UUID,
    oversize_mm: Typed | None = None,
    oversize_kg: Typed | None = None,
    oversize_became: str | None = None,
    pulverised: bool = False,
    because: str | None = None,
) -> Done:
    """Keep what was done to a sack before testing; a second entry replaces the first, with a reason."""
    receipt = _receipt(session, receipt_id)
    typed = {"oversize_mm": oversize_mm, "oversize_kg": oversize_kg}
    require_sides(typed, positive=["oversize_mm"], not_negative=["oversize_kg"])
    _check_oversize({**typed, "oversize_became": oversize_became}, sack_kg=receipt.mass_kg)
    row = Preparation(
        receipt_id=receipt.id,
        oversize_became=oversize_became,
        pulverised=pulverised,
        done_at=caller.stores.clock(),
        done_by=caller.doer,
        **columns_of(typed),
    )
    _put_in_place(session, caller, row, because)
    return Done("preparation", row.id, {"receipt": receipt.id, "because": because})


def _check_oversize(given: dict[str, Any], *, sack_kg: float) -> None:
    missing = [name for name, value in given.items() if value is None]
    if missing and len(missing) < len(given):
        sentence = "Fill in size, mass and what you did with it, or none of them."
        raise Invalid(sentence, dict.fromkeys(missing, "Fill this in too, or none of the three."))
    if not missing and given["oversize_kg"].value > sack_kg:
        raise Invalid("That is more than the sack weighed.", {"oversize_kg": "At most the mass of the sack."})


def _put_in_place(session: Session, caller: Caller, row: Preparation, because: str | None) -> None:
    former = [one for one in records.preparations_of_receipt(session, row.receipt_id) if one.ended_at is None]
    if not former:
        session.add(row)
        session.flush()
        return
    reason = needs_reason(because)
    versions.replace(session, former[0], row, at=caller.stores.clock(), by=caller.doer, because=reason)
