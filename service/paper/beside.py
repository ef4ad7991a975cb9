"""What stands on a paper beside the result: the soil, its sacks, the shop's head, and the sheet for the site.

It is gathered when a result is issued, frozen with its data, and drawn from what was frozen.
"""

from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from service.desk import people, photos
from service.desk.doorway import Caller
from service.desk.intake import sheet as intake
from service.desk.intake import soil as soils
from service.desk.intake.sheet import SackView
from service.desk.intake.soil import SoilView
from service.desk.mixing import site_sheet as site
from service.desk.mixing.site_sheet import SiteAsked, SitePart, SiteSheet
from service.desk.results.recipe_facts import RecipeFacts
from service.desk.results.result_facts import Result
from service.paper import photo_files
from service.trade.mix.site_sheet import Buckets
from service.typed import Typed

# The sheet counts for one bag; how many blocks are wanted in all is asked on its own page.
HUNDRED = 100
# Half a page of them.
MOST_PHOTOS = 6
# Half of the last digit that the form shows of a share of water.
SAME_MOISTURE = 0.0005


@dataclass(frozen=True)
class SackSaid:
    """One sack: when it came and who took it in, what it weighed, and where it was dug."""

    label: str
    received_at: datetime
    received_by: str
    mass_kg: float
    pit: str | None
    dug_by: str | None
    dug_on: date | None
    depth_m: float | None
    topsoil_stripped: bool | None
    moisture: float | None


@dataclass(frozen=True)
class SoilSaid:
    """One soil or sand as prepared: class, shares, limits, shrinkage, verdict, and its sacks."""

    name: str
    kind: str
    symbol: str | None
    class_name: str | None
    gravel_share: float | None
    sand_share: float | None
    fines_share: float | None
    liquid_limit: float | None
    plastic_limit: float | None
    plasticity_index: float | None
    non_plastic: bool
    shrinkage: float | None
    verdict: str | None
    signs: tuple[str, ...]
    sacks: tuple[SackSaid, ...]


@dataclass(frozen=True)
class PutIn:
    """One material of a mixer load that takes one bag."""

    name: str
    buckets: float | None
    kg: float
    # Of a soil or sand: its water, the day it was weighed out so where no can says it, and whether it was typed now.
    moisture: float | None = None
    moisture_on: date | None = None
    moisture_typed: bool = False
    # Whether its bucket follows from its loose dry density; a full one was not weighed.
    loose: bool = False


@dataclass(frozen=True)
class SiteSaid:
    """What goes with one bag on the site, in the customer's own buckets."""

    recipe: str
    bag: str
    bag_kg: float
    bucket_l: float
    put_in: tuple[PutIn, ...]
    water_l: float
    blocks: int
    density_kg_m3: float | None


@dataclass(frozen=True)
class Lack:
    """What the sheet for the site lacks, and of which material where it is of one."""

    what: str
    material: str = ""


@dataclass(frozen=True)
class PhotoSaid:
    """A photo that the owner ticked: what it shows, when it was taken, and the picture, small."""

    label: str
    taken_on: date
    taken_by: str
    picture: bytes

    @property
    def source(self) -> str:
        """The picture as an address that holds all of it."""
        return f"data:image/jpeg;base64,{b64encode(self.picture).decode()}"


@dataclass(frozen=True)
class Beside:
    """All of it, and why there is no sheet for the site where there is none."""

    letterhead: str
    soils: tuple[SoilSaid, ...]
    site: SiteSaid | None
    site_missing: tuple[Lack, ...]
    photos: tuple[PhotoSaid, ...]


def gather(
    caller: Caller, result: Result, *, bucket_l: Typed | None, moistures: Mapping[UUID, Typed] | None = None
) -> Beside:
    """Return what belongs to a result and is asked of other desks."""
    found = intake.sheet(caller, job_id=result.job.id)
    sacks = [intake.sack(caller, receipt_id=one.id) for one in found.sacks]
    told = tuple(_soil(soils.soil(caller, material_id=one.id), sacks) for one in found.soils)
    said, missing = _site(caller, result, bucket_l, moistures or {})
    return Beside(people.letterhead(caller), told, said, missing, _photos(caller, result))


def _photos(caller: Caller, result: Result) -> tuple[PhotoSaid, ...]:
    return tuple(
        PhotoSaid(
            # The number of the job stands on the paper already.
            "" if one.of == "job" else one.label,
            caller.clock.day(one.taken_at),
            one.by,
            photo_files.give_out(caller, photo_id=one.id, small=True),
        )
        for one in photos.shown_of(caller, job_id=result.job.id, most=MOST_PHOTOS)
    )


def _soil(view: SoilView, sacks: list[SackView]) -> SoilSaid:
    shares, limits = view.grading.described if view.grading else None, view.plasticity.limits
    kind, verdict = view.soil_class.found, view.judged.verdict
    return SoilSaid(
        name=view.name,
        kind=view.kind,
        symbol=kind.symbol if kind else None,
        class_name=kind.name if kind else None,
        gravel_share=shares.gravel_share if shares else None,
        sand_share=shares.sand_share if shares else None,
        fines_share=shares.fines_share if shares else None,
        liquid_limit=limits.liquid_limit if limits else None,
        plastic_limit=limits.plastic_limit if limits else None,
        plasticity_index=limits.plasticity_index if limits else None,
        non_plastic=view.plasticity.non_plastic,
        shrinkage=view.shrinkage,
        verdict=verdict.verdict if verdict else None,
        signs=tuple(view.signs_found),
        sacks=tuple(_sack(one) for one in sacks if one.material_id == view.id),
    )


def _sack(one: SackView) -> SackSaid:
    values = one.reading.values
    return SackSaid(
        label=values["label"],
        received_at=values["received_at"],
        received_by=one.by,
        mass_kg=values["mass_kg"],
        pit=values["pit"],
        dug_by=values["dug_by"],
        dug_on=values["dug_on"],
        depth_m=values["depth_m"],
        topsoil_stripped=values["topsoil_stripped"],
        moisture=one.moisture.moisture if one.moisture else None,
    )


def site_asks(caller: Caller, result: Result) -> tuple[SiteSheet | None, tuple[Lack, ...]]:
    """Return what the form for issuing asks for the sheet of the site, and what lacks that it cannot ask."""
    recipe = _recommended(result)
    if recipe is None:
        return None, (Lack("recipe"),)
    sheet = site.site(caller, recipe_id=recipe.id)
    asked = {"bucket", "moisture"}
    return sheet, tuple(one for one in _missing(sheet, None, {}) if one.what not in asked)


def _recommended(result: Result) -> RecipeFacts | None:
    return next((one for one in result.recipes if one.label == result.recommended), None)


def _site(
    caller: Caller, result: Result, bucket_l: Typed | None, typed: Mapping[UUID, Typed]
) -> tuple[SiteSaid | None, tuple[Lack, ...]]:
    recipe = _recommended(result)
    if recipe is None:
        return None, (Lack("recipe"),)
    sheet = site.site(caller, recipe_id=recipe.id)
    missing = _missing(sheet, bucket_l, typed)
    if missing or bucket_l is None:
        return None, missing
    bag = sheet.stabilisers[0]
    asked = SiteAsked(
        bag_kg=_plainly(bag.bag_kg or 0.0),
        bucket_l=bucket_l,
        blocks=HUNDRED,
        # As on the first page, so that bags and blocks agree.
        dry_mass_per_block_kg=_plainly(recipe.cost.dry_mass_kg if recipe.cost else sheet.block_kg),
        waste=_plainly(recipe.cost.waste if recipe.cost else sheet.waste),
        moistures={
            one.material_id: typed.get(one.material_id, _plainly(one.moisture or 0.0)) for one in sheet.components
        },
    )
    card = site.site(caller, recipe_id=recipe.id, asked=asked).card
    if card is None:
        return None, (Lack("density", sheet.components[0].name),)
    put_in = [PutIn(one.name, None, card.stabilisers[str(one.material_id)]) for one in sheet.stabilisers]
    put_in += [_bucketed(caller, one, card.components, typed.get(one.material_id)) for one in sheet.components]
    density = result.job.machine_density_kg_m3 or recipe.dry_density_kg_m3
    return SiteSaid(
        recipe=recipe.label,
        bag=bag.name,
        bag_kg=bag.bag_kg or 0.0,
        bucket_l=bucket_l.value,
        put_in=tuple(put_in),
        water_l=card.water_l,
        blocks=card.blocks,
        density_kg_m3=density,
    ), ()


def _bucketed(caller: Caller, part: SitePart, components: Mapping[str, Buckets], typed: Typed | None) -> PutIn:
    one = components[str(part.material_id)]
    # The form offers what is known, rounded; that alone is nothing new.
    is_new = typed is not None and (part.moisture is None or abs(typed.value - part.moisture) > SAME_MOISTURE)
    return PutIn(
        part.name,
        one.buckets_quarter,
        one.kg,
        moisture=typed.value if typed is not None and is_new else part.moisture,
        moisture_on=caller.clock.day(part.moisture_at) if part.moisture_at and not is_new else None,
        moisture_typed=is_new,
        loose=part.damp_kg_l is None,
    )


def _missing(sheet: SiteSheet, bucket_l: Typed | None, typed: Mapping[UUID, Typed]) -> tuple[Lack, ...]:
    """Return what would have to be known, and of which material, in words that the paper has sentences for."""
    unknown = {
        Lack("stabiliser"): not sheet.stabilisers,
        **{Lack("density", one.name): one.lies_kg_l(0.0) is None for one in sheet.components},
        **{
            Lack("moisture", one.name): one.moisture is None and one.material_id not in typed
            for one in sheet.components
        },
        **{Lack("bag", one.name): one.bag_kg is None for one in sheet.stabilisers[:1]},
        Lack("machine"): sheet.block_of != "machine",
        Lack("bucket"): bucket_l is None,
    }
    return tuple(one for one, is_missing in unknown.items() if is_missing)


def _plainly(value: float) -> Typed:
    return Typed(value, repr(value), "")
