"""What is learnt of a soil: moisture by cans, sieves, limits, shrinkage, and signs of organics and salts."""

from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, UniqueConstraint
from sqlmodel import Field, Session, col, or_, select

from service.records.base import Raw, Versioned, exactly_one, finite, not_blank, not_negative, one_of, positive
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block
from service.records.materials import Receipt
from service.records.recipes import Recipe
from service.records.standing import versions

KINDS = ("sieve", "flow", "thread", "shrinkage", "hydrometer", "jar", "bulk", "organic", "salts")
DRYING = ("oven", "microwave", "air", "stove")


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
    """A sign of organics or salts looked for, and whether it was there; one that was stops a cement recommendation."""

    __table_args__ = (*not_blank("sign"),)

    test_id: UUID = Field(foreign_key="soil_test.id", unique=True)
    positive: bool
    sign: str


class WholeTest(NamedTuple):
    """A test with whatever readings its kind has."""

    test: SoilTest
    sieve: SieveTest | None
    shrinkage: ShrinkageTest | None
    sign: SoilSign | None
    sieves: list[SieveReading]
    flows: list[FlowReading]
    threads: list[ThreadReading]


def standing_tests(session: Session, material_ids: list[UUID]) -> list[WholeTest]:
    """Return the standing tests of materials with all readings, oldest first, in four statements."""
    return [whole for whole in all_tests(session, material_ids) if whole.test.ended_at is None]


def all_tests(session: Session, material_ids: list[UUID]) -> list[WholeTest]:
    """Return the tests of materials with all readings, the replaced ones too, oldest first, in four statements."""
    question = (
        select(SoilTest, SieveTest, ShrinkageTest, SoilSign)
        .outerjoin(SieveTest, col(SieveTest.test_id) == col(SoilTest.id))
        .outerjoin(ShrinkageTest, col(ShrinkageTest.test_id) == col(SoilTest.id))
        .outerjoin(SoilSign, col(SoilSign.test_id) == col(SoilTest.id))
        .where(col(SoilTest.material_id).in_(material_ids))
        .order_by(col(SoilTest.done_at), col(SoilTest.created_at))
    )
    whole = {
        test.id: WholeTest(test, sieve, shrinkage, sign, [], [], [])
        for test, sieve, shrinkage, sign in session.exec(question)
    }
    sieves = select(SieveReading).where(col(SieveReading.test_id).in_(whole))
    for sieve in session.exec(sieves.order_by(col(SieveReading.size_mm).desc())):
        whole[sieve.test_id].sieves.append(sieve)
    flows = select(FlowReading).where(col(FlowReading.test_id).in_(whole))
    for flow in session.exec(flows.order_by(col(FlowReading.position))):
        whole[flow.test_id].flows.append(flow)
    threads = select(ThreadReading).where(col(ThreadReading.test_id).in_(whole))
    for thread in session.exec(threads.order_by(col(ThreadReading.position))):
        whole[thread.test_id].threads.append(thread)
    return list(whole.values())


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


def standing_cans_of_job(session: Session, job_id: UUID) -> list[MoistureCan]:
    """Return the standing cans of a job's sacks, batches, weighed parts and blocks, oldest first, in one statement."""
    sacks = select(col(Receipt.id)).where(Receipt.job_id == job_id)
    batches = select(col(Batch.id)).join(Recipe, col(Recipe.id) == col(Batch.recipe_id)).where(Recipe.job_id == job_id)
    parts = select(col(BatchPart.id)).where(col(BatchPart.batch_id).in_(batches))
    blocks = select(col(Block.id)).where(col(Block.batch_id).in_(batches))
    question = select(MoistureCan).where(
        col(MoistureCan.ended_at).is_(None),
        or_(
            col(MoistureCan.receipt_id).in_(sacks),
            col(MoistureCan.batch_id).in_(batches),
            col(MoistureCan.batch_part_id).in_(parts),
            col(MoistureCan.block_id).in_(blocks),
        ),
    )
    return list(session.exec(question.order_by(col(MoistureCan.done_at), col(MoistureCan.created_at))))
