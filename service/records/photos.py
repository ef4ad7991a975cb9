"""Photos of a sack, a block or a job."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any, Literal, NamedTuple
from uuid import UUID

from sqlalchemy import ColumnElement
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, func, or_, select

from service.errors import NotFound
from service.records.base import Row, Sha256, exactly_one
from service.records.batches import Batch
from service.records.blocks import Block
from service.records.jobs import Job
from service.records.materials import Receipt
from service.records.people import Person
from service.records.recipes import Recipe

Of = Literal["sack", "block", "job"]


class Photo(Row, table=True):
    """One picture and what it shows; a removed one is no longer shown, and its row stays."""

    __table_args__ = (exactly_one("receipt_id", "block_id", "job_id"),)

    sha256: str = Field(sa_type=Sha256, foreign_key="file.sha256")
    receipt_id: UUID | None = Field(default=None, foreign_key="receipt.id", index=True)
    block_id: UUID | None = Field(default=None, foreign_key="block.id", index=True)
    job_id: UUID | None = Field(default=None, foreign_key="job.id", index=True)
    taken_at: datetime
    taken_by: UUID = Field(foreign_key="person.id")
    shown: bool = False
    removed_at: datetime | None = None


COLUMNS: dict[Of, Any] = {"sack": Photo.receipt_id, "block": Photo.block_id, "job": Photo.job_id}
# Whose job a photo belongs to, by whichever of its three links is filled.
_JOB: Any = func.coalesce(col(Photo.job_id), col(Receipt.job_id), col(Recipe.job_id))


class PlacedPhoto(NamedTuple):
    """A photo that was not removed, who took it, and the job, sack or block it belongs to."""

    photo: Photo
    by: str
    job: Job
    sack: str | None
    block: str | None


def _with_things(question: Any) -> Any:
    return (
        question.outerjoin(Receipt, col(Receipt.id) == col(Photo.receipt_id))
        .outerjoin(Block, col(Block.id) == col(Photo.block_id))
        .outerjoin(Batch, col(Batch.id) == col(Block.batch_id))
        .outerjoin(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Photo.removed_at).is_(None))
    )


def _placed() -> Any:
    wanted = select_many(Photo, col(Person.name), Job, col(Receipt.label), col(Block.label)).select_from(Photo)
    with_person = wanted.join(Person, col(Person.id) == col(Photo.taken_by))
    return _with_things(with_person).join(Job, col(Job.id) == _JOB)


def _of_jobs(job_ids: Sequence[UUID]) -> ColumnElement[bool]:
    # Three lists of ids, each with its index, instead of a look at every photo of the shop.
    sacks = select(Receipt.id).where(col(Receipt.job_id).in_(job_ids))
    blocks = (
        select(Block.id)
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Recipe.job_id).in_(job_ids))
    )
    found: ColumnElement[bool] = or_(
        col(Photo.job_id).in_(job_ids), col(Photo.receipt_id).in_(sacks), col(Photo.block_id).in_(blocks)
    )
    return found


def _newest_first() -> tuple[Any, Any]:
    return col(Photo.taken_at).desc(), col(Photo.id)


def visible(session: Session, photo_id: UUID, *, seen_by: UUID | None) -> PlacedPhoto:
    """Return a photo, or the same NotFound for one that is missing, removed, or not for this customer."""
    found = session.exec(_placed().where(col(Photo.id) == photo_id)).one_or_none()
    if found is None or (seen_by is not None and not (found[0].shown and found[2].customer_id == seen_by)):
        raise NotFound("There is no such photo.")
    return PlacedPhoto(*found)


def of_thing(session: Session, of: Of, thing_id: UUID) -> list[PlacedPhoto]:
    """Return the photos of one sack, block or job itself, newest first."""
    question = _placed().where(COLUMNS[of] == thing_id).order_by(*_newest_first())
    return [PlacedPhoto(*row) for row in session.exec(question)]


def page_of_job(
    session: Session, job_id: UUID, *, shown_only: bool, page: int, size: int
) -> tuple[list[PlacedPhoto], int]:
    """Return a page of everything that was photographed in a job, newest first, and how many there are."""
    wanted = [_of_jobs([job_id]), *([col(Photo.shown).is_(True)] if shown_only else [])]
    total = session.exec(select(func.count()).select_from(Photo).where(*wanted, col(Photo.removed_at).is_(None))).one()
    question = _placed().where(*wanted).order_by(*_newest_first()).limit(size).offset((page - 1) * size)
    return [PlacedPhoto(*row) for row in session.exec(question)], total


def newest_of_jobs(
    session: Session, job_ids: Sequence[UUID], *, shown_only: bool, most: int
) -> dict[UUID, list[PlacedPhoto]]:
    """Return the newest photos of several jobs, at most so many of each, in one statement."""
    place = func.row_number().over(partition_by=_JOB, order_by=_newest_first()).label("place")
    ranked = _with_things(select_many(col(Photo.id).label("id"), place).select_from(Photo)).where(_of_jobs(job_ids))
    if shown_only:
        ranked = ranked.where(col(Photo.shown).is_(True))
    found = ranked.subquery()
    question = _placed().join(found, found.c.id == col(Photo.id)).where(found.c.place <= most)
    by_job: dict[UUID, list[PlacedPhoto]] = {}
    for row in session.exec(question.order_by(*_newest_first())):
        by_job.setdefault(row[2].id, []).append(PlacedPhoto(*row))
    return by_job
