"""The mixer's card for programs: what goes with one bag, in buckets and litres."""

from typing import Annotated
from uuid import UUID

from pydantic import Field

from service.desk.mixing import site_sheet as sites
from service.desk.mixing.site_sheet import SiteAsked, SiteSheet
from service.web.api_input import Count, Number, Sent, typed
from service.web.authentication import ApiCaller
from service.web.room import Room

router = Room(prefix="/api/v1/recipes/{recipe_id}/site", tags=["mixing"])


class SiteSheetForm(Sent):
    """The bag, the bucket, the blocks wanted, and the water each soil and sand holds, by material."""

    bag_kg: Annotated[Number, Field(examples=[42.5])]
    bucket_l: Annotated[Number, Field(examples=[15])]
    blocks: Annotated[Count, Field(examples=[1000])]
    dry_mass_per_block_kg: Annotated[Number, Field(examples=[7.9])]
    waste: Annotated[Number, Field(examples=[0.05])] = 0.0
    moistures: Annotated[dict[UUID, Number], Field(default_factory=dict, max_length=20)]


@router.get("")
def show(caller: ApiCaller, recipe_id: UUID) -> SiteSheet:
    """Give what the site mixing sheet of a recipe needs, and what is missing."""
    return sites.site(caller, recipe_id=recipe_id)


@router.post("")
def work_out(caller: ApiCaller, recipe_id: UUID, sent: SiteSheetForm) -> SiteSheet:
    """Work out the site mixing sheet. Nothing is stored, so it needs no Idempotency-Key."""
    asked = SiteAsked(
        bag_kg=typed(sent.bag_kg, "kg"),
        bucket_l=typed(sent.bucket_l, "L"),
        blocks=sent.blocks,
        dry_mass_per_block_kg=typed(sent.dry_mass_per_block_kg, "kg"),
        waste=typed(sent.waste, "of 1"),
        moistures={material_id: typed(water, "of 1") for material_id, water in sent.moistures.items()},
    )
    return sites.site(caller, recipe_id=recipe_id, asked=asked)
