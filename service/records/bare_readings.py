"""The blocks of many jobs with their standing crushings, read bare: only the columns that a reading is made from.

A whole row of every table that a block touches takes ten times as long to read, which a page of one job does not feel
and a table of all jobs does.
"""

from collections import namedtuple
from collections.abc import Collection
from functools import cache
from typing import Any
from uuid import UUID

from sqlalchemy import Select, and_, bindparam, case, func
from sqlalchemy import select as select_many
from sqlalchemy.types import Uuid
from sqlmodel import Session, col, select

from service.records import presses
from service.records.batches import Batch
from service.records.blocks import Block, BlockHeight, Soak
from service.records.crushings import Crushing
from service.records.durability_tests import used_up
from service.records.people import Person
from service.records.presses import PressSession
from service.records.recipes import IN_ORDER, Recipe, RecipeGroup
from service.records.result_queries import TriedBlock, TriedCrushing

OF_BLOCK = ("id", "label", "pressed_at", "length_mm", "width_mm", "wet_mass_kg", "cracked_because", "lost_at")
OF_CRUSHING = (
    *("outcome", "state", "gauge_mpa", "peak_read", "orientation", "faces", "length_mm", "width_mm", "height_mm"),
    *("mass_kg", "water_hours", "out_of_water_min", "loading_s", "failure", "spoiled_because", "remark", "crushed_at"),
    *("as_read", "gauge_id", "press_session_id", "crushed_by", "ended_at"),
)
_Block = namedtuple("_Block", (*OF_BLOCK, "lost_because"))  # type: ignore[misc]
_Crushing = namedtuple("_Crushing", OF_CRUSHING)  # type: ignore[misc]
_Stay = namedtuple("_Stay", ("started_at", "ended_at"))
JOB_IDS: Any = bindparam("job_ids", expanding=True, type_=Uuid())
BLOCK_ENDS, CRUSHING_ENDS = len(OF_BLOCK) + 1, len(OF_BLOCK) + 1 + len(OF_CRUSHING)


def bare_readings(session: Session, job_ids: Collection[UUID]) -> list[TriedBlock]:
    """Return every block of some jobs with its standing crushing; corrections and other tests are left out.

    What stands in place of a row of a table has the columns that readings are made from, and no others.
    """
    given = {"job_ids": list(job_ids)}
    rows = session.execute(_blocks(), given).all()
    batches = {one.id: one for one in session.exec(_of_jobs(Batch, Batch.recipe_id), params=given)}
    groups = {one.id: one for one in session.exec(_of_jobs(RecipeGroup, RecipeGroup.recipe_id), params=given)}
    stays: dict[UUID, list[Any]] = {}
    for block_id, started_at, ended_at in session.execute(_stays(), given):
        stays.setdefault(block_id, []).append(_Stay(started_at, ended_at))
    crushed: list[Any] = [_Crushing._make(row[BLOCK_ENDS:CRUSHING_ENDS]) for row in rows]
    gauges = presses.gauges_by_id(session, {one.gauge_id for one in crushed if one.gauge_id})
    people = _by_id(session, Person, {one.crushed_by for one in crushed if one.outcome})
    sessions = _by_id(session, PressSession, {one.press_session_id for one in crushed if one.press_session_id})

    def tried(one: Any) -> list[TriedCrushing]:
        if one.outcome is None:
            return []
        gauge, press = gauges.get(one.gauge_id, (None, None))
        return [TriedCrushing(one, people[one.crushed_by], gauge, press, sessions.get(one.press_session_id))]

    found = []
    for row, one in zip(rows, crushed, strict=True):
        block: Any = _Block._make(row[:BLOCK_ENDS])
        batch_id, group_id, height, used = row[CRUSHING_ENDS:]
        nothing: Any = None
        found.append(
            TriedBlock(
                *(block, groups[group_id], batches[batch_id], nothing, height, used, stays.get(block.id, [])),
                *(tried(one), None, None, None, {}),
            )
        )
    return found


@cache
def _blocks() -> Select[Any]:
    height = select(func.avg(BlockHeight.height_mm)).where(BlockHeight.block_id == Block.id).scalar_subquery()
    used = case((col(Crushing.id).is_(None), used_up(col(Block.id))))
    return (
        select_many(
            *(getattr(Block, name) for name in (*OF_BLOCK, "lost_because")),
            *(getattr(Crushing, name) for name in OF_CRUSHING),
            *(col(Block.batch_id), col(Block.recipe_group_id), height, used),
        )
        .select_from(Recipe)
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .outerjoin(Crushing, and_(col(Crushing.block_id) == col(Block.id), col(Crushing.ended_at).is_(None)))
        .where(col(Recipe.job_id).in_(JOB_IDS))
        .order_by(
            *(col(Recipe.label), *IN_ORDER),
            *(col(Batch.number), col(Block.position)),
        )
    )


@cache
def _stays() -> Any:
    return (
        select_many(col(Soak.block_id), col(Soak.started_at), col(Soak.ended_at))
        .select_from(Recipe)
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .join(Soak, col(Soak.block_id) == col(Block.id))
        .where(col(Recipe.job_id).in_(JOB_IDS))
        .order_by(col(Soak.started_at))
    )


def _of_jobs(table: Any, recipe_id: Any) -> Any:
    return select(table).join(Recipe, col(Recipe.id) == col(recipe_id)).where(col(Recipe.job_id).in_(JOB_IDS))


def _by_id(session: Session, table: Any, ids: Collection[UUID]) -> dict[UUID, Any]:
    return {one.id: one for one in session.exec(select(table).where(col(table.id).in_(ids)))}
