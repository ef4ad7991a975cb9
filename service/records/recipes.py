"""Recipes: what goes in, how hard it is pressed, and how many blocks are crushed in which state at which age."""

from collections.abc import Collection
from datetime import date, datetime
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import BigInteger, CheckConstraint, ForeignKeyConstraint, Index, UniqueConstraint
from sqlalchemy import select as select_many
from sqlmodel import Field, Session, col, func, select

from service.records.base import IDS, Raw, Row, another, fraction, not_blank, not_negative, one_of, positive, together
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.versions import one_where

MOISTURE_BASES = ("dry mix", "dry soil")
ROLES = ("component", "stabiliser")
SHARE_BASES = ("blend", "dry soil", "dry mix")
GIVEN_AS = ("mass", "volume")
# Of so many of the newest recipes are the plans that can be repeated, and so many plans are offered.
LATELY, OFFERED = 24, 3
CONDITIONS = ("as cured", "air-dry", "oven-dry", "soaked")
# What blocks can be set aside for instead of crushing, by the words of durability_tests.TABLES.
TESTS = ("absorption", "bending", "erosion", "cycles")


class Recipe(Raw, table=True):
    """One mix to try. Once a batch of it exists it is never edited; a new one replaces it."""

    __table_args__ = (
        UniqueConstraint("job_id", "label"),
        *not_blank("label"),
        *not_negative("target_moisture"),
        one_of("moisture_basis", MOISTURE_BASES),
        *positive("press_stress_mpa", "press_stroke_mm", "batches"),
        together("dropped_at", "dropped_because"),
        Index(None, "created_at"),
        CheckConstraint("replaces_id <> id", name="replaces_other"),
        ForeignKeyConstraint(["replaces_id"], ["recipe.id"]),
    )

    job_id: UUID = Field(foreign_key="job.id", index=True)
    label: str
    target_moisture: float
    moisture_basis: str = "dry mix"
    press_stress_mpa: float | None = None
    press_stroke_mm: float | None = None
    mould_id: UUID = Field(foreign_key="mould.id")
    batches: int = 1
    mix_on: date | None = None
    draw_seed: int = Field(sa_type=BigInteger)
    replaces_id: UUID | None = Field(default=None, unique=True)
    dropped_at: datetime | None = None
    dropped_because: str | None = None


class RecipePart(Row, table=True):
    """A material in a recipe, with its share and what it is a share of."""

    __table_args__ = (
        UniqueConstraint("recipe_id", "material_id"),
        UniqueConstraint("recipe_id", "position"),
        one_of("role", ROLES),
        one_of("basis", SHARE_BASES),
        one_of("given_as", GIVEN_AS),
        *fraction("share"),
        *positive("typed_parts"),
        CheckConstraint("(role = 'component') = (basis = 'blend')", name="component_of_blend"),
    )

    recipe_id: UUID = Field(foreign_key="recipe.id")
    position: int
    material_id: UUID = Field(foreign_key="material.id", index=True)
    role: str
    share: float
    basis: str
    given_as: str = "mass"
    typed_parts: float | None = None


class PartVolume(Raw, table=True):
    """How heavily a material lay when its parts by volume were turned into a share: measured, or taken from somewhere.

    ``damp`` tells whether it was the mass of a litre as it lies, with the water that it held then.
    """

    __table_args__ = (*positive("density_kg_m3"), *not_negative("moisture"), *not_blank("taken_from"))

    recipe_part_id: UUID = Field(foreign_key="recipe_part.id", unique=True)
    density_kg_m3: float
    damp: bool
    moisture: float | None = None
    taken_from: str | None = None


class RecipeGroup(Row, table=True):
    """So many blocks of a recipe, crushed in one state at one age, or for one other test."""

    __table_args__ = (
        one_where("uq_recipe_group_crushed", ("recipe_id", "condition", "age_days"), "test IS NULL"),
        one_where("uq_recipe_group_tested", ("recipe_id", "test"), "test IS NOT NULL"),
        one_of("condition", CONDITIONS),
        one_of("test", TESTS),
        CheckConstraint("test IS NULL OR soak_hours IS NULL", name="test_not_soaked"),
        *positive("age_days", "soak_hours", "blocks"),
        *not_negative("tolerance_hours"),
        CheckConstraint("(condition = 'soaked') = (soak_hours IS NOT NULL)", name="soaked_has_hours"),
        CheckConstraint("soak_hours_max >= soak_hours AND soak_hours_max < 1e9", name="soak_hours_max_after"),
        CheckConstraint("soak_hours_max IS NULL OR soak_hours IS NOT NULL", name="soak_hours_max_soaked"),
    )

    recipe_id: UUID = Field(foreign_key="recipe.id", index=True)
    condition: str
    age_days: float
    tolerance_hours: float
    soak_hours: float | None = None
    soak_hours_max: float | None = None
    blocks: int
    test: str | None = None


# The order in which the lot knows the groups of a recipe; one test stands there once.
IN_ORDER: tuple[Any, ...] = (col(RecipeGroup.age_days), col(RecipeGroup.condition), func.coalesce(RecipeGroup.test, ""))


class WholeRecipe(NamedTuple):
    """A recipe with its parts in order, its groups, and by part how heavily it lay where parts are by volume."""

    recipe: Recipe
    parts: list[RecipePart]
    groups: list[RecipeGroup]
    volumes: dict[UUID, PartVolume]


def recipes_of_job(session: Session, job_id: UUID) -> list[WholeRecipe]:
    """Return every recipe of a job, dropped and replaced ones too, in two statements."""
    return recipes_of_jobs(session, [job_id])


def planned_days(session: Session, job_ids: list[UUID]) -> dict[UUID, tuple[date | None, float]]:
    """Return, of the recipes in force of some jobs, the last day of mixing that is planned and the greatest age."""
    successor = another(Recipe)
    replaced = select(successor.id).where(successor.replaces_id == col(Recipe.id)).exists()
    question = (
        select(Recipe.job_id, func.max(col(Recipe.mix_on)), func.max(col(RecipeGroup.age_days)))
        .join(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .where(col(Recipe.job_id).in_(job_ids), col(Recipe.dropped_at).is_(None), ~replaced)
        .group_by(col(Recipe.job_id))
    )
    return {job_id: (mix_on, age_days) for job_id, mix_on, age_days in session.exec(question)}


def recipes_of_jobs(session: Session, job_ids: Collection[UUID]) -> list[WholeRecipe]:
    """Return every recipe of some jobs, by their letters, in two statements."""
    whole: dict[UUID, WholeRecipe] = {}
    for recipe, group in session.exec(_of_jobs(), params={"ids": list(job_ids)}):
        one = whole.setdefault(recipe.id, WholeRecipe(recipe, [], [], {}))
        if group is not None:
            one.groups.append(group)
    return _with_parts(session, whole)


@cache
def _of_jobs() -> Any:
    return (
        select(Recipe, RecipeGroup)
        .outerjoin(RecipeGroup, col(RecipeGroup.recipe_id) == col(Recipe.id))
        .where(col(Recipe.job_id).in_(IDS))
        .order_by(col(Recipe.label), col(Recipe.id), *IN_ORDER)
    )


@cache
def _parts_of() -> Any:
    return (
        select(RecipePart, PartVolume)
        .outerjoin(PartVolume, col(PartVolume.recipe_part_id) == col(RecipePart.id))
        .where(col(RecipePart.recipe_id).in_(IDS))
        .order_by(col(RecipePart.position))
    )


def recipe(session: Session, recipe_id: UUID) -> WholeRecipe | None:
    """Return one recipe with its parts and groups."""
    found = session.get(Recipe, recipe_id)
    return None if found is None else _whole(session, [found])[0]


def newest_recipe(session: Session) -> WholeRecipe | None:
    """Return the recipe that was planned last in the whole shop: what was used once is offered again."""
    question = select(Recipe).order_by(col(Recipe.created_at).desc(), col(Recipe.id)).limit(1)
    found = session.exec(question).one_or_none()
    return None if found is None else _whole(session, [found])[0]


def newest_of_job(session: Session, job_id: UUID) -> WholeRecipe | None:
    """Return the recipe of a job that was planned last."""
    question = select(Recipe).where(Recipe.job_id == job_id).order_by(col(Recipe.created_at).desc(), col(Recipe.id))
    found = session.exec(question.limit(1)).one_or_none()
    return None if found is None else _whole(session, [found])[0]


class PlannedJob(NamedTuple):
    """A job with the letters of its recipes in force."""

    number: int
    customer: str
    labels: list[str]


def planned_lately(session: Session, customer_id: UUID, *, but: UUID) -> list[PlannedJob]:
    """Return the jobs for which recipes were planned last, those of a customer first; a few of the newest recipes."""
    rows = (
        select_many(col(Job.id), col(Job.number), col(Job.customer_id), col(Customer.name), col(Recipe.label))
        .select_from(Recipe)
        .join(Job, col(Job.id) == col(Recipe.job_id))
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .where(col(Recipe.dropped_at).is_(None))
    )
    own = (
        rows.where(col(Job.customer_id) == customer_id)
        .order_by(col(Job.number).desc(), col(Recipe.label))
        .limit(LATELY)
    )
    newest = rows.order_by(col(Recipe.created_at).desc()).limit(LATELY)
    found: dict[UUID, PlannedJob] = {}
    for job_id, number, _, customer, label in [*session.execute(own), *session.execute(newest)]:
        if job_id != but:
            labels = found.setdefault(job_id, PlannedJob(number, customer, [])).labels
            if label not in labels:
                labels.append(label)
    return [PlannedJob(one.number, one.customer, sorted(one.labels)) for one in list(found.values())[:OFFERED]]


def _whole(session: Session, recipes: list[Recipe]) -> list[WholeRecipe]:
    whole = {each.id: WholeRecipe(each, [], [], {}) for each in recipes}
    groups = select(RecipeGroup).where(col(RecipeGroup.recipe_id).in_(whole))
    for group in session.exec(groups.order_by(*IN_ORDER)):
        whole[group.recipe_id].groups.append(group)
    return _with_parts(session, whole)


def _with_parts(session: Session, whole: dict[UUID, WholeRecipe]) -> list[WholeRecipe]:
    if not whole:
        return []
    for part, volume in session.exec(_parts_of(), params={"ids": list(whole)}):
        whole[part.recipe_id].parts.append(part)
        if volume is not None:
            whole[part.recipe_id].volumes[part.id] = volume
    return list(whole.values())
