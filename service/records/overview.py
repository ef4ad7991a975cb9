"""The weeks of the shop: what came, was pressed, crushed and issued in a window of weeks, and what runs out.

Each question takes a window by an index, or begins at the open jobs: none goes through the years.
"""

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from sqlalchemy import Integer, cast, extract, func
from sqlalchemy import select as select_many
from sqlmodel import Session, col, select

from service.records.base import another
from service.records.blocks import Block
from service.records.crushings import Crushing
from service.records.customers import Customer
from service.records.durability_tests import is_over, used_up
from service.records.jobs import Job
from service.records.materials import Material, Receipt
from service.records.presses import Calibration, Gauge, Press
from service.records.recipes import Recipe, RecipeGroup
from service.records.results import IssuedResult

WEEK_S = 7 * 86_400
LISTED = 50


class Answered(NamedTuple):
    """A job whose first result was issued: when its first sack came, and when that was."""

    number: int
    received_at: datetime
    issued_at: datetime


def per_week(session: Session, moment: Any, *, since: datetime, until: datetime) -> dict[int, int]:
    """Return how many rows have a moment in each week since one, counted from it; by the index of that column."""
    week = cast(func.floor((extract("epoch", moment) - since.timestamp()) / WEEK_S), Integer)
    question = select_many(week, func.count()).where(moment >= since, moment < until).group_by(week)
    return {int(number): count for number, count in session.execute(question)}


def sacks(session: Session, *, since: datetime, until: datetime) -> dict[int, int]:
    """Return how many sacks came in each week."""
    return per_week(session, col(Receipt.received_at), since=since, until=until)


def pressed(session: Session, *, since: datetime, until: datetime) -> dict[int, int]:
    """Return how many blocks were pressed in each week."""
    return per_week(session, col(Block.pressed_at), since=since, until=until)


def crushed(session: Session, *, since: datetime, until: datetime) -> dict[int, int]:
    """Return how many crushings were recorded of each week, corrected ones too."""
    return per_week(session, col(Crushing.crushed_at), since=since, until=until)


def answered(session: Session, *, since: datetime) -> list[Answered]:
    """Return the jobs whose first result was issued since a moment."""
    first = select(func.min(col(Receipt.received_at))).where(Receipt.job_id == Job.id).scalar_subquery()
    question = (
        select_many(col(Job.number), first, col(IssuedResult.issued_at))
        .join(Job, col(Job.id) == col(IssuedResult.job_id))
        .where(col(IssuedResult.issued_at) >= since, col(IssuedResult.number) == 1)
    )
    return [Answered(*row) for row in session.execute(question) if row[1] is not None]


def coming(session: Session) -> Sequence[tuple[datetime, float]]:
    """Return when each whole block of the open jobs was pressed that still waits, and at how many days it is due."""
    standing = select(Crushing.id).where(Crushing.block_id == Block.id, col(Crushing.ended_at).is_(None)).exists()
    question = (
        select_many(col(Block.pressed_at), col(RecipeGroup.age_days))
        .select_from(Job)
        .join(Recipe, col(Recipe.job_id) == col(Job.id))
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .where(col(Job.closed_at).is_(None), col(Block.lost_at).is_(None), ~standing)
        .where(used_up(col(Block.id)).is_(None), ~is_over(col(Block.id)))
    )
    return [(pressed_at, age) for pressed_at, age in session.execute(question)]


def late_jobs(session: Session, *, today: date) -> list[tuple[Job, Customer]]:
    """Return the open jobs that were promised for an earlier day and have no result that stands, the latest first."""
    told = (
        select(IssuedResult.id).where(IssuedResult.job_id == Job.id, col(IssuedResult.withdrawn_at).is_(None)).exists()
    )
    question = (
        select(Job, Customer)
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .where(col(Job.closed_at).is_(None), col(Job.promised_on) < today, ~told)
    )
    found = session.exec(question.order_by(col(Job.promised_on), col(Job.number)).limit(LISTED))
    return [(job, customer) for job, customer in found]


def calibrations_ending(session: Session, *, by: date) -> list[tuple[Press, Gauge, date | None]]:
    """Return the gauges in use whose newest calibration ends by a day, or that have none."""
    replaced = another(Calibration)
    newest = (
        select(func.max(col(Calibration.valid_until)))
        .where(Calibration.gauge_id == Gauge.id)
        .where(~select(replaced.id).where(replaced.replaces_id == Calibration.id).exists())
        .scalar_subquery()
    )
    question: Any = (
        select_many(Press, Gauge, newest)
        .join(Gauge, col(Gauge.press_id) == col(Press.id))
        .where(col(Press.ended_at).is_(None), col(Gauge.ended_at).is_(None), col(Press.crushes))
        .order_by(col(Press.name), col(Gauge.name))
    )
    return [(press, gauge, end) for press, gauge, end in session.execute(question) if end is None or end <= by]


def to_discard(session: Session, *, by: date) -> list[tuple[Receipt, Job]]:
    """Return the sacks of which something is kept until a day that comes soon or has passed, the oldest first."""
    question = select(Receipt, Job).join(Job, col(Job.id) == col(Receipt.job_id))
    question = question.where(
        col(Receipt.retained_until).is_not(None), col(Receipt.discarded_at).is_(None), col(Receipt.retained_until) <= by
    )
    found = session.exec(question.order_by(col(Receipt.retained_until), col(Receipt.label)).limit(LISTED))
    return [(receipt, job) for receipt, job in found]


def past_good(session: Session, *, by: date) -> list[Material]:
    """Return the shop's materials on the shelf whose day comes soon or has passed, the oldest first."""
    question = select(Material).where(
        col(Material.customer_id).is_(None), col(Material.ended_at).is_(None), col(Material.good_until) <= by
    )
    return list(session.exec(question.order_by(col(Material.good_until), col(Material.name)).limit(LISTED)))
