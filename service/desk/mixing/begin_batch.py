"""Beginning a batch: how much of what, out of which sack, by the recipe and the moisture of each material."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import fsum
from statistics import median
from typing import NamedTuple
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.desk.mixing._checks import require_above_zero
from service.errors import Conflict, Invalid, NotFound
from service.records import batch_queries, offers
from service.records import batches as records
from service.records import moisture_trials as mix_trials
from service.records import recipes as recipe_records
from service.records import sack_stock as sacks
from service.records.as_read import as_read
from service.records.batches import Batch, BatchPart
from service.records.jobs import Job
from service.records.materials import Material
from service.records.moisture_trials import Pot
from service.records.presses import Mould
from service.records.recipes import RecipePart, WholeRecipe
from service.records.sack_stock import LastMoisture, SackInHand
from service.trade.block.random_order import blocks_of_batches
from service.trade.mix.batch import BatchPlan, BlocksWanted, Component, Stabiliser, plan_batch, shares_on_both_bases
from service.trade.mix.mixer_loads import mixer_loads
from service.trade.mix.soil_needed import (
    USUAL_TRIALS,
    WORKING_DRY_DENSITY_KG_M3,
    WORKING_WASTE,
    dry_mass_per_block_kg,
    left_kg,
)
from service.trade.soil.moisture import Can, dry_mass_kg, moisture_of_cans
from service.typed import Typed

MOST_TRIALS = 5
# A remnant below this part of what is needed stays in its sack: it is not worth a weighing of its own.
REMNANT = 0.05
NOT_ACCEPTED = "The offer for this job is not accepted yet. Accept it first, or the owner starts without."


@dataclass(frozen=True)
class ComponentOffer:
    """A component of the batch to come: where it is taken from and its moisture, if that is known."""

    material_id: UUID
    name: str
    share: float
    sacks: str
    moisture: float | None
    from_cans: bool
    without_cans: str
    some_cans: bool
    needed_kg: float
    in_hand_kg: float | None

    @property
    def short(self) -> bool:
        """Whether the batch with a trial block takes more of it, dry, than its sacks hold."""
        return self.in_hand_kg is not None and self.needed_kg > self.in_hand_kg


@dataclass(frozen=True)
class StartForm:
    """What the form of a new batch shows, filled with what was used last."""

    recipe_id: UUID
    job_id: UUID
    label: str
    number: int
    batches: int
    blocks: int
    components: list[ComponentOffer]
    block_kg: float
    block_kg_from: str
    dry_density_kg_m3: float
    waste: float
    scale_text: str
    scale_unit: str
    has_binder: bool
    pot_text: str
    pot_unit: str
    # How many trial charges are asked for: none once blocks of this job came out of the same mould.
    test_charges: int


@look("batch.start_form", by=STAFF)
def start_form(session: Session, caller: Caller, *, recipe_id: UUID) -> StartForm:
    """Return the form of the next batch of a recipe."""
    ready = _ready(session, caller, recipe_id)
    recipe = ready.whole.recipe
    block_kg, taken_from = _block_kg(session, ready)
    last = ready.begun[-1] if ready.begun else batch_queries.last_batch(session)
    scale = last.as_read.get("scale_graduation_kg", {}) if last else {}
    pot = mix_trials.newest_pot(session)
    pot_read = pot.as_read.get("pot_kg", {}) if pot else {}
    known = sacks.last_moistures(session, [part.material_id for part in _of_role(ready.whole, "component")])
    lost_share = last.waste if last else WORKING_WASTE
    trials = 0 if taken_from in ("blocks", "job") else USUAL_TRIALS
    soil_kg = (ready.blocks + trials) * block_kg * (1 + lost_share) * _soil_share(ready.whole)
    return StartForm(
        recipe_id=recipe.id,
        job_id=recipe.job_id,
        label=recipe.label,
        number=ready.number,
        batches=recipe.batches,
        blocks=ready.blocks,
        components=[_offer(part, ready, known, soil_kg) for part in _of_role(ready.whole, "component")],
        block_kg=block_kg,
        block_kg_from=taken_from,
        dry_density_kg_m3=_density(ready.job),
        waste=lost_share,
        scale_text=scale.get("text", ""),
        scale_unit=scale.get("unit", ""),
        has_binder=any(ready.materials[part.material_id].kind in ("cement", "lime") for part in ready.whole.parts),
        pot_text=pot_read.get("text", ""),
        pot_unit=pot_read.get("unit", ""),
        test_charges=trials,
    )


def _offer(part: RecipePart, ready: "_Ready", known: Mapping[UUID, LastMoisture], soil_kg: float) -> ComponentOffer:
    mine = ready.sacks_of(part.material_id)
    measured = [water for one in mine if (water := _moisture(one)) is not None]
    before = known.get(part.material_id)
    water = fsum(measured) / len(measured) if measured else before.moisture if before else None
    labels = ", ".join(one.receipt.label for one in mine)
    without = ", ".join(one.receipt.label for one in mine if not one.cans)
    return ComponentOffer(
        material_id=part.material_id,
        name=ready.materials[part.material_id].name,
        share=part.share,
        sacks=labels,
        moisture=water,
        from_cans=bool(mine) and len(measured) == len(mine),
        without_cans=without,
        some_cans=bool(measured),
        needed_kg=soil_kg * part.share,
        in_hand_kg=fsum(_dry_left_kg(one, water) for one in mine) if mine else None,
    )


def _dry_left_kg(sack: SackInHand, water: float | None) -> float:
    """Return the dry soil left in a sack, by its own cans where it has some."""
    kg = left_kg(received_kg=sack.receipt.mass_kg, oversize_kg=sack.oversize_kg, taken_kg=sack.taken_kg)
    own = _moisture(sack)
    return dry_mass_kg(damp_kg=kg, moisture=own if own is not None else water or 0.0)


class _Ready(NamedTuple):
    """A recipe of which another batch may be begun, with everything that decides what is weighed."""

    whole: WholeRecipe
    job: Job
    mould: Mould
    begun: list[Batch]
    sizes: tuple[int, ...]
    materials: dict[UUID, Material]
    sacks: list[SackInHand]

    @property
    def number(self) -> int:
        """The number of the batch to come."""
        return len(self.begun) + 1

    @property
    def blocks(self) -> int:
        """How many blocks it gives."""
        return self.sizes[len(self.begun)]

    def name_of(self, part: RecipePart) -> str:
        """Return the name of what a part is."""
        return self.materials[part.material_id].name

    def sacks_of(self, material_id: UUID) -> list[SackInHand]:
        """Return the sacks of a material, in order of arrival."""
        return [one for one in self.sacks if one.material.id == material_id]


def _ready(session: Session, caller: Caller, recipe_id: UUID, *, lock: bool = False) -> _Ready:
    placed = batch_queries.placed_recipe(session, recipe_id, lock=lock)
    job = placed.job
    if caller.seen_by not in (None, job.customer_id):
        raise NotFound("There is no such recipe.")
    whole = recipe_records.recipe(session, recipe_id) or WholeRecipe(placed.recipe, [], [], {})
    begun = records.batches_of_recipe(session, recipe_id)
    _require_in_force(placed, len(begun))
    offer = offers.of_jobs(session, [job.id]).get(job.id)
    if offer is not None and offer.holds_up:
        raise Conflict(NOT_ACCEPTED)
    sizes = blocks_of_batches(blocks=sum(group.blocks for group in whole.groups), batches=whole.recipe.batches)
    materials = {one.id: one for one in sacks.materials_of(session, customer_id=job.customer_id)}
    return _Ready(whole, job, placed.mould, begun, sizes, materials, sacks.sacks_in_hand(session, job.id))


def _require_in_force(placed: batch_queries.PlacedRecipe, begun: int) -> None:
    if placed.job.closed_at is not None:
        raise Conflict("This job is finished. Open it again first.")
    if placed.recipe.dropped_at is not None:
        raise Conflict("This recipe was taken out of the plan.")
    if placed.replaced_by is not None:
        raise Conflict(f"Recipe {placed.replaced_by} has taken the place of this one.")
    if begun >= placed.recipe.batches:
        raise Conflict("Every batch of this recipe was started already.")


def _density(job: Job) -> float:
    return job.machine_density_kg_m3 or WORKING_DRY_DENSITY_KG_M3


def _block_kg(session: Session, ready: _Ready) -> tuple[float, str]:
    """Return the dry mass of a block, and where it comes from: pressed blocks of recipe or job, else the mould."""
    recipe = ready.whole.recipe
    blocks = batch_queries.blocks_of_recipe(session, recipe.id) if ready.begun else []
    own = [one.wet_mass_kg for one in blocks if one.wet_mass_kg]
    pressed = own or batch_queries.masses_in_mould(session, ready.job.id, recipe.mould_id)
    if pressed:
        over_mix = recipe.target_moisture * (1.0 if recipe.moisture_basis == "dry mix" else _soil_share(ready.whole))
        return median(pressed) / (1 + over_mix), "blocks" if own else "job"
    density, mould = _density(ready.job), ready.mould
    mass = dry_mass_per_block_kg(
        length_mm=mould.length_mm, width_mm=mould.width_mm, height_mm=mould.height_mm, dry_density_kg_m3=density
    )
    return mass, "machine" if ready.job.machine_density_kg_m3 else "working"


def _of_role(whole: WholeRecipe, role: str) -> list[RecipePart]:
    return [part for part in whole.parts if part.role == role]


def _doses(whole: WholeRecipe) -> list[Stabiliser]:
    return [Stabiliser(str(part.id), part.share, part.basis) for part in _of_role(whole, "stabiliser")]  # type: ignore[arg-type]


def _soil_share(whole: WholeRecipe) -> float:
    """Return dry soil over dry mix."""
    return 1 - fsum(both.dry_mix for both in shares_on_both_bases(_doses(whole)).values())


def _moisture(sack: SackInHand) -> float | None:
    cans = [Can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg) for can in sack.cans]
    return moisture_of_cans(cans).moisture if cans else None


@act("batch.start", by=STAFF)
def start_batch(
    session: Session,
    caller: Caller,
    *,
    recipe_id: UUID,
    scale_graduation_kg: Typed,
    dry_mass_per_block_kg: Typed | None = None,
    waste: Typed | None = None,
    test_charges: int = USUAL_TRIALS,
    moistures: Sequence[tuple[UUID, Typed]] = (),
    mixer_kg: Typed | None = None,
) -> Done:
    """Begin the next batch of a recipe: work out what to weigh, from now on the recipe stays as it is."""
    require_above_zero(
        {
            "scale_graduation_kg": scale_graduation_kg,
            "dry_mass_per_block_kg": dry_mass_per_block_kg,
            "mixer_kg": mixer_kg,
        }
    )
    if not 0 <= test_charges <= MOST_TRIALS:
        raise Invalid("Check the number of trial fills.", {"test_charges": f"From 0 to {MOST_TRIALS}."})
    ready = _ready(session, caller, recipe_id, lock=True)
    block_kg = dry_mass_per_block_kg.value if dry_mass_per_block_kg else _block_kg(session, ready)[0]
    lost_share = waste.value if waste else WORKING_WASTE
    start = BlocksWanted(ready.blocks + test_charges, block_kg, lost_share)
    takings = _takings(ready, start, dict(moistures))
    plan = _plan(ready, start, takings, scale_graduation_kg.value)
    batch = Batch(
        recipe_id=recipe_id,
        number=ready.number,
        dry_soil_kg=fsum(plan.dry_kg[one.key] for one in takings),
        waste=lost_share,
        scale_graduation_kg=scale_graduation_kg.value,
        water_planned_kg=plan.water_kg,
        as_read=as_read({"scale_graduation_kg": scale_graduation_kg, "waste": waste}),
    )
    session.add(batch)
    session.flush()
    session.add_all(_rows(batch, ready, takings, plan))
    if mixer_kg is not None:
        everything = dict(plan.weigh_kg) | {"": plan.water_kg}
        mixer_loads(everything, mixer_kg=mixer_kg.value, scale_graduation_kg=scale_graduation_kg.value)
        session.add(Pot(batch_id=batch.id, pot_kg=mixer_kg.value, as_read=as_read({"pot_kg": mixer_kg})))
    details = {"number": batch.number, "recipe": ready.whole.recipe.label, "blocks": ready.blocks}
    return Done("batch", batch.id, {**details, "dry_mass_per_block_kg": block_kg, "test_charges": test_charges})


@dataclass(frozen=True)
class _Taking:
    """So much of a component out of one sack, or from the shelf."""

    key: str
    part: RecipePart
    receipt_id: UUID | None
    share: float
    moisture: float
    typed: Typed | None


def _takings(ready: _Ready, start: BlocksWanted, moistures: Mapping[UUID, Typed]) -> list[_Taking]:
    soil_kg = start.blocks * start.dry_mass_per_block_kg * (1 + start.waste) * _soil_share(ready.whole)
    takings, faults = [], {}
    for part in _of_role(ready.whole, "component"):
        typed = moistures.get(part.material_id)
        found = _out_of_sacks(part, ready, typed, needed_kg=soil_kg * part.share)
        if any(one.moisture < 0 for one in found):
            faults[f"moistures.{part.material_id}"] = "Weigh a can of it first, or write how much water it holds."
        takings += found
    if faults:
        raise Invalid("The water in the soil counts, so it must be known.", faults)
    return takings


def _out_of_sacks(part: RecipePart, ready: _Ready, typed: Typed | None, *, needed_kg: float) -> list[_Taking]:
    name = ready.materials[part.material_id].name
    mine = ready.sacks_of(part.material_id)
    if not mine:
        return [_Taking(name, part, None, part.share, typed.value if typed else -1.0, typed)]
    takings, missing = [], needed_kg
    for sack, dry_kg in _worth_opening(mine, typed, needed_kg):
        water = typed.value if typed else _moisture(sack)
        mass = min(dry_kg, missing)
        missing -= mass
        key = f"{name} out of {sack.receipt.label}"
        takings.append(_Taking(key, part, sack.receipt.id, mass / needed_kg, -1.0 if water is None else water, typed))
        if missing <= 0:
            break
    # A sack may hold more than its label says; what is missing on paper is asked of the last one.
    share_of_last = 1 - fsum(one.share for one in takings[:-1])
    whole = [*(one.share for one in takings[:-1]), share_of_last]
    return [
        _Taking(one.key, part, one.receipt_id, part.share * share, one.moisture, typed)
        for one, share in zip(takings, whole, strict=True)
    ]


def _worth_opening(mine: Sequence[SackInHand], typed: Typed | None, needed_kg: float) -> list[tuple[SackInHand, float]]:
    left = []
    for sack in mine:
        kg = left_kg(received_kg=sack.receipt.mass_kg, oversize_kg=sack.oversize_kg, taken_kg=sack.taken_kg)
        water = typed.value if typed else _moisture(sack)
        left.append((sack, dry_mass_kg(damp_kg=kg, moisture=water or 0.0)))
    worth = [(sack, kg) for sack, kg in left if kg >= min(REMNANT * needed_kg, needed_kg)]
    return worth or [max(left, key=lambda one: one[1])]


def _plan(ready: _Ready, start: BlocksWanted, takings: Sequence[_Taking], scale_kg: float) -> BatchPlan:
    whole = ready.whole
    return plan_batch(
        start=start,
        components=[Component(one.key, one.share, one.moisture) for one in takings],
        stabilisers=[Stabiliser(ready.name_of(part), part.share, part.basis) for part in _of_role(whole, "stabiliser")],  # type: ignore[arg-type]
        moisture=whole.recipe.target_moisture,
        moisture_basis=whole.recipe.moisture_basis,  # type: ignore[arg-type]
        scale_graduation_kg=scale_kg,
    )


def _rows(batch: Batch, ready: _Ready, takings: Sequence[_Taking], plan: BatchPlan) -> list[BatchPart]:
    rows = [
        BatchPart(
            batch_id=batch.id,
            recipe_part_id=one.part.id,
            receipt_id=one.receipt_id,
            moisture=one.moisture,
            planned_kg=plan.weigh_kg[one.key],
            as_read=as_read({"moisture": one.typed}),
        )
        for one in takings
    ]
    return rows + [
        BatchPart(
            batch_id=batch.id,
            recipe_part_id=part.id,
            moisture=0.0,
            planned_kg=plan.weigh_kg[ready.name_of(part)],
            as_read={},
        )
        for part in _of_role(ready.whole, "stabiliser")
    ]
