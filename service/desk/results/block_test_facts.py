"""What a result says of tests besides crushing, block by block, recipe by recipe and limit by limit."""

from dataclasses import dataclass
from datetime import date

from service.trade.block.durability_tests import Endured, Summary
from service.trade.criteria.durability_limits import BlockTest, Verdict


@dataclass(frozen=True)
class EnduredFacts:
    """One test of one block: what was typed, word for word, and what it comes to."""

    block: str
    recipe: str
    batch: int
    came_to: Endured
    typed: dict[str, str]
    words: dict[str, str | int]
    force_kn: float | None
    calibration: str | None
    in_range: bool | None
    after_end: bool
    done_on: date


@dataclass(frozen=True)
class SummaryFacts:
    """What the blocks of one recipe came to in one test."""

    recipe: str
    summary: Summary


@dataclass(frozen=True)
class VerdictFacts:
    """One recipe held against one demand: how many blocks were tested, and how the demand reads on them."""

    recipe: str
    verdict: Verdict
    blocks: int


@dataclass(frozen=True)
class DemandFacts:
    """A limit on another test than crushing, the rule it comes from, and what each recipe comes to."""

    criterion: str
    name: str
    test: BlockTest
    statistic: str
    limit: float
    limit_si: float
    unit: str
    at_least: bool
    blocks: int
    hours: float | None
    cycles: int | None
    standing: str
    judged: bool
    verdicts: tuple[VerdictFacts, ...]
