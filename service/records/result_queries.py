"""Everything that a job's result rests on, in few statements: a page that shows it all must not ask block by block."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from functools import cache
from typing import Any, NamedTuple
from uuid import UUID

from sqlalchemy import Date, and_, bindparam, func, union
from sqlalchemy import select as select_many
from sqlalchemy.orm import load_only
from sqlmodel import Session, col, select

from service.errors import NotFound
from service.records.base import IDS, another
from service.records.batches import Batch, BatchPart
from service.records.blocks import Block, BlockHeight, Soak
from service.records.criteria import CriterionCheck
from service.records.crushings import Crushing
from service.records.customers import Customer
from service.records.durability_tests import Absorption, Erosion, Flexure, WetDryCycle, stands_on_block, used_up
from service.records.jobs import Job, JobCriterion
from service.records.materials import Material, Price, valid_on
from service.records.people import Person
from service.records.presses import Gauge, Mould, Press, PressSession
from service.records.recipes import IN_ORDER, Recipe, RecipeGroup
from service.records.results import IssuedResult
from service.records.shop import Prior
from service.records.tokens import Ticket


class Setting(NamedTuple):
    """A job, whose it is, and what the shop knew of scatter before it."""

    job: Job
    customer: Customer
    prior: Prior | None


class TriedBlock(NamedTuple):
    """A block with group and batch, how high it stood, its stays in the water, every crushing and its other tests."""

    block: Block
    group: RecipeGroup
    batch: Batch
    mould: Mould
    height_mm: float | None
    used_up: str | None
    stays: list[Soak]
    crushings: list["TriedCrushing"]
    bent: "TriedBending | None"
    absorption: Absorption | None
    erosion: Erosion | None
    cycles: dict[int, WetDryCycle]

    @property
    def standing(self) -> "TriedCrushing | None":
        """The crushing that counts, if the block was crushed."""
        return next((one for one in self.crushings if one.crushing.ended_at is None), None)


class TriedCrushing(NamedTuple):
    """A crushing with its gauge and press, the press session of crushing it belongs to, and who typed it."""

    crushing: Crushing
    by: Person
    gauge: Gauge | None
    press: Press | None
    press_session: PressSession | None


class TriedBending(NamedTuple):
    """A standing bending with the gauge, press and press session it was read at, None where the force was read."""

    flexure: Flexure
    gauge: Gauge | None
    press: Press | None
    press_session: PressSession | None


class IssuedBefore(NamedTuple):
    """An issued result, who issued it, and its share links."""

    issued: IssuedResult
    by: Person
    links: list[Ticket]


def setting(session: Session, job_id: UUID) -> Setting:
    """Return a job with its customer and the prior adopted last, in one statement."""
    found = session.exec(_setting(), params={"job_id": job_id}).one_or_none()
    if found is None:
        raise NotFound("There is no such job.")
    return Setting(*found)


# Writing a statement down takes as long as asking it of a small shop; these are the same for every job.
@cache
def _setting() -> Any:
    newest = select(Prior.id).order_by(col(Prior.adopted_at).desc()).limit(1).scalar_subquery()
    return (
        select(Job, Customer, Prior)
        .join(Customer, col(Customer.id) == col(Job.customer_id))
        .outerjoin(Prior, col(Prior.id) == newest)
        .where(col(Job.id) == bindparam("job_id"))
    )


def batches_with_parts(session: Session, job_ids: Collection[UUID]) -> dict[UUID, list[BatchPart]]:
    """Return what was weighed into each mixed batch of some jobs, by batch."""
    by_batch: dict[UUID, list[BatchPart]] = {}
    for part in session.exec(_weighed(), params={"ids": list(job_ids)}):
        by_batch.setdefault(part.batch_id, []).append(part)
    return by_batch


@cache
def _weighed() -> Any:
    return (
        select(BatchPart)
        .join(Batch, col(Batch.id) == col(BatchPart.batch_id))
        .join(Recipe, col(Recipe.id) == col(Batch.recipe_id))
        .where(col(Recipe.job_id).in_(IDS), col(Batch.mixed_at).is_not(None))
        .order_by(col(BatchPart.created_at))
    )


def tried_blocks(session: Session, job_id: UUID) -> list[TriedBlock]:
    """Return every block of a job with all that happened to it, in one statement."""
    return _gathered(session.exec(_tried_of_job(), params={"job_id": job_id}))


@cache
def _tried_of_job() -> Any:
    gauge, press, press_session = another(Gauge), another(Press), another(PressSession)
    return (
        _tried()
        .add_columns(Flexure, gauge, press, press_session, Absorption, Erosion, WetDryCycle)
        .outerjoin(Flexure, stands_on_block(Flexure))
        .outerjoin(gauge, col(gauge.id) == col(Flexure.gauge_id))
        .outerjoin(press, col(press.id) == col(gauge.press_id))
        .outerjoin(press_session, col(press_session.id) == col(Flexure.press_session_id))
        .outerjoin(Absorption, stands_on_block(Absorption))
        .outerjoin(Erosion, stands_on_block(Erosion))
        .outerjoin(WetDryCycle, stands_on_block(WetDryCycle))
        .where(col(Recipe.job_id) == bindparam("job_id"))
        .order_by(col(WetDryCycle.number))
    )


def crushed_jobs(session: Session, *, most: int) -> list[tuple[UUID, int]]:
    """Return the newest jobs of which a block was crushed, newest first: which, and their numbers."""
    crushed = (
        select(Crushing.id)
        .join(Block, col(Block.id) == col(Crushing.block_id))
        .join(RecipeGroup, col(RecipeGroup.id) == col(Block.recipe_group_id))
        .join(Recipe, col(Recipe.id) == col(RecipeGroup.recipe_id))
        .where(col(Recipe.job_id) == col(Job.id))
        .exists()
    )
    return list(session.exec(select(Job.id, Job.number).where(crushed).order_by(col(Job.number).desc()).limit(most)))


def tried_blocks_of(session: Session, job_ids: Iterable[UUID]) -> tuple[list[TriedBlock], dict[UUID, tuple[str, UUID]]]:
    """Return every block of some jobs with all that happened to it but other tests, in one statement.

    Beside them label and job of their recipes.
    """
    question = _tried().add_columns(Recipe.label, Recipe.job_id).where(col(Recipe.job_id).in_(list(job_ids)))
    rows = session.exec(question).all()
    recipes = {row[2].recipe_id: (row[-2], row[-1]) for row in rows}
    return _gathered((*row[:-2], *NO_OTHER_TESTS) for row in rows), recipes


# What of a job an act may be about, by the name that the trail gives it.
BELONGS: dict[str, Any] = {
    "recipe": Recipe.id,
    "batch": Batch.id,
    "block": Block.id,
    "crushing": Crushing.id,
    "press_session": Crushing.press_session_id,
}


def jobs_that_own(session: Session, things: Mapping[str, Collection[UUID]]) -> set[UUID]:
    """Return the jobs that some things belong to, ids by kind, in one statement."""
    asked = [
        select_many(col(Recipe.job_id))
        .outerjoin(Batch, col(Batch.recipe_id) == col(Recipe.id))
        .outerjoin(Block, col(Block.batch_id) == col(Batch.id))
        .outerjoin(Crushing, col(Crushing.block_id) == col(Block.id))
        .where(col(BELONGS[kind]).in_(ids))
        for kind, ids in things.items()
    ]
    return set(session.execute(union(*asked)).scalars()) if asked else set()


NO_OTHER_TESTS = (None,) * 7
# What a result says of these. What else stands in a row is not unpacked for every block; it is there when asked for.
READ: dict[Any, tuple[str, ...]] = {
    Block: (
        "label",
        "pressed_at",
        "length_mm",
        "width_mm",
        "wet_mass_kg",
        "cracked_because",
        "lost_at",
        "lost_because",
    ),
    RecipeGroup: (
        *("recipe_id", "condition", "age_days", "tolerance_hours", "soak_hours", "soak_hours_max", "blocks", "test"),
    ),
    Batch: ("recipe_id", "number", "waste", "water_kg", "mixed_at", "mixed_by", "covered_at", "uncovered_at"),
    Mould: ("length_mm", "width_mm", "height_mm"),
    Soak: ("started_at", "ended_at"),
    Crushing: (
        *("created_at", "as_read", "ended_at", "ended_because", "outcome", "state", "gauge_mpa", "peak_read"),
        *("orientation", "faces", "length_mm", "width_mm", "height_mm", "mass_kg", "water_hours", "out_of_water_min"),
        *("loading_s", "failure", "spoiled_because", "remark", "crushed_at", "crushed_by"),
    ),
    Person: ("name",),
    Gauge: ("name", "unit", "graduation_mpa", "least_mpa", "full_scale_mpa"),
    Press: ("name", "ram_diameter_mm", "rams", "efficiency", "rating_kn", "working_limit_kn"),
    PressSession: ("zero_before_mpa", "zero_after_mpa"),
}


def _tried() -> Any:
    height = select(func.avg(BlockHeight.height_mm)).where(BlockHeight.block_id == Block.id).scalar_subquery()
    question: Any = (
        select_many(
            *(Block, RecipeGroup, Batch, Mould, height, used_up(col(Block.id)), Soak),
            *(Crushing, Person, Gauge, Press, PressSession),
        )
        .join(RecipeGroup, col(RecipeGroup.id) == col(Block.recipe_group_id))
        .join(Batch, col(Batch.id) == col(Block.batch_id))
        .join(Recipe, col(Recipe.id) == col(RecipeGroup.recipe_id))
        .join(Mould, col(Mould.id) == col(Recipe.mould_id))
        .outerjoin(Soak, col(Soak.block_id) == col(Block.id))
        .outerjoin(Crushing, col(Crushing.block_id) == col(Block.id))
        .outerjoin(Person, col(Person.id) == col(Crushing.crushed_by))
        .outerjoin(Gauge, col(Gauge.id) == col(Crushing.gauge_id))
        .outerjoin(Press, col(Press.id) == col(Gauge.press_id))
        .outerjoin(PressSession, col(PressSession.id) == col(Crushing.press_session_id))
        # By state before position, or the lot would settle which state a reader meets first.
        .order_by(
            *(col(Recipe.label), *IN_ORDER),
            *(col(Batch.number), col(Block.position), col(Soak.started_at), col(Crushing.created_at)),
        )
        .options(*(load_only(*(getattr(table, name) for name in names)) for table, names in READ.items()))
    )
    return question


def _gathered(rows: Iterable[Any]) -> list[TriedBlock]:
    """Return the blocks of joined rows; a block has a row for each stay in the water with each crushing and cycle."""
    tried: dict[UUID, TriedBlock] = {}
    for row in rows:
        placed, stay, crushed, bent, (absorption, erosion, cycle) = row[:6], row[6], row[7:12], row[12:16], row[16:]
        one = tried.get(placed[0].id)
        if one is None:
            bending = TriedBending(*bent) if bent[0] is not None else None
            one = tried[placed[0].id] = TriedBlock._make((*placed, [], [], bending, absorption, erosion, {}))
        if stay is not None and all(known is not stay for known in one.stays):
            one.stays.append(stay)
        if crushed[0] is not None and all(known.crushing is not crushed[0] for known in one.crushings):
            one.crushings.append(TriedCrushing(*crushed))
        if cycle is not None:
            one.cycles[cycle.number] = cycle
    return list(tried.values())


def materials_priced(
    session: Session, material_ids: Iterable[UUID], *, on: date
) -> dict[UUID, tuple[Material, Price | None]]:
    """Return materials, ended ones too, with the newest price valid on a day."""
    given = {"ids": list(set(material_ids)), "day": on}
    return {material.id: (material, price) for material, price in session.exec(_priced(), params=given)}


@cache
def _priced() -> Any:
    return (
        select(Material, Price)
        .outerjoin(Price, valid_on(bindparam("day", type_=Date())))
        .where(col(Material.id).in_(IDS))
    )


def materials_named(session: Session, material_ids: Collection[UUID]) -> dict[UUID, Material]:
    """Return materials by id, ended ones too."""
    return {one.id: one for one in session.exec(select(Material).where(col(Material.id).in_(material_ids)))}


def criteria_checked(session: Session, job_id: UUID) -> list[tuple[JobCriterion, list[CriterionCheck]]]:
    """Return the criteria of a job, each with the owner's notes of having read its text."""
    by_criterion: dict[UUID, tuple[JobCriterion, list[CriterionCheck]]] = {}
    for criterion, check in session.exec(_criteria(), params={"job_id": job_id}):
        one = by_criterion.setdefault(criterion.id, (criterion, []))
        if check is not None:
            one[1].append(check)
    return list(by_criterion.values())


@cache
def _criteria() -> Any:
    return (
        select(JobCriterion, CriterionCheck)
        .outerjoin(
            CriterionCheck,
            and_(
                col(CriterionCheck.key) == col(JobCriterion.key),
                col(CriterionCheck.edition) == col(JobCriterion.edition),
            ),
        )
        .where(col(JobCriterion.job_id) == bindparam("job_id"))
        .order_by(col(JobCriterion.key), col(JobCriterion.edition), col(CriterionCheck.checked_at).desc())
    )


def issued_with_links(session: Session, job_id: UUID) -> list[IssuedBefore]:
    """Return the issued results of a job, newest first, each with its share links, newest first."""
    by_number: dict[int, IssuedBefore] = {}
    for issued, by, link in session.exec(_issued(), params={"job_id": job_id}):
        one = by_number.setdefault(issued.number, IssuedBefore(issued, by, []))
        if link is not None:
            one.links.append(link)
    return list(by_number.values())


@cache
def _issued() -> Any:
    return (
        select(IssuedResult, Person, Ticket)
        .join(Person, col(Person.id) == col(IssuedResult.issued_by))
        .outerjoin(Ticket, and_(col(Ticket.issued_result_id) == col(IssuedResult.id), col(Ticket.kind) == "share"))
        .where(col(IssuedResult.job_id) == bindparam("job_id"))
        .order_by(col(IssuedResult.number).desc(), col(Ticket.created_at).desc())
    )
