"""The readings of a job and of the whole shop on their way out: a few jobs at a time, so that memory stays bounded."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import OWNERS, STAFF, Caller, Done, act, look
from service.desk.results import _recipes
from service.desk.results._imported import IMPORTED, imported_facts
from service.desk.results._readings import read_blocks
from service.desk.results._scales import Scales
from service.desk.results.result_facts import ReadingFacts
from service.records import imports, jobs, presses, result_queries
from service.records.bare_readings import bare_readings, bare_recipes, bare_weighings
from service.records.customers import Customer
from service.records.jobs import Job
from service.records.materials import Material
from service.records.recipes import WholeRecipe

# So many jobs at a time: enough that statements cost little, few enough that memory does not grow with the shop.
AT_A_TIME = 120
THE_SHOP = UUID(int=0)


@dataclass(frozen=True)
class Ingredient:
    """A material of a recipe with its share, and what it is a share of."""

    name: str
    role: str
    share: float
    basis: str


@dataclass(frozen=True)
class LineUsed:
    """By which gauge a force was read, and when that was calibrated; None where it was not."""

    gauge: str
    done_on: date | None


@dataclass(frozen=True)
class JobReadings:
    """A job with every block of it; ``lines`` by the word that a stress names its line with."""

    number: int | str
    customer: str
    site: str
    recipes: dict[str, tuple[Ingredient, ...]]
    lines: dict[str, LineUsed]
    readings: tuple[ReadingFacts, ...]


@look("readings.of_job", by=STAFF)
def of_job(session: Session, caller: Caller, *, job_id: UUID) -> JobReadings:
    """Return a job with its readings."""
    (found,) = _with_readings(session, caller, [jobs.with_customer(session, job_id, seen_by=caller.seen_by)])
    return found


@look("readings.after", by=OWNERS)
def after(session: Session, caller: Caller, *, number: int) -> list[JobReadings]:
    """Return the next jobs after a number with their readings; an empty list ends the shop."""
    return _with_readings(session, caller, jobs.after_number(session, number, most=AT_A_TIME))


@look("readings.imported", by=OWNERS)
def imported(session: Session, caller: Caller) -> list[UUID]:
    """Return the files of older jobs whose readings count."""
    return imports.counting_files(session)


@look("readings.of_file", by=OWNERS)
def of_file(session: Session, caller: Caller, *, file_id: UUID) -> list[JobReadings]:
    """Return the jobs of such a file with their readings."""
    return [
        JobReadings(
            f"{one.job.name} ({IMPORTED})",
            one.customer.name if one.customer else "",
            one.job.site or "",
            {},
            {},
            facts,
        )
        for one, facts in imported_facts(session, file_id=file_id)
    ]


@act("readings.hand_out", by=OWNERS, confirmed=True)
def hand_out(session: Session, caller: Caller, *, form: str, table: str = "readings") -> Done:
    """Let the owner take a table of the whole shop away; the trail says who did, which, and in which form."""
    return Done("shop", THE_SHOP, {"form": form, "table": table})


def _with_readings(session: Session, caller: Caller, found: Sequence[tuple[Job, Customer]]) -> list[JobReadings]:
    if not found:
        return []
    job_ids = [job.id for job, _ in found]
    whole, tried = bare_recipes(session, job_ids), bare_readings(session, job_ids)
    materials = result_queries.materials_named(session, {part.material_id for one in whole for part in one.parts})
    parts = bare_weighings(session, job_ids)
    _, moistures = _recipes.mixed(whole, tried, parts, {key: (one, None) for key, one in materials.items()})
    gauges = {crushed.gauge.id for one in tried if (crushed := one.standing) and crushed.gauge}
    scales = Scales(presses.calibrations_of(session, gauges), clock=caller.clock)
    labels = {one.recipe.id: one.recipe.label for one in whole}
    job_of = {one.recipe.id: one.recipe.job_id for one in whole}
    mixed: dict[UUID, dict[str, tuple[Ingredient, ...]]] = {job_id: {} for job_id in job_ids}
    for each in whole:
        mixed[each.recipe.job_id][each.recipe.label] = _ingredients(each, materials)
    read: dict[UUID, list[ReadingFacts]] = {job_id: [] for job_id in job_ids}
    lines: dict[str, LineUsed] = {}
    for one, block in zip(tried, read_blocks(tried, scales, labels=labels, moistures=moistures), strict=True):
        read[job_of[one.batch.recipe_id]].append(block.facts)
        scale = block.scale
        if scale is not None and scale.key not in lines:
            done_on = scale.calibrated.calibration.done_on if scale.calibrated else None
            lines[scale.key] = LineUsed(scale.gauge.name, done_on)
    return [
        JobReadings(
            job.number,
            customer.name,
            job.site,
            mixed[job.id],
            lines,
            tuple(read[job.id]),
        )
        for job, customer in found
    ]


def _ingredients(recipe: WholeRecipe, materials: dict[UUID, Material]) -> tuple[Ingredient, ...]:
    return tuple(
        Ingredient(materials[part.material_id].name, part.role, part.share, part.basis) for part in recipe.parts
    )
