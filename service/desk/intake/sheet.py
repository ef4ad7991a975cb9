"""What the intake shows: a job's whole intake, one sack with its cans, and what was asked."""

import json
from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.intake._checks import the_job
from service.desk.intake._judging import CUE_OF_KIND
from service.desk.intake._views import (
    CanView,
    CorrectionView,
    Ended,
    Reading,
    can_view,
    correction_view,
    ended,
    moisture_of,
    reading,
    who,
)
from service.desk.intake.jobs import Measures
from service.desk.intake.sacks import Sack
from service.errors import NotFound
from service.records import corrections, materials, people
from service.records import jobs as job_records
from service.records import soil_tests as tests
from service.records.jobs import JobCriterion
from service.records.materials import Material, Preparation, Receipt
from service.records.soil_tests import MoistureCan, SoilSign, SoilTest
from service.trade.soil.moisture import Moisture, dried_too_hot

ASKED = ("site", "question", "question_kind", "promised_on")
MEASURES = tuple(one.name for one in fields(Measures))
SACK = tuple(one.name for one in fields(Sack))
OVERSIZE = ("oversize_mm", "oversize_kg", "oversize_became", "pulverised")
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
# Soils and sands are sieved and rolled; cement and lime come with a data sheet.
TESTED_KINDS = ("soil", "sand")


@dataclass(frozen=True)
class SackLine:
    """A sack of a job, and how much of its intake is done."""

    id: UUID
    label: str
    material_id: UUID
    material: str
    mass_kg: float
    received_at: datetime
    retained: str | None
    is_prepared: bool
    moisture: Moisture | None


@dataclass(frozen=True)
class SoilLine:
    """A soil of a job: which tests count, and the signs that were found."""

    id: UUID
    name: str
    kind: str
    tests: frozenset[str]
    found: list[str]


@dataclass(frozen=True)
class CriterionLine:
    """A criterion as it was copied to a job."""

    key: str
    name: str
    edition: str


@dataclass(frozen=True)
class Sheet:
    """Everything of a job's intake, with what may go into the next sack and the label it would get."""

    asked: Reading
    criteria: list[CriterionLine]
    sacks: list[SackLine]
    soils: list[SoilLine]
    offered: list[tuple[UUID, str]]
    next_label: str


@dataclass(frozen=True)
class PreparationView:
    """What was done to a sack before testing."""

    reading: Reading
    done_at: datetime
    by: str
    ended: Ended | None


@dataclass(frozen=True)
class SackView:
    """One sack with everything about it, what was corrected too."""

    id: UUID
    job_id: UUID
    material_id: UUID
    material: str
    reading: Reading
    by: str
    moisture: Moisture | None
    cans: list[CanView]
    preparation: PreparationView | None
    former: list[PreparationView]
    corrections: list[CorrectionView]
    too_hot: list[UUID]


@dataclass(frozen=True)
class Asked:
    """What was asked and what it is for, the corrected words too."""

    reading: Reading
    corrections: list[CorrectionView]


@look("job.intake", by=STAFF)
def sheet(session: Session, caller: Caller, *, job_id: UUID) -> Sheet:
    """Return everything of a job's intake."""
    job = the_job(session, job_id)
    receipts = materials.receipts_of_job(session, job.id)
    cans = tests.cans_of_receipts(session, [receipt.id for receipt, _ in receipts])
    prepared = {one.receipt_id for one in materials.preparations_of_job(session, job.id)}
    soils = {material.id: material for _, material in receipts}
    known = tests.tests_with_signs(session, list(soils))
    offered = materials.priced(session, on=caller.clock.today, customer_id=job.customer_id)
    return Sheet(
        reading(job, ASKED + MEASURES),
        [_criterion(one) for one in job_records.criteria_of(session, job.id)],
        [_sack_line(receipt, material, cans, prepared) for receipt, material in receipts],
        [_soil_line(one, known) for one in soils.values() if one.kind in TESTED_KINDS],
        [(one.material.id, one.material.name) for one in offered],
        _next_label(job.number, {receipt.label for receipt, _ in receipts}),
    )


def _criterion(one: JobCriterion) -> CriterionLine:
    return CriterionLine(one.key, json.loads(one.rules)["name"], one.edition)


def _sack_line(receipt: Receipt, material: Material, cans: Sequence[MoistureCan], prepared: set[UUID]) -> SackLine:
    return SackLine(
        receipt.id,
        receipt.label,
        material.id,
        material.name,
        receipt.mass_kg,
        receipt.received_at,
        receipt.retained,
        receipt.id in prepared,
        moisture_of([can for can in cans if can.receipt_id == receipt.id]),
    )


def _soil_line(material: Material, known: Sequence[tuple[SoilTest, SoilSign | None]]) -> SoilLine:
    own = [(test, sign) for test, sign in known if test.material_id == material.id]
    found = [sign.sign for _, sign in own if sign is not None and sign.positive]
    return SoilLine(material.id, material.name, material.kind, frozenset(test.kind for test, _ in own), found)


def _next_label(number: int, taken: set[str]) -> str:
    """Return the first free label of a job: J12-A to J12-Z, then J12-AA and so on."""
    for place in range(len(taken) + 1):
        label = f"J{number}-{_letters(place)}"
        if label not in taken:
            return label
    raise AssertionError("One label more than there are sacks is always free.")


def _letters(place: int) -> str:
    before, last = divmod(place, len(LETTERS))
    return (_letters(before - 1) if before else "") + LETTERS[last]


@look("receipt.show", by=STAFF)
def sack(session: Session, caller: Caller, *, receipt_id: UUID) -> SackView:
    """Return one sack with its cans, its preparation and its corrections."""
    found = materials.receipt_with_material(session, receipt_id)
    if found is None:
        raise NotFound("There is no such sack.")
    receipt, material = found
    cans = tests.cans_of_receipts(session, [receipt.id])
    prepared = materials.preparations_of_receipt(session, receipt.id)
    amended = corrections.corrections_of(session, [receipt.id])
    names = people.names(session, who([receipt, *cans, *prepared, *amended]))
    views = [_preparation_view(one, names) for one in prepared]
    return SackView(
        receipt.id,
        receipt.job_id,
        material.id,
        material.name,
        reading(receipt, SACK),
        names[receipt.received_by],
        moisture_of(cans),
        [can_view(can, names) for can in cans],
        next((one for one in views if one.ended is None), None),
        [one for one in views if one.ended is not None],
        [correction_view(one, names) for one in amended],
        _too_hot(cans, tests.tests_with_signs(session, [material.id])),
    )


def _too_hot(cans: Sequence[MoistureCan], known: Sequence[tuple[SoilTest, SoilSign | None]]) -> list[UUID]:
    """Return the standing cans that were dried hotter than the signs found in their soil allow."""
    signs = [sign.cue or CUE_OF_KIND[test.kind] for test, sign in known if sign is not None and sign.positive]
    dried = [one for one in cans if one.ended_at is None and one.method != "air"]
    return [one.id for one in dried if dried_too_hot(temperature_c=one.temperature_c, signs=signs)]


def _preparation_view(one: Preparation, names: dict[UUID, str]) -> PreparationView:
    return PreparationView(reading(one, OVERSIZE), one.done_at, names[one.done_by], ended(one, names))


@look("job.asked", by=STAFF)
def asked(session: Session, caller: Caller, *, job_id: UUID) -> Asked:
    """Return what was asked, as it stands and as it was before."""
    job = the_job(session, job_id)
    amended = corrections.corrections_of(session, [job.id])
    names = people.names(session, who(amended))
    return Asked(reading(job, ASKED + MEASURES), [correction_view(one, names) for one in amended])
