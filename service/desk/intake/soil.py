"""One soil: its curve, its limits, its shrinkage, its water and its signs, worked out from the tests that stand."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.intake._checks import the_material
from service.desk.intake._views import Ended, Reading, ended, moisture_of, reading, who
from service.records import materials, people, tests
from service.records.jobs import Job
from service.records.materials import Receipt
from service.records.tests import FlowReading, MoistureCan, ShrinkageTest, ThreadReading, WholeTest
from service.trade.grading import Curve, Description, Sieve, describe, sieve_curve
from service.trade.moisture import Moisture, moisture_of_can
from service.trade.plasticity import Flow, FlowPoint, Limits, limits_of, linear_shrinkage, liquid_limit

GRAMS_PER_KG = 1000.0
SIEVE_HEAD = ("dry_mass_g", "washed_dry_mass_g", "pan_g")
BOX = ("box_length_mm", "box_width_mm", "box_depth_mm", "shrinkage_mm")
SIGN_KINDS = ("organic", "salts")


@dataclass(frozen=True)
class TestView:
    """A test as it was read: what belongs to the whole of it, and its rows."""

    id: UUID
    kind: str
    head: Reading
    rows: list[Reading]
    non_plastic: bool
    remark: str | None
    receipt_id: UUID | None
    sack: str | None
    done_at: datetime
    by: str
    ended: Ended | None


@dataclass(frozen=True)
class SackOfSoil:
    """A sack in which this soil came."""

    id: UUID
    label: str
    job_id: UUID
    job_number: int
    mass_kg: float
    received_at: datetime
    moisture: Moisture | None


@dataclass(frozen=True)
class Grading:
    """The curve of the newest sieving that stands."""

    test_id: UUID
    curve: Curve
    described: Description
    loss_share: float
    washed: bool


@dataclass(frozen=True)
class Plasticity:
    """What the newest cup and threads say; whole limits need both."""

    flow: Flow | None
    plastic_limit: float | None
    non_plastic: bool
    limits: Limits | None


@dataclass(frozen=True)
class SoilView:
    """A soil with everything that is known of it; the newest standing test of each kind counts."""

    id: UUID
    name: str
    kind: str
    customer_id: UUID | None
    customer: str | None
    sacks: list[SackOfSoil]
    grading: Grading | None
    plasticity: Plasticity
    shrinkage: float | None
    standing: dict[str, list[TestView]]
    former: list[TestView]

    @property
    def signs_found(self) -> list[str]:
        """The signs of organics and salts that were there."""
        signs = [test.head.values for kind in SIGN_KINDS for test in self.standing.get(kind, [])]
        return [str(sign["sign"]) for sign in signs if sign["positive"]]


@look("soil.show", by=STAFF)
def soil(session: Session, caller: Caller, *, material_id: UUID) -> SoilView:
    """Return a soil with all its tests."""
    material = the_material(session, material_id)
    customer = people.customer(session, material.customer_id) if material.customer_id else None
    sacks = materials.receipts_of_material(session, material.id)
    cans = tests.cans_of_receipts(session, [receipt.id for receipt, _ in sacks])
    whole = tests.all_tests(session, [material.id])
    names = people.names(session, who([one.test for one in whole]))
    labels = {receipt.id: receipt.label for receipt, _ in sacks}
    newest = {one.test.kind: one for one in whole if one.test.ended_at is None}
    standing: dict[str, list[TestView]] = defaultdict(list)
    for one in whole:
        if one.test.ended_at is None:
            standing[one.test.kind].insert(0, _test_view(one, names, labels))
    return SoilView(
        material.id,
        material.name,
        material.kind,
        material.customer_id,
        customer.name if customer is not None else None,
        [_sack(receipt, job, cans) for receipt, job in sacks],
        _grading(newest.get("sieve")),
        _plasticity(newest.get("flow"), newest.get("thread")),
        _shrinkage(newest.get("shrinkage")),
        dict(standing),
        [_test_view(one, names, labels) for one in reversed(whole) if one.test.ended_at is not None],
    )


def _sack(receipt: Receipt, job: Job, cans: Sequence[MoistureCan]) -> SackOfSoil:
    return SackOfSoil(
        receipt.id,
        receipt.label,
        job.id,
        job.number,
        receipt.mass_kg,
        receipt.received_at,
        moisture_of([can for can in cans if can.receipt_id == receipt.id]),
    )


def _grading(whole: WholeTest | None) -> Grading | None:
    if whole is None or whole.sieve is None:
        return None
    analysis = sieve_curve(
        sieves=[Sieve(one.size_mm, one.retained_g) for one in whole.sieves],
        pan_g=whole.sieve.pan_g,
        dry_mass_g=whole.sieve.dry_mass_g,
        washed_dry_mass_g=whole.sieve.washed_dry_mass_g,
    )
    washed = whole.sieve.washed_dry_mass_g is not None
    return Grading(whole.test.id, analysis.curve, describe(analysis.curve), analysis.loss_share, washed)


def _plasticity(cup: WholeTest | None, rolled: WholeTest | None) -> Plasticity:
    points = [FlowPoint(one.blows, _water(one)) for one in cup.flows] if cup is not None else []
    threads = [_water(one) for one in rolled.threads] if rolled is not None else []
    non_plastic = rolled is not None and rolled.test.non_plastic
    known = bool(points) and (bool(threads) or non_plastic)
    return Plasticity(
        flow=liquid_limit(points) if points else None,
        plastic_limit=sum(threads) / len(threads) if threads else None,
        non_plastic=non_plastic,
        limits=limits_of(flow=points, plastic=threads or None) if known else None,
    )


def _water(can: FlowReading | ThreadReading) -> float:
    wet, dry, empty = (mass / GRAMS_PER_KG for mass in (can.wet_g, can.dry_g, can.can_g))
    return moisture_of_can(wet_kg=wet, dry_kg=dry, can_kg=empty)


def _shrinkage(whole: WholeTest | None) -> float | None:
    box: ShrinkageTest | None = whole.shrinkage if whole is not None else None
    if box is None:
        return None
    return linear_shrinkage(box_length_mm=box.box_length_mm, shrinkage_mm=box.shrinkage_mm)


def _test_view(whole: WholeTest, names: dict[UUID, str], labels: dict[UUID, str]) -> TestView:
    test = whole.test
    return TestView(
        test.id,
        test.kind,
        _head(whole),
        _rows(whole),
        test.non_plastic,
        test.remark,
        test.receipt_id,
        labels.get(test.receipt_id) if test.receipt_id else None,
        test.done_at,
        names[test.done_by],
        ended(test, names),
    )


def _head(whole: WholeTest) -> Reading:
    if whole.sieve is not None:
        return reading(whole.sieve, SIEVE_HEAD)
    if whole.shrinkage is not None:
        return reading(whole.shrinkage, BOX)
    return reading(whole.sign, ("positive", "sign")) if whole.sign is not None else Reading()


def _rows(whole: WholeTest) -> list[Reading]:
    sieves = [reading(one, ("size_mm", "retained_g")) for one in whole.sieves]
    cups = [_with_water(one, ("blows", "wet_g", "dry_g", "can_g")) for one in whole.flows]
    return [*sieves, *cups, *(_with_water(one, ("wet_g", "dry_g", "can_g")) for one in whole.threads)]


def _with_water(can: FlowReading | ThreadReading, columns: tuple[str, ...]) -> Reading:
    read = reading(can, columns)
    return Reading({**read.values, "water": _water(can)}, read.typed)
