"""The plan of a job as its page shows it, and what the form of a recipe offers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.plan._checks import COMPONENTS, STABILISERS, next_label
from service.desk.plan._detectable_difference import DetectableDifference, detectable_difference
from service.desk.plan._lines import RecipeLine, recipe_lines
from service.desk.plan._supply import MaterialLine, Open, material_lines, open_recipes
from service.errors import NotFound
from service.measured.forming import forming_gauges, within_reach
from service.phrase import Phrase
from service.records import batches as batch_records
from service.records import jobs as job_records
from service.records import presses as press_records
from service.records import recipes as records
from service.records import result_queries, sack_stock
from service.records.batches import Batch
from service.records.jobs import Job
from service.records.materials import Material
from service.records.presses import Mould
from service.records.recipes import WholeRecipe
from service.shop_clock import ShopClock
from service.trade.mix.soil_needed import WORKING_DRY_DENSITY_KG_M3, WORKING_WASTE
from service.trade.sentences.confounding import planned_remarks


@dataclass(frozen=True)
class PlanSheet:
    """The recipes of a job and the soil they need."""

    job_id: UUID
    recipes: list[RecipeLine]
    materials: list[MaterialLine]
    dry_density_kg_m3: float
    density_is_working: bool
    waste: float
    detectable_difference: DetectableDifference
    remarks: tuple[Phrase, ...]


@dataclass(frozen=True)
class Offered:
    """Something to choose in the form."""

    id: UUID
    name: str

    @property
    def pair(self) -> tuple[UUID, str]:
        """Return what a list of choices needs."""
        return self.id, self.name


@dataclass(frozen=True)
class RecipeForm:
    """What the form of a recipe offers, and what stands in it: the recipe itself, else what was used last."""

    job_id: UUID
    label: str
    soils: list[Offered]
    stabilisers: list[Offered]
    moulds: list[Offered]
    shown: RecipeLine | None
    own: bool


@look("plan.sheet", by=STAFF)
def sheet(session: Session, caller: Caller, *, job_id: UUID) -> PlanSheet:
    """Return the plan of a job: recipes, the lot, soil needed against soil in hand, and what its blocks can tell."""
    job, _, adopted = result_queries.setting(session, job_id)
    planned = records.recipes_of_job(session, job.id)
    materials = {one.id: one for one in sack_stock.materials_of(session, customer_id=job.customer_id)}
    moulds = {one.id: one for one in press_records.every_mould(session)}
    batches = _by_recipe(batch_records.begun_in_job(session, job.id))
    density = job.machine_density_kg_m3 or WORKING_DRY_DENSITY_KG_M3
    begun = {recipe_id: len(found) for recipe_id, found in batches.items()}
    unmixed = open_recipes(planned, begun, moulds, dry_density_kg_m3=density)
    in_hand = sack_stock.sacks_in_hand(session, job.id)
    return PlanSheet(
        job_id=job.id,
        recipes=recipe_lines(planned, batches, materials, moulds, dry_density_kg_m3=density),
        materials=material_lines(unmixed, in_hand, materials, waste=WORKING_WASTE),
        dry_density_kg_m3=density,
        density_is_working=job.machine_density_kg_m3 is None,
        waste=WORKING_WASTE,
        detectable_difference=detectable_difference(planned, adopted),
        remarks=(
            *_out_of_reach(session, caller, unmixed, moulds),
            *_sitting_alone(planned, batches, clock=caller.clock),
        ),
    )


def _out_of_reach(
    session: Session, caller: Caller, unmixed: Sequence[Open], moulds: Mapping[UUID, Mould]
) -> tuple[Phrase, ...]:
    """Return the remarks on recipes that no press of the shop may press as they are planned."""
    planned = [one.whole.recipe for one in unmixed]
    if not planned:
        return ()
    forming = forming_gauges(session, today=caller.clock.today)
    return tuple(
        Phrase("Recipe {recipe} cannot be pressed here: no press makes its stress below its working limit.",
               {"recipe": one.label})
        for one in planned
        if one.press_stress_mpa is not None and not within_reach(forming, one.press_stress_mpa, moulds[one.mould_id])
    )  # fmt: skip


def _sitting_alone(
    planned: Sequence[WholeRecipe], batches: Mapping[UUID, Sequence[Batch]], *, clock: ShopClock
) -> tuple[Phrase, ...]:
    """Return the remarks on recipes that the plan, and what was mixed of it, leaves with one person or day alone."""
    replaced = {one.recipe.replaces_id for one in planned}
    people: dict[str, list[str]] = {}
    days: dict[str, list[str]] = {}
    for recipe in (one.recipe for one in planned):
        if recipe.dropped_at is not None or recipe.id in replaced:
            continue
        mixed = [batch for batch in batches.get(recipe.id, ()) if batch.mixed_at is not None]
        people[recipe.label] = [str(batch.mixed_by) for batch in mixed]
        days[recipe.label] = [clock.day(batch.mixed_at).isoformat() for batch in mixed if batch.mixed_at]
        if recipe.mix_on is not None and len(mixed) < recipe.batches:
            days[recipe.label].append(recipe.mix_on.isoformat())
    return planned_remarks(mixed_by=people, mixed_on=days)


def _by_recipe(batches: Sequence[Batch]) -> dict[UUID, list[Batch]]:
    found: dict[UUID, list[Batch]] = {}
    for one in batches:
        found.setdefault(one.recipe_id, []).append(one)
    return found


@look("recipe.form", by=STAFF)
def form(session: Session, caller: Caller, *, job_id: UUID) -> RecipeForm:
    """Return the form of a new recipe, filled with what was used for the last one."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    planned = records.recipes_of_job(session, job.id)
    last = max(planned, key=lambda one: one.recipe.created_at) if planned else records.newest_recipe(session)
    return _form(session, job, planned, last, own=False)


@look("recipe.form_like", by=STAFF)
def form_like(session: Session, caller: Caller, *, job_id: UUID, recipe_id: UUID) -> RecipeForm:
    """Return the form of a new recipe, filled with another recipe of the job."""
    job = job_records.visible(session, job_id, seen_by=caller.seen_by)
    planned = records.recipes_of_job(session, job.id)
    like = next((one for one in planned if one.recipe.id == recipe_id), None)
    if like is None:
        raise NotFound("There is no such recipe.")
    return _form(session, job, planned, like, own=False)


@look("recipe.own_form", by=STAFF)
def form_of(session: Session, caller: Caller, *, recipe_id: UUID, in_its_place: bool = False) -> RecipeForm:
    """Return the form filled with a recipe itself, to change it or to plan another in its place."""
    whole = records.recipe(session, recipe_id)
    if whole is None:
        raise NotFound("There is no such recipe.")
    job = job_records.visible(session, whole.recipe.job_id, seen_by=caller.seen_by)
    asked = _form(session, job, records.recipes_of_job(session, job.id), whole, own=True)
    return asked if in_its_place else replace(asked, label=whole.recipe.label)


def _form(
    session: Session, job: Job, planned: list[WholeRecipe], shown: WholeRecipe | None, *, own: bool
) -> RecipeForm:
    materials = sack_stock.materials_of(session, customer_id=job.customer_id)
    moulds = press_records.every_mould(session)
    usable = [one for one in materials if one.ended_at is None]
    return RecipeForm(
        job_id=job.id,
        label=next_label({one.recipe.label for one in planned}),
        # The customer's own soil first: it is what he asks about.
        soils=_offered(sorted(_of_kinds(usable, COMPONENTS), key=lambda one: one.customer_id is None)),
        stabilisers=_offered(_of_kinds(usable, STABILISERS)),
        moulds=[Offered(one.id, one.name) for one in moulds if one.ended_at is None],
        shown=_shown(session, shown, materials, moulds),
        own=own,
    )


def _of_kinds(materials: Sequence[Material], kinds: frozenset[str]) -> list[Material]:
    return [one for one in materials if one.kind in kinds]


def _offered(materials: Sequence[Material]) -> list[Offered]:
    return [Offered(one.id, one.name) for one in materials]


def _shown(
    session: Session, shown: WholeRecipe | None, materials: Sequence[Material], moulds: Sequence[Mould]
) -> RecipeLine | None:
    if shown is None:
        return None
    known = {one.id: one for one in materials}
    # A recipe of another customer's job is remembered for its numbers; his soil is not named here.
    parts = [part for part in shown.parts if part.material_id in known]
    whole = WholeRecipe(shown.recipe, parts, shown.groups, shown.volumes)
    begun = {shown.recipe.id: batch_records.batches_of_recipe(session, shown.recipe.id)}
    by_mould = {one.id: one for one in moulds}
    return recipe_lines([whole], begun, known, by_mould, dry_density_kg_m3=WORKING_DRY_DENSITY_KG_M3)[0]
