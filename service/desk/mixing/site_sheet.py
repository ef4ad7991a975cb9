"""The mixer's card: what goes with one bag on the site, in buckets and litres."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.errors import Invalid, NotFound
from service.records import batch_queries, result_queries, sack_stock, soil_tests
from service.records import recipes as recipe_records
from service.records.jobs import Job
from service.records.presses import Mould
from service.records.recipes import RecipePart
from service.records.sack_stock import SackInHand
from service.trade.mix.batch import Component, Stabiliser
from service.trade.mix.site_sheet import SiteMixingSheet, card_for_bag
from service.trade.mix.soil_needed import WORKING_DRY_DENSITY_KG_M3, WORKING_WASTE, dry_mass_per_block_kg
from service.trade.soil.moisture import Can, moisture_of_cans
from service.typed import Typed


@dataclass(frozen=True)
class SitePart:
    """A material of the site mixing sheet: its share, its water, and how heavily it lies.

    The water is by the cans of its sacks, else as it was weighed out last, on a day. A litre was weighed damp, or its
    loose dry density is known, by a test or from its price.
    """

    material_id: UUID
    name: str
    kind: str
    role: str
    share: float
    basis: str
    moisture: float | None
    moisture_at: datetime | None
    damp_kg_l: float | None
    dry_kg_l: float | None
    bag_kg: float | None

    def lies_kg_l(self, moisture: float) -> float | None:
        """Return what a litre weighs as damp as that: as weighed, else the loose dry mass with the water in it."""
        if self.damp_kg_l is not None or self.dry_kg_l is None:
            return self.damp_kg_l
        return self.dry_kg_l * (1 + moisture)


@dataclass(frozen=True)
class SiteAsked:
    """The customer's question for one card."""

    bag_kg: Typed
    bucket_l: Typed
    blocks: int
    dry_mass_per_block_kg: Typed
    waste: Typed
    moistures: Mapping[UUID, Typed]


@dataclass(frozen=True)
class SiteSheet:
    """The recipe, what its site mixing sheet needs, and the sheet; without one, what is missing."""

    recipe_id: UUID
    job_id: UUID
    label: str
    parts: list[SitePart]
    target_moisture: float
    moisture_basis: str
    block_kg: float
    block_of: str
    density_is_working: bool
    waste: float
    card: SiteMixingSheet | None
    missing: list[str]

    @property
    def components(self) -> list[SitePart]:
        """The soils and sands."""
        return [one for one in self.parts if one.role == "component"]

    @property
    def stabilisers(self) -> list[SitePart]:
        """The cement and the lime; the bag is of the first."""
        return [one for one in self.parts if one.role == "stabiliser"]


@look("recipe.site", by=STAFF)
def site(session: Session, caller: Caller, *, recipe_id: UUID, asked: SiteAsked | None = None) -> SiteSheet:
    """Return the mixer's card of a recipe."""
    placed = batch_queries.placed_recipe(session, recipe_id)
    if caller.seen_by not in (None, placed.job.customer_id):
        raise NotFound("There is no such recipe.")
    whole = recipe_records.recipe(session, recipe_id)
    parts = _parts(session, placed.job, whole.parts if whole else [], caller.clock.today)
    block_kg, block_of = _block_kg(placed.job, placed.mould)
    missing = _missing(parts)
    recipe = placed.recipe
    sheet = SiteSheet(
        recipe_id=recipe.id,
        job_id=placed.job.id,
        label=recipe.label,
        parts=parts,
        target_moisture=recipe.target_moisture,
        moisture_basis=recipe.moisture_basis,
        block_kg=block_kg,
        block_of=block_of,
        density_is_working=placed.job.machine_density_kg_m3 is None,
        waste=WORKING_WASTE,
        card=None,
        missing=missing,
    )
    return sheet if asked is None or missing else _with_card(sheet, asked)


def _parts(session: Session, job: Job, planned: list[RecipePart], today: date) -> list[SitePart]:
    priced = result_queries.materials_priced(session, [one.material_id for one in planned], on=today)
    in_hand = sack_stock.sacks_in_hand(session, job.id)
    known = soil_tests.bulk_densities(session, material_ids=[one.material_id for one in planned])
    weighed = {(one.material_id, one.damp): one.kg_l for one in known}
    before = sack_stock.last_moistures(session, [one.material_id for one in planned if one.role == "component"])
    parts = []
    for one in planned:
        material, price = priced[one.material_id]
        by_cans = _moisture([sack for sack in in_hand if sack.material.id == one.material_id])
        last = before.get(one.material_id) if by_cans is None else None
        loose = price.bulk_kg_m3 / 1000 if price and price.bulk_kg_m3 else None
        parts.append(
            SitePart(
                one.material_id,
                material.name,
                material.kind,
                one.role,
                one.share,
                one.basis,
                last.moisture if last else by_cans,
                last.at if last else None,
                weighed.get((one.material_id, True)),
                weighed.get((one.material_id, False), loose),
                price.bag_kg if price else None,
            )
        )
    return parts


def _moisture(mine: list[SackInHand]) -> float | None:
    cans = [Can(wet_kg=can.wet_kg, dry_kg=can.dry_kg, can_kg=can.can_kg) for sack in mine for can in sack.cans]
    return moisture_of_cans(cans).moisture if cans else None


def _block_kg(job: Job, mould: Mould) -> tuple[float, str]:
    """Return the dry mass of a block of the customer's own machine, else of the mould of the bench."""
    density = job.machine_density_kg_m3 or WORKING_DRY_DENSITY_KG_M3
    sides = (job.machine_length_mm, job.machine_width_mm, job.machine_height_mm)
    length, width, height = (side or 0.0 for side in sides)
    if all(sides):
        mass = dry_mass_per_block_kg(length_mm=length, width_mm=width, height_mm=height, dry_density_kg_m3=density)
        return mass, "machine"
    mass = dry_mass_per_block_kg(
        length_mm=mould.length_mm, width_mm=mould.width_mm, height_mm=mould.height_mm, dry_density_kg_m3=density
    )
    return mass, "mould"


def _missing(parts: list[SitePart]) -> list[str]:
    told = [
        f"{one.name}: weigh a full bucket, as damp as on the site, or enter its loose density with its price."
        for one in parts
        if one.role == "component" and one.damp_kg_l is None and one.dry_kg_l is None
    ]
    if not any(one.role == "stabiliser" for one in parts):
        told.append("This recipe has no cement and no lime, so there is no bag to count by.")
    return told


def _with_card(sheet: SiteSheet, asked: SiteAsked) -> SiteSheet:
    faults = {
        f"moistures.{one.material_id}": "Write how much water it holds."
        for one in sheet.components
        if one.material_id not in asked.moistures
    }
    if faults:
        raise Invalid("The water in the soil counts, so it must be known.", faults)
    card = card_for_bag(
        components=[
            Component(str(one.material_id), one.share, asked.moistures[one.material_id].value)
            for one in sheet.components
        ],
        stabilisers=[Stabiliser(str(one.material_id), one.share, one.basis) for one in sheet.stabilisers],  # type: ignore[arg-type]
        moisture=sheet.target_moisture,
        moisture_basis=sheet.moisture_basis,  # type: ignore[arg-type]
        bag_kg=asked.bag_kg.value,
        bucket_l=asked.bucket_l.value,
        bulk_density_kg_l={
            str(one.material_id): one.lies_kg_l(asked.moistures[one.material_id].value) or 0.0
            for one in sheet.components
        },
        dry_mass_per_block_kg=asked.dry_mass_per_block_kg.value,
        waste=asked.waste.value,
        blocks=asked.blocks,
    )
    return SiteSheet(**{**vars(sheet), "card": card})
