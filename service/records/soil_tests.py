"""What is learnt of a soil: moisture by cans, sieves, limits, shrinkage, settling, bulk density, and signs."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any, NamedTuple, TypeVar
from uuid import UUID

from sqlalchemy import CheckConstraint, UniqueConstraint, and_
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Field, Session, col, or_, select

from service.records.base import Raw, Versioned, exactly_one, finite, not_blank, not_negative, one_of, positive
from service.records.materials import Material
from service.records.people import Person
from service.records.versions import versions

KINDS = ("sieve", "flow", "thread", "shrinkage", "hydrometer", "jar", "bulk", "organic", "salts")
CUES = ("organics", "sulfates", "pollution", "black cotton")
DRYING = ("oven", "microwave", "air", "stove")

OfTest = TypeVar("OfTest", "SieveReading", "FlowReading", "ThreadReading", "HydrometerReading")


def can_checks() -> list[CheckConstraint]:
    """Return what holds for every can: something dry in it, and no more water than was wet."""
    return [
        *not_negative("can_g"),
        CheckConstraint("wet_g >= dry_g AND wet_g < 1e9", name="wet_at_least_dry"),
        CheckConstraint("dry_g > can_g", name="dry_above_can"),
    ]


class MoistureCan(Versioned, table=True):
    """A can weighed wet and dry, out of a sack, a weighed part, a mix or a block."""

    __table_args__ = (
        exactly_one("receipt_id", "batch_part_id", "batch_id", "block_id"),
        *not_negative("can_kg"),
        CheckConstraint("wet_kg >= dry_kg AND wet_kg < 1e9", name="wet_at_least_dry"),
        CheckConstraint("dry_kg > can_kg", name="dry_above_can"),
        one_of("method", DRYING),
        *finite("temperature_c"),
        *versions("moisture_can"),
    )

    receipt_id: UUID | None = Field(default=None, foreign_key="receipt.id", index=True)
    batch_part_id: UUID | None = Field(default=None, foreign_key="batch_part.id", index=True)
    batch_id: UUID | None = Field(default=None, foreign_key="batch.id", index=True)
    block_id: UUID | None = Field(default=None, foreign_key="block.id", index=True)
    can_kg: float = 0.0
    wet_kg: float
    dry_kg: float
    method: str = "oven"
    temperature_c: float | None = None
    done_at: datetime
    done_by: UUID = Field(foreign_key="person.id")


class SoilTest(Versioned, table=True):
    """One test of a material, corrected as a whole: the new test brings all of its readings."""

    __table_args__ = (
        one_of("kind", KINDS),
        CheckConstraint("NOT non_plastic OR kind = 'thread'", name="non_plastic_by_thread"),
        *versions("soil_test"),
    )

    material_id: UUID = Field(foreign_key="material.id", index=True)
    receipt_id: UUID | None = Field(default=None, foreign_key="receipt.id", index=True)
    kind: str
    non_plastic: bool = False
    done_at: datetime
    done_by: UUID = Field(foreign_key="person.id")
    remark: str | None = None


class SieveTest(Raw, table=True):
    """The masses of a sieving that belong to no single sieve."""

    __table_args__ = (
        *positive("dry_mass_g", "washed_dry_mass_g"),
        CheckConstraint("washed_dry_mass_g <= dry_mass_g", name="washed_at_most_dry"),
        *not_negative("pan_g"),
    )

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    dry_mass_g: float
    washed_dry_mass_g: float | None = None
    pan_g: float = 0.0


class SieveReading(Raw, table=True):
    """What one sieve kept back."""

    __table_args__ = (UniqueConstraint("test_id", "size_mm"), *positive("size_mm"), *not_negative("retained_g"))

    test_id: UUID = Field(foreign_key="soil_test.id")
    size_mm: float
    retained_g: float


class CupTest(Raw, table=True):
    """What belongs to all closings of one cup; a cup kept before this was asked has none, and was not dried."""

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    oven_dried: bool


class FlowReading(Raw, table=True):
    """One closing of the groove: blows, and the can that tells the water."""

    __table_args__ = (UniqueConstraint("test_id", "position"), *positive("blows"), *can_checks())

    test_id: UUID = Field(foreign_key="soil_test.id")
    position: int
    blows: int
    can_g: float = 0.0
    wet_g: float
    dry_g: float


class ThreadReading(Raw, table=True):
    """One thread rolled until it crumbles, and the can that tells the water."""

    __table_args__ = (UniqueConstraint("test_id", "position"), *can_checks())

    test_id: UUID = Field(foreign_key="soil_test.id")
    position: int
    can_g: float = 0.0
    wet_g: float
    dry_g: float


class ShrinkageTest(Raw, table=True):
    """A box of mud and how much shorter it dried."""

    __table_args__ = (
        *positive("box_length_mm", "box_width_mm", "box_depth_mm"),
        *not_negative("shrinkage_mm"),
        CheckConstraint("shrinkage_mm < box_length_mm", name="shrinkage_below_box"),
    )

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    box_length_mm: float
    box_width_mm: float
    box_depth_mm: float
    shrinkage_mm: float


class SoilSign(Raw, table=True):
    """A sign looked for, and whether it was there; one that was stops a cement recommendation.

    ``cue`` says of what; left empty, the test's own kind says it: organics or salts.
    """

    __table_args__ = (*not_blank("sign"), one_of("cue", CUES))

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    positive: bool
    sign: str
    cue: str | None = None


class HydrometerTest(Raw, table=True):
    """What belongs to all readings of one suspension: the specimen, where it was separated, and the dispersant."""

    __table_args__ = (
        *positive("dry_mass_g", "separation_mm", "volume_l"),
        CheckConstraint("specific_gravity > 1 AND specific_gravity < 1e9", name="specific_gravity_above_one"),
        *not_negative("meniscus"),
        *not_blank("dispersant"),
    )

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    dry_mass_g: float
    specific_gravity: float
    separation_mm: float
    volume_l: float = 1.0
    meniscus: float = 0.0
    dispersant: str


class HydrometerReading(Raw, table=True):
    """One reading: in the suspension after some minutes, or without soil, when no minutes are told."""

    __table_args__ = (
        UniqueConstraint("test_id", "position"),
        *positive("after_min"),
        *finite("reading", "temperature_c"),
    )

    test_id: UUID = Field(foreign_key="soil_test.id")
    position: int
    after_min: float | None = None
    reading: float
    temperature_c: float


class JarReading(Raw, table=True):
    """How thick the layers in a settling jar were."""

    __table_args__ = (
        *not_negative("gravel_mm", "sand_mm", "silt_mm", "clay_mm"),
        CheckConstraint("gravel_mm + sand_mm + silt_mm + clay_mm > 0", name="some_layer"),
    )

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    gravel_mm: float = 0.0
    sand_mm: float
    silt_mm: float
    clay_mm: float


class BulkTest(Raw, table=True):
    """A vessel filled loosely and weighed; damp as it lies, or dry."""

    __table_args__ = (
        *positive("volume_l"),
        *not_negative("vessel_kg"),
        CheckConstraint("filled_kg > vessel_kg AND filled_kg < 1e9", name="filled_above_vessel"),
    )

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    filled_kg: float
    vessel_kg: float = 0.0
    volume_l: float
    damp: bool

    @property
    def kg_l(self) -> float:
        """Mass of a litre as it lies, in kg."""
        return (self.filled_kg - self.vessel_kg) / self.volume_l


class WholeTest(NamedTuple):
    """A test with whatever readings its kind has, and what those who made and ended it are called."""

    test: SoilTest
    sieve: SieveTest | None
    shrinkage: ShrinkageTest | None
    sign: SoilSign | None
    hydrometer: HydrometerTest | None
    jar: JarReading | None
    bulk: BulkTest | None
    cup: CupTest | None
    names: dict[UUID, str]
    sieves: list[SieveReading]
    flows: list[FlowReading]
    threads: list[ThreadReading]
    suspended: list[HydrometerReading]

    @property
    def oven_dried(self) -> bool:
        """Whether it is a cup of soil that was dried in the oven before."""
        return self.cup is not None and self.cup.oven_dried


# The row that belongs to the whole of a test, by kind.
_HEADS = (SieveTest, ShrinkageTest, SoilSign, HydrometerTest, JarReading, BulkTest, CupTest)


def standing_tests(session: Session, material_ids: list[UUID]) -> list[WholeTest]:
    """Return the standing tests of materials with all readings, oldest first, in five statements."""
    return [whole for whole in all_tests(session, material_ids) if whole.test.ended_at is None]


def sievings_and_cups(session: Session, material_ids: list[UUID]) -> list[WholeTest]:
    """Return the standing sievings and cups of materials, oldest first, in three statements."""
    whole = _heads_of(session, material_ids)
    _fill_sieves_and_flows(session, whole)
    return [one for one in whole.values() if one.test.ended_at is None and one.test.kind in ("sieve", "flow")]


def all_tests(session: Session, material_ids: list[UUID]) -> list[WholeTest]:
    """Return the tests of materials with all readings, the replaced ones too, oldest first, in five statements."""
    whole = _heads_of(session, material_ids)
    _fill_sieves_and_flows(session, whole)
    for thread in _readings(session, ThreadReading, whole, col(ThreadReading.position)):
        whole[thread.test_id].threads.append(thread)
    for reading in _readings(session, HydrometerReading, whole, col(HydrometerReading.position)):
        whole[reading.test_id].suspended.append(reading)
    return list(whole.values())


def _heads_of(session: Session, material_ids: list[UUID]) -> dict[UUID, WholeTest]:
    maker, ender = aliased(Person), aliased(Person)
    question: Any = (
        select_many(SoilTest, *_HEADS, col(maker.name), col(ender.name))
        .join(maker, col(maker.id) == col(SoilTest.done_by))
        .outerjoin(ender, col(ender.id) == col(SoilTest.ended_by))
    )
    for head in _HEADS:
        question = question.outerjoin(head, head.test_id == col(SoilTest.id))
    question = question.where(col(SoilTest.material_id).in_(material_ids))
    whole = {}
    for test, *heads, made_by, ended_by in session.exec(
        question.order_by(col(SoilTest.done_at), col(SoilTest.created_at))
    ):
        names = {test.done_by: made_by} | ({test.ended_by: ended_by} if test.ended_by else {})
        whole[test.id] = WholeTest._make((test, *heads, names, [], [], [], []))
    return whole


def _fill_sieves_and_flows(session: Session, whole: dict[UUID, WholeTest]) -> None:
    for sieve in _readings(session, SieveReading, whole, col(SieveReading.size_mm).desc()):
        whole[sieve.test_id].sieves.append(sieve)
    for flow in _readings(session, FlowReading, whole, col(FlowReading.position)):
        whole[flow.test_id].flows.append(flow)


def _readings(session: Session, table: type[OfTest], tests: Iterable[UUID], order: Any) -> list[OfTest]:
    question = select(table).where(col(table.test_id).in_(tests))
    return list(session.exec(question.order_by(order)))


class BulkDensity(NamedTuple):
    """What a litre of a material weighs as it lies, damp or dry."""

    material_id: UUID
    kind: str
    damp: bool
    kg_l: float


def bulk_densities(
    session: Session, *, material_ids: Iterable[UUID] = (), kinds: Iterable[str] = ()
) -> list[BulkDensity]:
    """Return the standing bulk densities of some materials, and of the shop's of some kinds, oldest first."""
    question = (
        select(Material, BulkTest)
        .join(SoilTest, col(SoilTest.material_id) == col(Material.id))
        .join(BulkTest, col(BulkTest.test_id) == col(SoilTest.id))
        .where(
            col(SoilTest.ended_at).is_(None),
            or_(
                col(Material.id).in_(list(material_ids)),
                and_(col(Material.kind).in_(list(kinds)), col(Material.customer_id).is_(None)),
            ),
        )
    )
    found = session.exec(question.order_by(col(SoilTest.done_at), col(SoilTest.created_at)))
    return [BulkDensity(material.id, material.kind, bulk.damp, bulk.kg_l) for material, bulk in found]


def tests_with_signs(session: Session, material_ids: list[UUID]) -> list[tuple[SoilTest, SoilSign | None]]:
    """Return which standing tests materials have, and the signs found, without any other reading."""
    question = (
        select(SoilTest, SoilSign)
        .outerjoin(SoilSign, col(SoilSign.test_id) == col(SoilTest.id))
        .where(col(SoilTest.material_id).in_(material_ids), col(SoilTest.ended_at).is_(None))
        .order_by(col(SoilTest.done_at), col(SoilTest.created_at))
    )
    return [(test, sign) for test, sign in session.exec(question)]


def cans_of_receipts(session: Session, receipt_ids: list[UUID]) -> list[MoistureCan]:
    """Return every can out of some sacks, the replaced ones too, oldest first."""
    question = select(MoistureCan).where(col(MoistureCan.receipt_id).in_(receipt_ids))
    return list(session.exec(question.order_by(col(MoistureCan.done_at), col(MoistureCan.created_at))))
