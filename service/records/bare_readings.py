"""The blocks of many jobs with their standing crushings, read bare: only the columns that a reading is made from.

A whole row of every table that a block touches takes ten times as long to read, which a page of one job does not feel
and a table of all jobs does.
"""

from collections import namedtuple
from collections.abc import Collection, Iterator, Sequence
from functools import cache, lru_cache
from typing import Any
from uuid import UUID

from sqlalchemy import Select, String, and_, bindparam, case, func, type_coerce
from sqlalchemy import select as select_many
from sqlalchemy.types import Uuid
from sqlmodel import AutoString, Session, col, select

from service.records import presses
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block, BlockHeight, Soak
from service.records.crushings import Crushing
from service.records.durability_tests import used_up
from service.records.people import Person
from service.records.presses import PressSession
from service.records.recipes import IN_ORDER, Recipe, RecipeGroup, RecipePart, WholeRecipe
from service.records.result_queries import TriedBlock, TriedCrushing

OF_BLOCK = ("id", "label", "pressed_at", "length_mm", "width_mm", "wet_mass_kg", "cracked_because", "lost_at")
OF_CRUSHING = (
    *("outcome", "state", "gauge_mpa", "peak_read", "orientation", "faces", "length_mm", "width_mm", "height_mm"),
    *("mass_kg", "water_hours", "out_of_water_min", "loading_s", "failure", "spoiled_because", "remark", "crushed_at"),
    *("as_read", "gauge_id", "press_session_id", "crushed_by", "ended_at"),
)
OF_BATCH = ("id", "recipe_id", "number", "water_kg", "mixed_at", "covered_at", "uncovered_at")
OF_GROUP = ("id", "condition", "age_days", "tolerance_hours", "soak_hours", "soak_hours_max", "test")
OF_RECIPE = ("id", "job_id", "label", "moisture_basis", "target_moisture")
OF_PART = ("id", "recipe_id", "material_id", "role", "share", "basis")
OF_WEIGHED = ("batch_id", "recipe_part_id", "moisture", "weighed_kg")
_Block = namedtuple("_Block", (*OF_BLOCK, "lost_because"))  # type: ignore[misc]
_Crushing = namedtuple("_Crushing", OF_CRUSHING)  # type: ignore[misc]
_Stay = namedtuple("_Stay", ("started_at", "ended_at"))
_Batch = namedtuple("_Batch", OF_BATCH)  # type: ignore[misc]
_Group = namedtuple("_Group", OF_GROUP)  # type: ignore[misc]
_Recipe = namedtuple("_Recipe", OF_RECIPE)  # type: ignore[misc]
_Part = namedtuple("_Part", OF_PART)  # type: ignore[misc]
_Weighed = namedtuple("_Weighed", OF_WEIGHED)  # type: ignore[misc]
# Identities that only lead from row to row stay as the database gives them, and so do texts: making them anew is a
# quarter of all.
RAW = frozenset({"id", "recipe_id", "recipe_part_id", "batch_id", "gauge_id", "press_session_id", "crushed_by"})
JOB_IDS: Any = bindparam("job_ids", expanding=True, type_=Uuid())
BLOCK_ENDS, CRUSHING_ENDS = len(OF_BLOCK) + 1, len(OF_BLOCK) + 1 + len(OF_CRUSHING)


def bare_readings(session: Session, job_ids: Collection[UUID]) -> list[TriedBlock]:
    """Return every block of some jobs with its standing crushing; corrections and other tests are left out.

    What stands in place of a row of a table has the columns that readings are made from, and no others.
    """
    given = {"job_ids": list(job_ids)}
    rows = _rows(session, _blocks(), given)
    batches: dict[Any, Any] = {row[0]: _Batch._make(row) for row in _rows(session, _of_recipes(Batch, OF_BATCH), given)}
    groups: dict[Any, Any] = {
        row[0]: _Group._make(row) for row in _rows(session, _of_recipes(RecipeGroup, OF_GROUP), given)
    }
    stays: dict[UUID, list[Any]] = {}
    for block_id, started_at, ended_at in _rows(session, _stays(), given):
        stays.setdefault(block_id, []).append(_Stay(started_at, ended_at))
    crushed: list[Any] = [_Crushing._make(row[BLOCK_ENDS:CRUSHING_ENDS]) for row in rows]
    gauges = presses.gauges_by_id(session, {_made(one.gauge_id) for one in crushed if one.gauge_id})
    people = _by_id(session, Person, {_made(one.crushed_by) for one in crushed if one.outcome})
    used = {_made(one.press_session_id) for one in crushed if one.press_session_id}
    sessions = _by_id(session, PressSession, used)

    def tried(one: Any) -> list[TriedCrushing]:
        if one.outcome is None:
            return []
        gauge, press = gauges[_made(one.gauge_id)] if one.gauge_id else (None, None)
        session_id = one.press_session_id
        press_session = sessions[_made(session_id)] if session_id else None
        return [TriedCrushing(one, people[_made(one.crushed_by)], gauge, press, press_session)]

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


def bare_recipes(session: Session, job_ids: Collection[UUID]) -> list[WholeRecipe]:
    """Return every recipe of some jobs with its parts, without groups and volumes."""
    given = {"job_ids": list(job_ids)}
    recipes: dict[Any, WholeRecipe] = {}
    for row in _rows(session, _recipes(), given):
        bare: Any = _Recipe._make(row)
        recipes[bare.id] = WholeRecipe(bare, [], [], {})
    for row in _rows(session, _of_recipes(RecipePart, OF_PART).order_by(col(RecipePart.position)), given):
        part: Any = _Part._make(row)
        recipes[part.recipe_id].parts.append(part)
    return list(recipes.values())


def bare_weighings(session: Session, job_ids: Collection[UUID]) -> dict[UUID, list[Any]]:
    """Return what was weighed into each mixed batch of some jobs, by batch."""
    question = (
        select_many(*_columns(BatchPart, OF_WEIGHED))
        .join(Batch, col(Batch.id) == col(BatchPart.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Recipe.job_id).in_(JOB_IDS), col(Batch.mixed_at).is_not(None))
        .order_by(col(BatchPart.created_at))
    )
    found: dict[UUID, list[Any]] = {}
    for row in _rows(session, question, {"job_ids": list(job_ids)}):
        found.setdefault(row[0], []).append(_Weighed._make(row))
    return found


@cache
def _recipes() -> Any:
    question = select_many(*_columns(Recipe, OF_RECIPE)).where(col(Recipe.job_id).in_(JOB_IDS))
    return question.order_by(col(Recipe.label), col(Recipe.id))


@cache
def _blocks() -> Select[Any]:
    height = select(func.avg(BlockHeight.height_mm)).where(BlockHeight.block_id == Block.id).scalar_subquery()
    used = case((col(Crushing.id).is_(None), used_up(col(Block.id))))
    return (
        select_many(
            *_columns(Block, (*OF_BLOCK, "lost_because")),
            *_columns(Crushing, OF_CRUSHING),
            *(_raw(Block.batch_id), _raw(Block.recipe_group_id), height, used),
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
        select_many(_raw(Soak.block_id), col(Soak.started_at), col(Soak.ended_at))
        .select_from(Recipe)
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .join(Block, col(Block.recipe_group_id) == col(RecipeGroup.id))
        .join(Soak, col(Soak.block_id) == col(Block.id))
        .where(col(Recipe.job_id).in_(JOB_IDS))
        .order_by(col(Soak.started_at))
    )


@cache
def _of_recipes(table: Any, columns: tuple[str, ...]) -> Any:
    question = select_many(*_columns(table, columns))
    return question.join(Recipe, col(Recipe.id) == col(table.recipe_id)).where(col(Recipe.job_id).in_(JOB_IDS))


def _rows(session: Session, question: Any, given: dict[str, Any]) -> Sequence[Any]:
    # Without the mapper, which has no object to make here.
    return session.connection().execute(question, given).all()


def _columns(table: Any, names: tuple[str, ...]) -> list[Any]:
    return [_raw(one) if name in RAW or isinstance(one.type, AutoString) else one for name, one in _named(table, names)]


def _named(table: Any, names: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
    return ((name, getattr(table, name)) for name in names)


def _raw(column: Any) -> Any:
    return type_coerce(column, String())


@lru_cache(maxsize=4096)
def _made(raw: Any) -> UUID:
    """Return an identity out of what the database gave: PostgreSQL gives it made, SQLite its digits."""
    return raw if isinstance(raw, UUID) else UUID(raw)


def _by_id(session: Session, table: Any, ids: Collection[UUID]) -> dict[UUID, Any]:
    return {one.id: one for one in session.exec(select(table).where(col(table.id).in_(ids)))}
