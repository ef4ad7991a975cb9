"""Which places a batch has: those drawn by lot, and one more for each lost block that is pressed again."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.records.blocks import Block
from service.records.recipes import Recipe, RecipeGroup
from service.trade.block.random_order import draw


@dataclass(frozen=True)
class Place:
    """A place of a batch, the group its block belongs to, and its turn at the crushing."""

    position: int
    group: RecipeGroup
    crush_order: int
    in_place_of: str | None = None


def places_of(
    recipe: Recipe, groups: Sequence[RecipeGroup], *, batch_number: int, blocks: Sequence[Block]
) -> list[Place]:
    """Return the places of a batch in order; a place for a lost block comes after those that were drawn."""
    drawn = draw([group.blocks for group in groups], batches=recipe.batches, seed=recipe.draw_seed)
    places = [Place(one.position, groups[one.group], one.crush_order) for one in drawn if one.batch == batch_number]
    by_id = {group.id: group for group in groups}
    # In order of loss, so that a place once given to a lost block stays that block's.
    lost = sorted((block for block in blocks if block.lost_at is not None), key=lambda one: (one.lost_at, one.position))
    return places + [
        Place(len(places) + number, by_id[block.recipe_group_id], block.crush_order, block.label)
        for number, block in enumerate(lost, start=1)
    ]
