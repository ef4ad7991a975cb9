"""One soil: its curve, its limits, its shrinkage, its water and its signs, worked out from the tests that stand."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.intake._judging import (
    ClassLine,
    EnvelopeLine,
    Judged,
    bands_of,
    classed,
    dry_densities,
    grade,
    held_against,
    judged,
    measured,
    signs_of,
)
from service.desk.intake._views import Ended, Reading, ended, moisture_of, reading
from service.errors import NotFound
from service.measured.cup import flow_points, water_of
from service.records import criteria, materials, soil_tests
from service.records.jobs import Job
from service.records.materials import Receipt
from service.records.soil_tests import FlowReading, MoistureCan, ShrinkageTest, ThreadReading, WholeTest
from service.trade.soil.fines import organic_by_drying
from service.trade.soil.grading import Curve, Description, Passing, describe
from service.trade.soil.joined_curve import Graded
from service.trade.soil.moisture import Moisture
from service.trade.soil.plasticity import Flow, Limits, limits_of, linear_shrinkage, liquid_limit
from service.trade.soil.settling_jar import Layers, layers_in_jar
from service.trade.soil.soil_limits import LossLimit

OVEN_DRIED = "flow, oven-dried"
SIEVE_HEAD = ("dry_mass_g", "washed_dry_mass_g", "pan_g")
BOX = ("box_length_mm", "box_width_mm", "box_depth_mm", "shrinkage_mm")
SUSPENSION = ("dry_mass_g", "specific_gravity", "separation_mm", "volume_l", "meniscus", "dispersant")
LAYERS = ("gravel_mm", "sand_mm", "silt_mm", "clay_mm")
VESSEL = ("filled_kg", "vessel_kg", "volume_l", "damp")
SIGN_KINDS = ("organic", "salts")
ORGANIC_FINES = "the liquid limit falls below three quarters in the oven"


@dataclass(frozen=True)
class TestView:
    """A test as it was read: what belongs to the whole of it, and its rows."""

    id: UUID
    kind: str
    head: Reading
    rows: list[Reading]
    non_plastic: bool
    oven_dried: bool
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
    """The curve of the newest sieving that counts, with the newest hydrometer below it."""

    test_id: UUID
    curve: Curve
    described: Description
    loss_share: float
    loss_limit: LossLimit
    washed: bool
    by_hydrometer: tuple[Passing, ...]
    as_dug: Curve | None
    taken_off_share: float
    remarks: tuple[str, ...]

    @property
    def too_much_lost(self) -> bool:
        """Whether more was lost, or more was found, than the shop allows."""
        return abs(self.loss_share) > self.loss_limit.high


@dataclass(frozen=True)
class BulkDensity:
    """The bulk density of a material, damp or dry."""

    damp: bool
    kg_l: float


@dataclass(frozen=True)
class Plasticity:
    """What the newest cup and threads say; whole limits need both."""

    flow: Flow | None
    oven_dried_limit: float | None
    plastic_limit: float | None
    non_plastic: bool
    limits: Limits | None

    @property
    def organic(self) -> bool:
        """Whether the fines lose so much of their limit in the oven that they are organic."""
        fresh, dried = self.flow.liquid_limit if self.flow else None, self.oven_dried_limit
        if fresh is None or dried is None:
            return False
        return organic_by_drying(liquid_limit=fresh, liquid_limit_oven_dried=dried)


@dataclass(frozen=True)
class SoilView:
    """A soil with everything that is known of it; the newest test of each kind counts."""

    id: UUID
    name: str
    kind: str
    customer_id: UUID | None
    customer: str | None
    sacks: list[SackOfSoil]
    grading: Grading | None
    plasticity: Plasticity
    shrinkage: float | None
    jar: Layers | None
    bulk_densities: list[BulkDensity]
    # Loose and dry, as it was typed with the newest price.
    priced_kg_m3: float | None
    envelopes: list[EnvelopeLine]
    soil_class: ClassLine
    judged: Judged
    standing: dict[str, list[TestView]]
    former: list[TestView]

    @property
    def signs_found(self) -> list[str]:
        """The signs of organics and salts that were there."""
        signs = [test.head.values for kind in SIGN_KINDS for test in self.standing.get(kind, [])]
        found = [str(sign["sign"]) for sign in signs if sign["positive"]]
        return [*found, ORGANIC_FINES] if self.plasticity.organic else found


@look("soil.show", by=STAFF)
def soil(session: Session, caller: Caller, *, material_id: UUID) -> SoilView:
    """Return a soil with all its tests."""
    placed = materials.with_customer(session, material_id)
    if placed is None:
        raise NotFound("There is no such soil or material.")
    material, customer, priced_kg_m3 = placed
    sacks = materials.receipts_of_material(session, material.id)
    cans = soil_tests.cans_of_receipts(session, [one.receipt.id for one in sacks])
    whole = soil_tests.all_tests(session, [material.id])
    bands = bands_of(criteria.own_bands(session))
    labels = {one.receipt.id: one.receipt.label for one in sacks}
    counting = [one for one in whole if one.test.ended_at is None]
    newest = {_place(one): one for one in counting}
    standing: dict[str, list[TestView]] = defaultdict(list)
    for one in counting:
        standing[one.test.kind].insert(0, _test_view(one, labels))
    found = grade(newest.get("sieve"), newest.get("hydrometer"), sacks)
    plasticity, shrinkage = _plasticity(newest), _shrinkage(newest.get("shrinkage"))
    signs = signs_of(counting)
    if plasticity.organic:
        signs.append("organics")
    index = plasticity.limits.plasticity_index if plasticity.limits else 0.0 if plasticity.non_plastic else None
    dry = [one for one in counting if one.bulk is not None and not one.bulk.damp]
    cement = soil_tests.bulk_densities(session, kinds=["cement"]) if dry else []
    return SoilView(
        material.id,
        material.name,
        material.kind,
        material.customer_id,
        customer.name if customer is not None else None,
        [_sack(one.receipt, one.job, cans) for one in sacks],
        _grading(newest["sieve"], found, bands.loss) if found else None,
        plasticity,
        shrinkage,
        _layers(newest.get("jar")),
        _bulk_densities(counting),
        priced_kg_m3,
        held_against(found, bands),
        classed(
            found,
            plasticity.limits,
            non_plastic=plasticity.non_plastic,
            oven_dried_limit=plasticity.oven_dried_limit,
        ),
        judged(
            measured(found, shrinkage, index),
            signs,
            bands,
            newest["shrinkage"].shrinkage if "shrinkage" in newest else None,
            dry_densities(cement, soil=dry[-1] if dry else None),
        ),
        dict(standing),
        [_test_view(one, labels) for one in reversed(whole) if one.test.ended_at is not None],
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


def _grading(sieved: WholeTest, found: Graded, loss: LossLimit) -> Grading:
    return Grading(
        sieved.test.id,
        found.curve,
        describe(found.curve),
        found.loss_share,
        loss,
        found.washed,
        found.by_hydrometer,
        found.as_dug,
        1 - found.as_dug.points[0].share if found.as_dug else 0.0,
        found.remarks,
    )


def _layers(whole: WholeTest | None) -> Layers | None:
    jar = whole.jar if whole is not None else None
    if jar is None:
        return None
    return layers_in_jar(gravel_mm=jar.gravel_mm, sand_mm=jar.sand_mm, silt_mm=jar.silt_mm, clay_mm=jar.clay_mm)


def _bulk_densities(counting: Sequence[WholeTest]) -> list[BulkDensity]:
    newest = {one.bulk.damp: BulkDensity(one.bulk.damp, one.bulk.kg_l) for one in counting if one.bulk is not None}
    return [newest[damp] for damp in (True, False) if damp in newest]


def _place(whole: WholeTest) -> str:
    """Return what a test competes for: the newest of each counts, and a dried cup stands beside a fresh one."""
    return OVEN_DRIED if whole.oven_dried else whole.test.kind


def _plasticity(newest: Mapping[str, WholeTest]) -> Plasticity:
    points, dried, rolled = flow_points(newest.get("flow")), flow_points(newest.get(OVEN_DRIED)), newest.get("thread")
    threads = [water_of(one) for one in rolled.threads] if rolled is not None else []
    non_plastic = rolled is not None and rolled.test.non_plastic
    known = bool(points) and (bool(threads) or non_plastic)
    return Plasticity(
        flow=liquid_limit(points) if points else None,
        oven_dried_limit=liquid_limit(dried).liquid_limit if dried else None,
        plastic_limit=sum(threads) / len(threads) if threads else None,
        non_plastic=non_plastic,
        limits=limits_of(flow=points, plastic=threads or None) if known else None,
    )


def _shrinkage(whole: WholeTest | None) -> float | None:
    box: ShrinkageTest | None = whole.shrinkage if whole is not None else None
    if box is None:
        return None
    return linear_shrinkage(box_length_mm=box.box_length_mm, shrinkage_mm=box.shrinkage_mm)


def _test_view(whole: WholeTest, labels: dict[UUID, str]) -> TestView:
    test = whole.test
    return TestView(
        test.id,
        test.kind,
        _head(whole),
        _rows(whole),
        test.non_plastic,
        whole.oven_dried,
        test.remark,
        test.receipt_id,
        labels.get(test.receipt_id) if test.receipt_id else None,
        test.done_at,
        whole.names[test.done_by],
        ended(test, whole.names),
    )


def _head(whole: WholeTest) -> Reading:
    if whole.sign is not None:
        return reading(whole.sign, ("positive", "sign", "cue"))
    heads = (
        (whole.sieve, SIEVE_HEAD),
        (whole.shrinkage, BOX),
        (whole.hydrometer, SUSPENSION),
        (whole.jar, LAYERS),
        (whole.bulk, VESSEL),
    )
    return next((reading(row, columns) for row, columns in heads if row is not None), Reading())


def _rows(whole: WholeTest) -> list[Reading]:
    sieves = [reading(one, ("size_mm", "retained_g")) for one in whole.sieves]
    cups = [_with_water(one, ("blows", "wet_g", "dry_g", "can_g")) for one in whole.flows]
    settled = [reading(one, ("after_min", "reading", "temperature_c")) for one in whole.suspended]
    threads = (_with_water(one, ("wet_g", "dry_g", "can_g")) for one in whole.threads)
    return [*sieves, *cups, *threads, *settled]


def _with_water(can: FlowReading | ThreadReading, columns: tuple[str, ...]) -> Reading:
    read = reading(can, columns)
    return Reading({**read.values, "water": water_of(can)}, read.typed)
