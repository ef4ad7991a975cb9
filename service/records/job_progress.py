"""How far each job is: the counts from which its stage is worked out, many jobs in one statement."""

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, String, Subquery, and_, case, cast, extract, func, or_
from sqlalchemy import select as select_many
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from service.errors import NotFound
from service.records.batches import Batch
from service.records.blocks import Block
from service.records.crushings import Crushing
from service.records.durability_tests import last_tests, used_up
from service.records.jobs import Job
from service.records.materials import Receipt
from service.records.outbox import Message
from service.records.people import Customer, Person
from service.records.recipes import Recipe, RecipeGroup
from service.records.results import IssuedResult

COUNTS = (
    "receipts",
    "recipes",
    "planned",
    "batches",
    "mixed",
    "blocks",
    "lost",
    "tested",
    "waiting",
    "due",
    "late",
    "crushed",
    "issued",
    "asked",
)
SECONDS_PER_DAY = 86_400
SECONDS_PER_HOUR = 3_600


@dataclass(frozen=True)
class Progress:
    """A job, whose it is, and what there is of it.

    ``planned`` counts the blocks its recipes in force ask for; ``tested`` those that another test used up;
    ``waiting`` those pressed, kept, whole and not yet crushed; ``due`` those of them whose window has opened,
    ``late`` those whose window has closed. ``last_tested_at`` is when the last of the other tests was done.
    """

    job: Job
    customer: Customer
    received_at: datetime | None
    receipts: int
    recipes: int
    planned: int
    batches: int
    mixed: int
    last_mixed_at: datetime | None
    blocks: int
    lost: int
    tested: int
    waiting: int
    due: int
    late: int
    next_due_at: datetime | None
    crushed: int
    last_crushed_at: datetime | None
    last_tested_at: datetime | None
    # 1 where the last word of the customer has no answer yet, else 0.
    asked: int
    issued: int
    last_issued_at: datetime | None


@dataclass(frozen=True)
class Page:
    """Some jobs out of all that were asked for."""

    jobs: list[Progress]
    total: int


def page_of_jobs(
    session: Session,
    *,
    seen_by: UUID | None,
    now: datetime,
    closed: bool = False,
    search: str = "",
    page: int = 1,
    size: int = 50,
) -> Page:
    """Return one page of the open or the closed jobs, newest first, found by label, site, customer or number."""
    question = _question(now, seen_by).where(
        col(Job.closed_at).is_not(None) if closed else col(Job.closed_at).is_(None)
    )
    if search.strip():
        question = question.where(_mentions(search.strip()))
    question = question.add_columns(func.count().over().label("total")).order_by(col(Job.number).desc())
    rows: list[Any] = list(session.exec(question.offset((page - 1) * size).limit(size)))
    return Page([_progress(row) for row in rows], rows[0].total if rows else 0)


def of_job(session: Session, job_id: UUID, *, seen_by: UUID | None, now: datetime) -> Progress:
    """Return how far one job is, or the same NotFound for a missing one and another customer's."""
    row: Any = session.exec(_question(now, seen_by).where(Job.id == job_id)).one_or_none()
    if row is None:
        raise NotFound("There is no such job.")
    return _progress(row)


def _progress(row: Any) -> Progress:
    counts = {name: int(getattr(row, name) or 0) for name in COUNTS}
    return Progress(
        job=row.Job,
        customer=row.Customer,
        received_at=row.received_at,
        last_mixed_at=row.last_mixed_at,
        next_due_at=datetime.fromtimestamp(row.next_due_s, UTC) if row.next_due_s is not None else None,
        last_crushed_at=row.last_crushed_at,
        last_tested_at=row.last_tested_at,
        last_issued_at=row.last_issued_at,
        **counts,
    )


# Writing a question down costs more than asking it; those without a value in them are written down once.
def _question(now: datetime, seen_by: UUID | None) -> Any:
    parts = (_sacks(), _recipes(), _batches(), _blocks(now), last_tests(), _issued(), _asked())
    counted = [column for part in parts for column in part.c if column.name != "job_id"]
    question: Any = select_many(Job, Customer, *counted).join(Customer, col(Customer.id) == col(Job.customer_id))
    for part in parts:
        question = question.outerjoin(part, part.c.job_id == col(Job.id))
    return question if seen_by is None else question.where(Job.customer_id == seen_by)


@cache
def _sacks() -> Subquery:
    question = select_many(
        col(Receipt.job_id), func.count().label("receipts"), func.min(col(Receipt.received_at)).label("received_at")
    )
    return question.group_by(col(Receipt.job_id)).subquery()


@cache
def _recipes() -> Subquery:
    successor = aliased(Recipe)
    replaced = select_many(col(successor.replaces_id)).where(col(successor.replaces_id).is_not(None))
    asked = (
        select_many(col(RecipeGroup.recipe_id), func.sum(col(RecipeGroup.blocks)).label("blocks"))
        .group_by(col(RecipeGroup.recipe_id))
        .subquery()
    )
    return (
        select_many(
            col(Recipe.job_id),
            func.count().label("recipes"),
            func.coalesce(func.sum(asked.c.blocks), 0).label("planned"),
        )
        .outerjoin(asked, asked.c.recipe_id == col(Recipe.id))
        .where(col(Recipe.dropped_at).is_(None), col(Recipe.id).not_in(replaced))
        .group_by(col(Recipe.job_id))
        .subquery()
    )


@cache
def _batches() -> Subquery:
    return (
        select_many(
            col(Recipe.job_id),
            func.count().label("batches"),
            func.count(col(Batch.mixed_at)).label("mixed"),
            func.max(col(Batch.mixed_at)).label("last_mixed_at"),
        )
        .select_from(Batch)
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .group_by(col(Recipe.job_id))
        .subquery()
    )


def _blocks(now: datetime) -> Subquery:
    used = used_up(col(Block.id))
    waiting = and_(col(Crushing.id).is_(None), col(Block.lost_at).is_(None), used.is_(None))
    pressed_s = extract("epoch", col(Block.pressed_at))
    age_s = now.timestamp() - pressed_s
    due_s = col(RecipeGroup.age_days) * SECONDS_PER_DAY
    slack_s = col(RecipeGroup.tolerance_hours) * SECONDS_PER_HOUR
    return (
        select_many(
            col(Recipe.job_id),
            func.count().label("blocks"),
            func.count(col(Block.lost_at)).label("lost"),
            func.count(used).label("tested"),
            _how_many(waiting).label("waiting"),
            _how_many(and_(waiting, age_s >= due_s - slack_s)).label("due"),
            _how_many(and_(waiting, age_s > due_s + slack_s)).label("late"),
            func.min(case((waiting, pressed_s + due_s))).label("next_due_s"),
            func.count(col(Crushing.id)).label("crushed"),
            func.max(col(Crushing.crushed_at)).label("last_crushed_at"),
        )
        .select_from(Block)
        .join(RecipeGroup, col(RecipeGroup.id) == col(Block.recipe_group_id))
        .join(Recipe, col(Recipe.id) == col(RecipeGroup.recipe_id))
        .outerjoin(Crushing, and_(col(Crushing.block_id) == col(Block.id), col(Crushing.ended_at).is_(None)))
        .group_by(col(Recipe.job_id))
        .subquery()
    )


def _how_many(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.sum(case((condition, 1), else_=0))


@cache
def _issued() -> Subquery:
    return (
        select_many(
            col(IssuedResult.job_id),
            func.count().label("issued"),
            func.max(col(IssuedResult.issued_at)).label("last_issued_at"),
        )
        .where(col(IssuedResult.withdrawn_at).is_(None))
        .group_by(col(IssuedResult.job_id))
        .subquery()
    )


@cache
def _asked() -> Subquery:
    of_customer = col(Person.customer_id).is_not(None)
    written_at = col(Message.created_at)
    asked_at, answered_at = func.max(case((of_customer, written_at))), func.max(case((~of_customer, written_at)))
    waits = case((and_(asked_at.is_not(None), or_(answered_at.is_(None), asked_at > answered_at)), 1), else_=0)
    return (
        select_many(col(Message.job_id), waits.label("asked"))
        .join(Person, col(Person.id) == col(Message.person_id))
        .group_by(col(Message.job_id))
        .subquery()
    )


def _mentions(words: str) -> ColumnElement[bool]:
    labelled_blocks = (
        select_many(col(Recipe.job_id))
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .where(col(Block.label).icontains(words, autoescape=True))
    )
    labelled_sacks = select_many(col(Receipt.job_id)).where(col(Receipt.label).icontains(words, autoescape=True))
    return or_(
        cast(col(Job.number), String) == words,
        col(Job.site).icontains(words, autoescape=True),
        col(Customer.name).icontains(words, autoescape=True),
        col(Job.id).in_(labelled_blocks),
        col(Job.id).in_(labelled_sacks),
    )
