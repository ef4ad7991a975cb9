"""What is on the bench: waiting blocks, one block with all that belongs to it, gauges with their open sessions."""

from datetime import datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import and_, bindparam, func
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from service.errors import NotFound
from service.records.audit_log import Trail
from service.records.base import plain, plain_rows
from service.records.batches import Batch
from service.records.blocks import Block, BlockHeight, Soak
from service.records.corrections import Correction
from service.records.crushings import Crushing
from service.records.customers import Customer
from service.records.durability_tests import is_over, used_up
from service.records.jobs import Job
from service.records.people import Person
from service.records.presses import Gauge, Mould, Press, PressSession
from service.records.recipes import Recipe, RecipeGroup


class Waiting(NamedTuple):
    """A block to be crushed, or whose test has not begun: whose it is, what is planned, and its last stay in the water.

    Plain columns and no rows: a shop has thousands of them, and the queue shows the first few.
    """

    block_id: UUID
    label: str
    crush_order: int
    pressed_at: datetime
    group_id: UUID
    condition: str
    age_days: float
    tolerance_hours: float
    soak_hours: float | None
    soak_hours_max: float | None
    test: str | None
    batch_id: UUID
    batch_number: int
    covered_at: datetime | None
    uncovered_at: datetime | None
    recipe: str
    job_id: UUID
    job_number: int
    site: str
    customer: str
    soak_started_at: datetime | None
    soak_ended_at: datetime | None


class WholeBlock(NamedTuple):
    """A block with the group, batch, recipe, mould, job and customer it belongs to, who pressed it, how high it is."""

    block: Block
    group: RecipeGroup
    batch: Batch
    recipe: Recipe
    mould: Mould
    job: Job
    customer: Customer
    pressed_by: Person
    height_mm: float | None
    used_up: str | None


class CrushedOnce(NamedTuple):
    """A crushing, who typed it, who corrected it, and the gauge, press and press session it belongs to."""

    crushing: Crushing
    by: Person
    ended_by: Person | None
    gauge: Gauge | None
    press: Press | None
    press_session: PressSession | None


class GaugeAtHand(NamedTuple):
    """A gauge of a press that crushes, and the press session of crushing that is open at it with who opened it."""

    gauge: Gauge
    press: Press
    press_session: PressSession | None
    opened_by: Person | None


def waiting(session: Session, *, job_id: UUID | None = None, block_id: UUID | None = None) -> list[Waiting]:
    """Return every block of the open jobs, one job or one block still to be crushed or tested, in one statement."""
    question = _waiting(of_job=job_id is not None, of_block=block_id is not None)
    given = {"job_id": job_id, "block_id": block_id}
    asked = {name: value for name, value in given.items() if value is not None}
    return list(map(Waiting._make, plain_rows(session, question, asked)))


@cache
def _waiting(*, of_job: bool, of_block: bool) -> Any:
    one_job = [col(Job.id) == bindparam("job_id")] if of_job else []
    one_block = [col(Block.id) == bindparam("block_id")] if of_block else []
    last = select(func.max(Soak.started_at)).where(Soak.block_id == Block.id).correlate(Block).scalar_subquery()
    return (
        select_many(
            *plain(
                *(col(Block.id), col(Block.label), col(Block.crush_order), col(Block.pressed_at)),
                *(col(RecipeGroup.id), col(RecipeGroup.condition), col(RecipeGroup.age_days)),
                *(col(RecipeGroup.tolerance_hours), col(RecipeGroup.soak_hours), col(RecipeGroup.soak_hours_max)),
                col(RecipeGroup.test),
                *(col(Batch.id), col(Batch.number), col(Batch.covered_at), col(Batch.uncovered_at)),
                *(col(Recipe.label), col(Job.id), col(Job.number), col(Job.site), col(Customer.name)),
                *(col(Soak.started_at), col(Soak.ended_at)),
            )
        )
        .select_from(Job)
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .join(Recipe, col(Recipe.job_id) == col(Job.id))
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .outerjoin(Soak, and_(col(Soak.block_id) == col(Block.id), col(Soak.started_at) == last))
        .outerjoin(Crushing, and_(col(Crushing.block_id) == col(Block.id), col(Crushing.ended_at).is_(None)))
        .where(col(Crushing.id).is_(None), col(Block.lost_at).is_(None), col(Job.closed_at).is_(None))
        .where(used_up(col(Block.id)).is_(None), ~is_over(col(Block.id)), *one_job, *one_block)
        .order_by(col(Job.number), col(Block.crush_order), col(Block.label))
    )


def whole_block(session: Session, block_id: UUID) -> WholeBlock:
    """Return one block with all that it belongs to, in one statement."""
    found = session.execute(_whole(), {"block_id": block_id}).one_or_none()
    if found is None:
        raise NotFound("There is no such block.")
    return WholeBlock(*found)


# The page of a block asks seven questions; writing them anew each time took half of its processor time.
@cache
def _whole() -> Any:
    height = select(func.avg(BlockHeight.height_mm)).where(BlockHeight.block_id == Block.id).scalar_subquery()
    return (
        select_many(*(Block, RecipeGroup, Batch, Recipe, Mould, Job, Customer, Person, height, used_up(col(Block.id))))
        .join(RecipeGroup, col(RecipeGroup.id) == col(Block.recipe_group_id))
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(RecipeGroup.recipe_id))
        .join(Mould, col(Mould.id) == col(Recipe.mould_id))
        .join(Job, col(Job.id) == col(Recipe.job_id))
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .join(Person, col(Person.id) == col(Block.pressed_by))
        .where(col(Block.id) == bindparam("block_id"))
    )


def locked_block(session: Session, block_id: UUID) -> Block:
    """Return a block that nobody else may change before this act is over."""
    found: Block | None = session.execute(_locked(), {"block_id": block_id}).scalar_one_or_none()
    if found is None:
        raise NotFound("There is no such block.")
    return found


@cache
def _locked() -> Any:
    return select(Block).where(col(Block.id) == bindparam("block_id")).with_for_update()


def locked_blocks(session: Session, block_ids: list[UUID]) -> list[Block]:
    """Return blocks by label, locked one after the other in the order of their ids so that two acts cannot deadlock."""
    question = select(Block).where(col(Block.id).in_(block_ids)).order_by(col(Block.id)).with_for_update()
    found = list(session.exec(question))
    if len(found) != len(set(block_ids)):
        raise NotFound("There is no such block.")
    return sorted(found, key=lambda block: block.label)


def soaks_with_people(session: Session, block_id: UUID) -> list[tuple[Soak, Person, Person | None]]:
    """Return the stays in the water of a block, oldest first, with who put it in and who took it out."""
    return [tuple(row) for row in session.execute(_soaks(), {"block_id": block_id})]


@cache
def _soaks() -> Any:
    by, ended_by = aliased(Person), aliased(Person)
    return (
        select_many(Soak, by, ended_by)
        .join(by, col(by.id) == col(Soak.started_by))
        .outerjoin(ended_by, col(ended_by.id) == col(Soak.ended_by))
        .where(col(Soak.block_id) == bindparam("block_id"))
        .order_by(col(Soak.started_at))
    )


def crushings_of(session: Session, block_id: UUID) -> list[CrushedOnce]:
    """Return every crushing of a block, the newest first, corrected ones too."""
    return [CrushedOnce(*row) for row in session.execute(_crushings(), {"block_id": block_id})]


@cache
def _crushings() -> Any:
    by, ended_by = aliased(Person), aliased(Person)
    return (
        select_many(Crushing, by, ended_by, Gauge, Press, PressSession)
        .join(by, col(by.id) == col(Crushing.crushed_by))
        .outerjoin(ended_by, col(ended_by.id) == col(Crushing.ended_by))
        .outerjoin(Gauge, col(Gauge.id) == col(Crushing.gauge_id))
        .outerjoin(Press, col(Press.id) == col(Gauge.press_id))
        .outerjoin(PressSession, col(PressSession.id) == col(Crushing.press_session_id))
        .where(col(Crushing.block_id) == bindparam("block_id"))
        .order_by(col(Crushing.created_at).desc())
    )


def standing_with_person(session: Session, block_id: UUID) -> tuple[Crushing, Person] | None:
    """Return the standing crushing of a block with who did it."""
    question = select(Crushing, Person).join(Person, col(Person.id) == col(Crushing.crushed_by))
    found = session.exec(question.where(Crushing.block_id == block_id, col(Crushing.ended_at).is_(None))).one_or_none()
    return None if found is None else (found[0], found[1])


def gauges_at_hand(session: Session) -> list[GaugeAtHand]:
    """Return the gauges in use of the presses that crush, each with the press session that is open at it."""
    return [GaugeAtHand(*row) for row in session.execute(_at_hand())]


@cache
def _at_hand() -> Any:
    return (
        select_many(Gauge, Press, PressSession, Person)
        .join(Press, col(Press.id) == col(Gauge.press_id))
        .outerjoin(
            PressSession, and_(col(PressSession.gauge_id) == col(Gauge.id), col(PressSession.closed_at).is_(None))
        )
        .outerjoin(Person, col(Person.id) == col(PressSession.opened_by))
        .where(col(Press.crushes), col(Press.ended_at).is_(None), col(Gauge.ended_at).is_(None))
        .order_by(col(Press.name), col(Gauge.name))
    )


class CrushedInGroup(NamedTuple):
    """A standing crushing of a group: at which press, and why the block was held where it was."""

    group_id: UUID
    press_id: UUID
    held_because: str | None


def crushed_in_groups(session: Session, group_ids: set[UUID]) -> list[CrushedInGroup]:
    """Return the standing crushings of groups at a press, the first ones first."""
    question = (
        select_many(col(Block.recipe_group_id), col(Gauge.press_id), col(Crushing.held_because))
        .join(Crushing, col(Crushing.block_id) == col(Block.id))
        .join(Gauge, col(Gauge.id) == col(Crushing.gauge_id))
        .where(col(Block.recipe_group_id).in_(group_ids), col(Crushing.ended_at).is_(None))
        .order_by(col(Crushing.crushed_at))
    )
    return [CrushedInGroup(*row) for row in session.execute(question)]


def told_about(session: Session, subject_ids: list[UUID]) -> list[tuple[Trail, Person | None]]:
    """Return the trail's entries about some subjects, oldest first, with who did each."""
    question = (
        select(Trail, Person)
        .outerjoin(Person, col(Person.id) == col(Trail.person_id))
        .where(col(Trail.subject_id).in_([str(subject) for subject in subject_ids]))
        .order_by(col(Trail.position))
    )
    return [(entry, person) for entry, person in session.exec(question)]


def corrections_with_people(session: Session, subject_ids: list[UUID]) -> list[tuple[Correction, Person]]:
    """Return the corrections of rows, oldest first, with who made each."""
    question = (
        select(Correction, Person)
        .join(Person, col(Person.id) == col(Correction.corrected_by))
        .where(col(Correction.subject_id).in_(subject_ids))
        .order_by(col(Correction.corrected_at), col(Correction.id))
    )
    return [(correction, person) for correction, person in session.exec(question)]
