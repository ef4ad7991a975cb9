"""What blocks endured besides crushing, as read: bent, put into water, eroded, wetted and dried by turns."""

from datetime import datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import CheckConstraint, ColumnElement, and_, bindparam, case, func, literal, union_all
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Field, Session, col

from service.records.base import Versioned, another, exactly_one, not_negative, one_of, plain_rows, positive
from service.records.batches import Batch
from service.records.blocks import Block
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.people import Person
from service.records.presses import Gauge, Press, PressSession
from service.records.recipes import CONDITIONS, Recipe, RecipeGroup
from service.records.versions import versions

BENT = ("broke", "held")
LAID = ("flat", "on edge")
WETTED = ("under water", "damp surface")
DRIED = ("as cured", "air-dry", "oven-dry")
WEIGHED = ("weighed", "fell apart")
ERODED_BY = ("drip", "spray")
ERODED = ("measured", "went through")


class Flexure(Versioned, table=True):
    """A block bent on two supports; the force as a gauge of a press showed it, or read as a force."""

    __table_args__ = (
        one_of("outcome", BENT),
        one_of("state", CONDITIONS),
        one_of("laid", LAID),
        exactly_one("gauge_mpa", "force_kn"),
        *positive("gauge_mpa", "force_kn", "span_mm", "width_mm", "thickness_mm"),
        CheckConstraint("(gauge_mpa IS NULL) = (gauge_id IS NULL)", name="gauge_reading_has_gauge"),
        *versions("flexure", once="block_id"),
    )

    block_id: UUID = Field(foreign_key="block.id", index=True)
    gauge_id: UUID | None = Field(default=None, foreign_key="gauge.id", index=True)
    press_session_id: UUID | None = Field(default=None, foreign_key="press_session.id")
    outcome: str
    state: str
    laid: str
    gauge_mpa: float | None = None
    force_kn: float | None = None
    span_mm: float
    width_mm: float
    thickness_mm: float
    remark: str | None = None
    done_at: datetime
    done_by: UUID = Field(foreign_key="person.id")


class Absorption(Versioned, table=True):
    """A block weighed before and after the water; until it is weighed again it has no outcome."""

    __table_args__ = (
        one_of("manner", WETTED),
        one_of("state_before", DRIED),
        one_of("outcome", WEIGHED),
        *positive("before_kg", "after_kg"),
        CheckConstraint("(outcome IS NULL) = (weighed_at IS NULL)", name="outcome_has_time"),
        CheckConstraint(
            "(after_kg IS NOT NULL) = (outcome IS NOT NULL AND outcome = 'weighed')", name="weighed_has_mass"
        ),
        CheckConstraint("after_kg >= before_kg", name="nothing_came_off"),
        CheckConstraint("weighed_at > wetted_at", name="weighed_after"),
        *versions("absorption", once="block_id"),
    )

    block_id: UUID = Field(foreign_key="block.id", index=True)
    manner: str
    state_before: str
    before_kg: float
    wetted_at: datetime
    outcome: str | None = None
    after_kg: float | None = None
    weighed_at: datetime | None = None
    remark: str | None = None
    done_by: UUID = Field(foreign_key="person.id")


class Erosion(Versioned, table=True):
    """A block on which water dripped or was sprayed, and how deep it went."""

    __table_args__ = (
        one_of("manner", ERODED_BY),
        one_of("outcome", ERODED),
        *positive("water_min", "pressure_mpa"),
        *not_negative("depth_mm"),
        CheckConstraint("(outcome = 'measured') = (depth_mm IS NOT NULL)", name="measured_has_depth"),
        CheckConstraint("pressure_mpa IS NULL OR manner = 'spray'", name="only_spray_has_pressure"),
        *versions("erosion", once="block_id"),
    )

    block_id: UUID = Field(foreign_key="block.id", index=True)
    manner: str
    outcome: str
    depth_mm: float | None = None
    water_min: float
    pressure_mpa: float | None = None
    remark: str | None = None
    done_at: datetime
    done_by: UUID = Field(foreign_key="person.id")


class WetDryCycle(Versioned, table=True):
    """The oven-dry mass of a block after so many turns of wetting and drying; number 0 is before the first."""

    __table_args__ = (
        one_of("outcome", WEIGHED),
        *positive("mass_kg"),
        *not_negative("number"),
        CheckConstraint("(outcome = 'weighed') = (mass_kg IS NOT NULL)", name="weighed_has_mass"),
        CheckConstraint("number > 0 OR outcome = 'weighed'", name="begins_with_mass"),
        *versions("wet_dry_cycle", once=("block_id", "number")),
    )

    block_id: UUID = Field(foreign_key="block.id", index=True)
    number: int
    outcome: str
    mass_kg: float | None = None
    remark: str | None = None
    done_at: datetime
    done_by: UUID = Field(foreign_key="person.id")


Row = Flexure | Absorption | Erosion | WetDryCycle
TABLES: dict[str, type[Flexure] | type[Absorption] | type[Erosion] | type[WetDryCycle]] = {
    "bending": Flexure,
    "absorption": Absorption,
    "erosion": Erosion,
    "cycles": WetDryCycle,
}


class Told(NamedTuple):
    """A test of a block, who did it, who corrected it if anybody did, and the gauge that was read."""

    row: Row
    by: Person
    ended_by: Person | None
    gauge: Gauge | None = None
    press: Press | None = None
    press_session: PressSession | None = None


class Running(NamedTuple):
    """A block whose test is not over: put into the water and not weighed again, or between two cycles."""

    block_id: UUID
    label: str
    job_id: UUID
    job_number: int
    customer: str
    recipe: str
    batch_number: int
    manner: str
    since: datetime
    cycles: int


def used_up(block_id: Any) -> ColumnElement[Any]:
    """Return the word for the standing test after which a block is no longer whole, or NULL."""

    def stands(table: Any, **also: str) -> ColumnElement[bool]:
        # The question around it may join the table itself.
        one = another(table)
        wanted = [getattr(one, column) == value for column, value in also.items()]
        return select_many(one.id).where(one.block_id == block_id, one.ended_at.is_(None), *wanted).exists()

    return case(
        (stands(Flexure), literal("bending")),
        (stands(Erosion), literal("erosion")),
        (stands(WetDryCycle), literal("cycles")),
        (stands(Absorption, state_before="oven-dry"), literal("absorption")),
        else_=None,
    )


def is_over(block_id: Any) -> ColumnElement[bool]:
    """Return whether the test that a block was set aside for has begun, beside those that use a block up.

    Joined to the group of the block. An absorption alone leaves a block whole that was not dried in the oven.
    """
    wetted = another(Absorption)
    begun = select_many(wetted.id).where(wetted.block_id == block_id, wetted.ended_at.is_(None)).exists()
    return and_(func.coalesce(RecipeGroup.test, "") == "absorption", begun)


def use_of(session: Session, block_id: UUID) -> str | None:
    """Return the word for the standing test that used a block up, if one did."""
    found: str | None = session.exec(select_many(used_up(block_id))).scalar_one()  # type: ignore[call-overload]
    return found


def history_of(session: Session, block_id: UUID) -> list[Told]:
    """Return every test of a block, corrected ones too, oldest first, in four statements."""
    return [told for table in TABLES.values() for told in _told(session, table, block_id)]


def _told(session: Session, table: Any, block_id: UUID) -> list[Told]:
    by, ended_by = aliased(Person), aliased(Person)
    question: Any = (
        select_many(table, by, ended_by)
        .join(by, by.id == table.done_by)
        .outerjoin(ended_by, ended_by.id == table.ended_by)
        .where(table.block_id == block_id)
        .order_by(table.created_at, table.id)
    )
    if table is Flexure:
        question = _with_press(question).add_columns(Gauge, Press, PressSession)
    return [Told(*row) for row in session.exec(question)]


def _with_press(question: Any) -> Any:
    return (
        question.outerjoin(Gauge, col(Gauge.id) == col(Flexure.gauge_id))
        .outerjoin(Press, col(Press.id) == col(Gauge.press_id))
        .outerjoin(PressSession, col(PressSession.id) == col(Flexure.press_session_id))
    )


def stands_on_block(table: Any) -> ColumnElement[bool]:
    """Return the condition by which the standing rows of a table are joined to their block."""
    return and_(table.block_id == col(Block.id), table.ended_at.is_(None))


def running(session: Session, *, job_id: UUID | None = None) -> list[Running]:
    """Return the blocks of the open jobs, or of one job, whose test is not over, in one statement."""
    rows = plain_rows(session, _all_running(job_id is not None), {"job_id": job_id} if job_id else None)
    return [Running(*row) for row in rows]


@cache
def _all_running(of_one_job: bool) -> Any:
    wanted = (col(Job.id) == bindparam("job_id"),) if of_one_job else ()
    both = (_running(table).where(*wanted) for table in (Absorption, WetDryCycle))
    return union_all(*both).order_by("number", "block")


def _running(table: Any) -> Any:
    later = another(WetDryCycle)
    after = select_many(later.id).where(
        later.block_id == col(Block.id), later.ended_at.is_(None), later.number > col(WetDryCycle.number)
    )
    told: tuple[Any, ...] = (literal("cycles"), col(WetDryCycle.done_at), col(WetDryCycle.number))
    is_on = and_(col(WetDryCycle.outcome) == "weighed", ~after.exists())
    if table is Absorption:
        told = (col(Absorption.manner), col(Absorption.wetted_at), literal(0))
        is_on = col(Absorption.outcome).is_(None)
    return (
        select_many(
            *(col(Block.id), col(Block.label).label("block"), col(Job.id), col(Job.number).label("number")),
            *(col(Customer.name), col(Recipe.label), col(Batch.number), *told),
        )
        .select_from(Job)
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .join(Recipe, col(Recipe.job_id) == col(Job.id))
        .join(Batch, col(Batch.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.batch_id) == col(Batch.id))
        .join(table, stands_on_block(table))
        .where(col(Job.closed_at).is_(None), is_on)
    )
