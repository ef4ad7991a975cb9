"""What can be done for an open question: each act with what it takes in blocks, days and money, and what it settles."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from service.desk.doorway import ShopFacts
from service.desk.results._compute import Asked
from service.desk.results._least import BLOCKS, MIXES, SeriesAnswer
from service.trade.strength.more_blocks import PROBABLY, More

ActKind = Literal["blocks", "same batch", "calibrate", "share", "stop"]


@dataclass(frozen=True)
class Act:
    """One thing that can be done, what it takes, and the chance that the question is then settled.

    Of an untested share ``chance`` is that it passes. ``cost`` is None where the shop has not said its price;
    ``days`` is None where no age was planned. ``left`` is how many blocks of the same batches wait to be crushed.
    """

    kind: ActKind
    name: str
    condition: str
    blocks: int
    mixes: int
    days: float | None
    cost: Decimal | None
    chance: float
    left: int = 0

    @property
    def possible(self) -> bool:
        """Whether it can be done: of a batch of another day only the blocks that are left can be crushed."""
        return self.kind != "same batch" or self.left >= self.blocks


@dataclass(frozen=True)
class PricesMissing:
    """Which prices the costs of the acts lack."""

    block: bool
    calibration: bool


def acts(more: Sequence[More], answers: Sequence[SeriesAnswer], asked: Asked, shop: ShopFacts) -> tuple[Act, ...]:
    """Return what can be done: the likeliest to settle it first, then the cheaper and the sooner; stopping last.

    Blocks of a new batch and of the same one are two acts: the same one does not show how batches differ. It stands
    behind what can be done where too few blocks of it are left.
    """
    waiting = Counter(
        (one.facts.recipe, one.facts.condition) for one in asked.found.blocks if one.facts.fate == "waiting"
    )
    days = {one.name: one.age_days for one in asked.conditions}
    found: list[Act] = []
    for one in more:
        told = one.enough or one.options[-1]
        age = days.get(one.condition)
        cost = _of_blocks(told.blocks, shop)
        found.append(Act("blocks", one.recipe, one.condition, told.blocks, 1, age, cost, told.settled))
        same = next((option for option in one.same_mix if option.settled >= PROBABLY), one.same_mix[-1])
        left = waiting[one.recipe, one.condition]
        cost = _of_blocks(same.blocks, shop)
        found.append(Act("same batch", one.recipe, one.condition, same.blocks, 0, age, cost, same.settled, left))
        if one.calibration:
            settled = one.calibration.settled
            found.append(Act("calibrate", one.recipe, one.condition, 0, 0, 0.0, shop.calibration_price, settled))
    found += [_untested(answer, days, shop) for answer in answers if answer.untested]
    found.sort(key=_order)
    return (*found, Act("stop", "", "", 0, 0, 0.0, Decimal(0), 0.0)) if found else ()


def _order(act: Act) -> tuple[object, ...]:
    return (not act.possible, -round(act.chance, 2), act.cost is None, act.cost or 0, act.days or 0.0, act.blocks)


def _untested(answer: SeriesAnswer, days: dict[str, float | None], shop: ShopFacts) -> Act:
    ages = [days.get(limit.condition) for limit in answer.limits]
    longest = None if None in ages else max((age for age in ages if age is not None), default=None)
    blocks = BLOCKS * len({limit.condition for limit in answer.limits})
    share = answer.untested.share if answer.untested else 0.0
    name = f"{100 * share:.4g} % {answer.series.material}"
    return Act("share", name, "", blocks, MIXES, longest, _of_blocks(blocks, shop), answer.chance or 0.0)


def _of_blocks(blocks: int, shop: ShopFacts) -> Decimal | None:
    return None if shop.block_price is None else blocks * shop.block_price


def missing(found: Sequence[Act], shop: ShopFacts) -> PricesMissing:
    """Return which prices the shop would have to give so that every act has its cost."""
    return PricesMissing(
        block=shop.block_price is None and any(one.blocks for one in found),
        calibration=shop.calibration_price is None and any(one.kind == "calibrate" for one in found),
    )
