"""Drawn by lot: which block of which batch is crushed in which state, and in which order. Our own rule."""

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from service.trade.validation import require


@dataclass(frozen=True)
class Place:
    """A place in a batch: which group its block belongs to, and when its turn comes among all blocks of the recipe."""

    batch: int
    position: int
    group: int
    crush_order: int


def blocks_of_batches(*, blocks: int, batches: int) -> tuple[int, ...]:
    """Return how many blocks each batch gives, the first ones one more where it does not come out even.

    Parameters
    ----------
    blocks : int
        Blocks of the recipe, all groups together; above 0.
    batches : int
        Batches; above 0.

    Returns
    -------
    tuple[int, ...]
        Blocks of each batch, in order; they differ by one at most.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    own-rule

    Examples
    --------
    >>> blocks_of_batches(blocks=7, batches=2)
    (4, 3)
    """
    require(positive={"blocks": blocks, "batches": batches})
    each, over = divmod(blocks, batches)
    return tuple(each + (number < over) for number in range(batches))


def draw(groups: Sequence[int], *, batches: int, seed: int) -> tuple[Place, ...]:
    """Return the place of every block of a recipe, drawn by lot: the same seed draws the same.

    Parameters
    ----------
    groups : Sequence[int]
        Blocks of each group; one or more groups, each number above 0.
    batches : int
        Batches that the blocks come from; above 0.
    seed : int
        The kept seed of the recipe.

    Returns
    -------
    tuple[Place, ...]
        Places by batch and position, all counted from 1 but the groups, which keep their index. Every group is
        spread over the batches so that its numbers differ by one at most.

    Raises
    ------
    Invalid
        If a number is not above 0.

    Source
    ------
    own-rule

    Examples
    --------
    >>> places = draw([2, 2], batches=2, seed=1)
    >>> [(place.batch, place.position) for place in places]
    [(1, 1), (1, 2), (2, 1), (2, 2)]
    >>> sorted(place.crush_order for place in places)
    [1, 2, 3, 4]
    """
    require(positive={f"groups.{index}.blocks": blocks for index, blocks in enumerate(groups)} | {"batches": batches})
    lot = Random(seed)
    order = list(range(len(groups)))
    lot.shuffle(order)
    # Dealt like cards, one group after the other, so that no batch gets more than its part of any of them.
    dealt = [group for group in order for _ in range(groups[group])]
    hands = [dealt[batch::batches] for batch in range(batches)]
    turns = list(range(1, len(dealt) + 1))
    lot.shuffle(turns)
    turn = iter(turns)
    places = []
    for batch, hand in enumerate(hands, start=1):
        lot.shuffle(hand)
        places += [Place(batch, position, group, next(turn)) for position, group in enumerate(hand, start=1)]
    return tuple(places)
