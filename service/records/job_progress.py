"""How far each job is: the counts from which its stage is worked out, many jobs in one statement."""

from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import cache, lru_cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Float,
    Integer,
    Select,
    String,
    Subquery,
    Uuid,
    and_,
    bindparam,
    case,
    cast,
    extract,
    func,
    not_,
    or_,
)
from sqlalchemy import select as select_many
from sqlmodel import Session, col

from service.errors import NotFound
from service.records.base import another, plain_rows
from service.records.batches import Batch
from service.records.blocks import Block
from service.records.crushings import Crushing
from service.records.customers import Customer
from service.records.durability_tests import Absorption, Erosion, Flexure, WetDryCycle, stands_on_block
from service.records.jobs import Job
from service.records.materials import Receipt
from service.records.messages import Message
from service.records.people import Person
from service.records.recipes import Recipe, RecipeGroup
from service.records.results import IssuedResult

SECONDS_PER_DAY = 86_400
SECONDS_PER_HOUR = 3_600


class JobSaid(NamedTuple):
    """What is said of a job beside how far it is."""

    id: UUID
    number: int
    site: str
    question: str
    question_kind: str
    promised_on: date | None
    closed_at: datetime | None
    closed_because: str | None


class CustomerSaid(NamedTuple):
    """Whose a job is."""

    id: UUID
    name: str


class Progress(NamedTuple):
    """A job, whose it is, and what there is of it; plain columns and no rows, for lists have many.

    ``planned`` counts the blocks its recipes in force ask for; ``tested`` those that another test used up;
    ``waiting`` those pressed, kept, whole and not yet crushed; ``due`` those of them whose window has opened,
    ``late`` those whose window has closed. ``issued`` leaves out those ``withdrawn``. ``asked`` is 1 where the last
    word of the customer has no answer yet, else 0.
    """

    job: JobSaid
    customer: CustomerSaid
    receipts: int
    received_at: datetime | None
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
    next_due_s: float | None
    crushed: int
    last_crushed_at: datetime | None
    bent_at: datetime | None
    worn_at: datetime | None
    cycled_at: datetime | None
    wetted_at: datetime | None
    issued: int
    withdrawn: int
    last_issued_at: datetime | None
    asked: int

    @property
    def next_due_at(self) -> datetime | None:
        """When the next of the waiting blocks is due."""
        return None if self.next_due_s is None else datetime.fromtimestamp(float(self.next_due_s), UTC)

    @property
    def last_tested_at(self) -> datetime | None:
        """When the last of the other tests was done."""
        tested = (self.bent_at, self.worn_at, self.cycled_at, self.wetted_at)
        return max((at for at in tested if at is not None), default=None)


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
    question = _listed(closed, seen_by is not None, search.strip())
    given = {"seen_by": seen_by, "skipped": (page - 1) * size, "most": size}
    chosen = list(plain_rows(session, question, given))
    # Which jobs stand on the page is settled first, and the rest is counted for those alone: the past costs nothing.
    return Page(of_jobs(session, [job_id for job_id, _ in chosen], now=now), chosen[0][1] if chosen else 0)


@lru_cache(maxsize=16)
def _listed(closed: bool, of_customer: bool, words: str) -> Select[UUID, int]:
    wanted: list[ColumnElement[bool]] = [col(Job.closed_at).is_not(None) if closed else col(Job.closed_at).is_(None)]
    if of_customer:
        wanted.append(col(Job.customer_id) == bindparam("seen_by"))
    if words:
        wanted.append(_mentions(words))
    total = select_many(func.count()).select_from(Job).where(*wanted).scalar_subquery()
    found = select_many(col(Job.id), total).where(*wanted).order_by(col(Job.number).desc())
    return found.offset(bindparam("skipped", type_=Integer())).limit(bindparam("most", type_=Integer()))


def of_job(session: Session, job_id: UUID, *, seen_by: UUID | None, now: datetime) -> Progress:
    """Return how far one job is, or the same NotFound for a missing one and another customer's."""
    found = of_jobs(session, [job_id], now=now)
    if not found or seen_by not in (None, found[0].customer.id):
        raise NotFound("There is no such job.")
    return found[0]


def of_jobs(session: Session, job_ids: list[UUID], *, now: datetime) -> list[Progress]:
    """Return how far some jobs are, newest first, in one statement."""
    if not job_ids:
        return []
    rows = plain_rows(session, _question(), {"job_ids": job_ids, "now_s": now.timestamp()})
    found = (Progress(JobSaid(*row[:_SAID]), CustomerSaid(*row[_SAID:_COUNTED]), *row[_COUNTED:]) for row in rows)
    # Asked for in this order, SQLite would go through all jobs.
    return sorted(found, key=lambda one: one.job.number, reverse=True)


_SAID = len(JobSaid._fields)
_COUNTED = _SAID + len(CustomerSaid._fields)
# Writing a question down costs more than asking it, so it is written down once; its values come when it is asked.
JOB_IDS: BindParameter[Any] = bindparam("job_ids", expanding=True, type_=Uuid())
NOW_S: BindParameter[float] = bindparam("now_s", type_=Float())


@cache
def _question() -> Select[Any]:
    parts = (_sacks(), _recipes(), _batches(), _blocks(), _issued(), _asked())
    counted = {column.name: column for part in parts for column in part.c}
    told = (_none_is_0(counted[name]) if kind is int else counted[name] for name, kind in _kinds())
    question: Select[Any] = select_many(
        *(getattr(Job, name) for name in JobSaid._fields),
        *(getattr(Customer, name) for name in CustomerSaid._fields),
        *told,
    ).join(Customer, col(Customer.id) == col(Job.customer_id))
    for part in parts:
        question = question.outerjoin(part, part.c.job_id == col(Job.id))
    return question.where(col(Job.id).in_(JOB_IDS))


def _kinds() -> list[tuple[str, Any]]:
    return list(Progress.__annotations__.items())[2:]


def _none_is_0(counted: ColumnElement[Any]) -> ColumnElement[int]:
    # Of a job of which there is nothing, nothing is counted; and a sum is of another type on the other database.
    return cast(func.coalesce(counted, 0), Integer)


def _sacks() -> Subquery:
    question = select_many(
        col(Receipt.job_id), func.count().label("receipts"), func.min(col(Receipt.received_at)).label("received_at")
    )
    return question.where(col(Receipt.job_id).in_(JOB_IDS)).group_by(col(Receipt.job_id)).subquery()


def _recipes() -> Subquery:
    successor = another(Recipe)
    asked = (
        select_many(func.sum(col(RecipeGroup.blocks)))
        .where(col(RecipeGroup.recipe_id) == col(Recipe.id))
        .scalar_subquery()
    )
    replaced = select_many(successor.id).where(successor.replaces_id == col(Recipe.id)).exists()
    return (
        select_many(
            col(Recipe.job_id),
            func.count().label("recipes"),
            func.coalesce(func.sum(asked), 0).label("planned"),
        )
        .where(col(Recipe.job_id).in_(JOB_IDS), col(Recipe.dropped_at).is_(None), ~replaced)
        .group_by(col(Recipe.job_id))
        .subquery()
    )


def _batches() -> Subquery:
    return (
        select_many(
            col(Recipe.job_id),
            func.count().label("batches"),
            func.count(col(Batch.mixed_at)).label("mixed"),
            func.max(col(Batch.mixed_at)).label("last_mixed_at"),
        )
        .select_from(Recipe)
        .join(Batch, col(Batch.recipe_id) == col(Recipe.id))
        .where(col(Recipe.job_id).in_(JOB_IDS))
        .group_by(col(Recipe.job_id))
        .subquery()
    )


def _blocks() -> Subquery:
    cycled = (
        select_many(func.max(col(WetDryCycle.done_at)))
        .where(col(WetDryCycle.block_id) == col(Block.id), col(WetDryCycle.ended_at).is_(None))
        .scalar_subquery()
    )
    dried = and_(col(Absorption.id).is_not(None), col(Absorption.state_before) == "oven-dry")
    wetted = and_(func.coalesce(RecipeGroup.test, "") == "absorption", col(Absorption.id).is_not(None))
    used = or_(col(Flexure.id).is_not(None), col(Erosion.id).is_not(None), cycled.is_not(None), dried, wetted)
    waiting = and_(col(Crushing.id).is_(None), col(Block.lost_at).is_(None), not_(used))
    pressed_s = extract("epoch", col(Block.pressed_at))
    age_s = NOW_S - pressed_s
    due_s = col(RecipeGroup.age_days) * SECONDS_PER_DAY
    slack_s = col(RecipeGroup.tolerance_hours) * SECONDS_PER_HOUR
    return (
        select_many(
            col(Recipe.job_id),
            func.count().label("blocks"),
            func.count(col(Block.lost_at)).label("lost"),
            _how_many(used).label("tested"),
            _how_many(waiting).label("waiting"),
            _how_many(and_(waiting, age_s >= due_s - slack_s)).label("due"),
            _how_many(and_(waiting, age_s > due_s + slack_s)).label("late"),
            func.min(case((waiting, pressed_s + due_s))).label("next_due_s"),
            func.count(col(Crushing.id)).label("crushed"),
            func.max(col(Crushing.crushed_at)).label("last_crushed_at"),
            func.max(col(Flexure.done_at)).label("bent_at"),
            func.max(col(Erosion.done_at)).label("worn_at"),
            func.max(cycled).label("cycled_at"),
            func.max(func.coalesce(col(Absorption.weighed_at), col(Absorption.wetted_at))).label("wetted_at"),
        )
        .select_from(Recipe)
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .outerjoin(Crushing, stands_on_block(Crushing))
        .outerjoin(Flexure, stands_on_block(Flexure))
        .outerjoin(Erosion, stands_on_block(Erosion))
        .outerjoin(Absorption, stands_on_block(Absorption))
        .where(col(Recipe.job_id).in_(JOB_IDS))
        .group_by(col(Recipe.job_id))
        .subquery()
    )


def _how_many(condition: ColumnElement[bool]) -> ColumnElement[int]:
    return func.sum(case((condition, 1), else_=0))


def _issued() -> Subquery:
    counts = col(IssuedResult.withdrawn_at).is_(None)
    return (
        select_many(
            col(IssuedResult.job_id),
            _how_many(counts).label("issued"),
            func.count(col(IssuedResult.withdrawn_at)).label("withdrawn"),
            func.max(case((counts, col(IssuedResult.issued_at)))).label("last_issued_at"),
        )
        .where(col(IssuedResult.job_id).in_(JOB_IDS))
        .group_by(col(IssuedResult.job_id))
        .subquery()
    )


def _asked() -> Subquery:
    of_customer = col(Person.customer_id).is_not(None)
    written_at = col(Message.created_at)
    asked_at, answered_at = func.max(case((of_customer, written_at))), func.max(case((~of_customer, written_at)))
    waits = case((and_(asked_at.is_not(None), or_(answered_at.is_(None), asked_at > answered_at)), 1), else_=0)
    return (
        select_many(col(Message.job_id), waits.label("asked"))
        .join(Person, col(Person.id) == col(Message.person_id))
        .where(col(Message.job_id).in_(JOB_IDS))
        .group_by(col(Message.job_id))
        .subquery()
    )


def _mentions(words: str) -> ColumnElement[bool]:
    labelled_blocks = (
        select_many(col(Block.id))
        .select_from(Recipe)
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .where(col(Recipe.job_id) == col(Job.id), col(Block.label).icontains(words, autoescape=True))
    )
    labelled_sacks = select_many(col(Receipt.id)).where(
        col(Receipt.job_id) == col(Job.id), col(Receipt.label).icontains(words, autoescape=True)
    )
    named = select_many(col(Customer.id)).where(
        col(Customer.id) == col(Job.customer_id), col(Customer.name).icontains(words, autoescape=True)
    )
    return or_(
        cast(col(Job.number), String) == words,
        col(Job.site).icontains(words, autoescape=True),
        named.exists(),
        labelled_sacks.exists(),
        labelled_blocks.exists(),
    )
