"""What the strength engine is given of a job, and what it said of the same input before."""

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import lru_cache
from importlib.metadata import version
from math import hypot

from service.desk.results._kept import Kept
from service.desk.results._readings import ReadBlock
from service.desk.results.result_facts import ReadingFacts
from service.errors import Invalid, Unsettled
from service.records.shop import Prior as AdoptedPrior
from service.trade.press.calibration import standard_uncertainty
from service.trade.strength.censored_readings import Reading
from service.trade.strength.estimate import strength
from service.trade.strength.estimate_result import Composition, Group, Limit, Settings, StrengthAnswer
from service.trade.strength.odd_readings import straying
from service.trade.strength.prior import Prior

# The engine that every result names, so that it can be told from one of an older engine.
ENGINE = f"loambook {version('loambook')}"
_ANSWERS: Kept[StrengthAnswer] = Kept(most=512)
_EMPTY = StrengthAnswer((), (), (), (), ())


def groups_of(blocks: Sequence[ReadBlock], compositions: Mapping[str, Composition] | None = None) -> tuple[Group, ...]:
    """Return the counted readings by recipe and condition, with the mixes and the shapes of each recipe's blocks.

    ``compositions`` are of the recipes that the curve goes through.

    In each group they stand in the order in which they were crushed: a rule is put to the first of them, and what is
    crushed later does not change which these are. Nobody knew a strength when that order was made.
    """
    counted = sorted((block for block in blocks if block.reading is not None), key=lambda block: block.facts.turn)
    batches: dict[str, set[int]] = {}
    by_key: dict[tuple[str, str], list[ReadBlock]] = {}
    for block in counted:
        batches.setdefault(block.facts.recipe, set()).add(block.facts.batch)
        by_key.setdefault((block.facts.recipe, block.facts.condition), []).append(block)
    tables = dict.fromkeys(table for block in counted for table in block.factors)
    return tuple(
        Group(
            recipe,
            condition,
            tuple(block.reading for block in mine if block.reading),
            len(batches[recipe]),
            tuple((table, tuple(block.factors.get(table) for block in mine)) for table in tables),
            tuple(f"{block.facts.batch}" for block in mine),
            (compositions or {}).get(recipe),
        )
        for (recipe, condition), mine in by_key.items()
    )


def settings_of(
    adopted: AdoptedPrior | None, blocks: Sequence[ReadBlock], *, assurance: float, margin: float
) -> Settings:
    """Return what the engine is to assume: the shop's own history where it was adopted, else the defaults."""
    prior = (
        Prior()
        if adopted is None
        else Prior(
            median_mpa=adopted.median_mpa,
            log_sd=adopted.log_sd,
            scatter=adopted.scatter,
            scatter_log_sd=adopted.scatter_log_sd,
            spread=adopted.spread,
            spread_log_sd=adopted.spread_log_sd,
            mixes=adopted.batch_sd,
        )
    )
    return Settings(
        assurance=assurance,
        margin=margin,
        scale_uncertainty=max((_scale_uncertainty(block) for block in blocks), default=0.0),
        batch_sd=prior.mixes,
        prior=prior,
    )


def _scale_uncertainty(block: ReadBlock) -> float:
    """Return how far one reading's scale may be off: its line, and the reference that the line was made with."""
    if block.reading is None or block.scale is None or block.scale_uncertainty is None:
        return 0.0
    certificate = block.scale.calibrated.calibration if block.scale.calibrated else None
    if certificate is None or certificate.reference_uncertainty is None:
        return block.scale_uncertainty
    reference = standard_uncertainty(
        stated=certificate.reference_uncertainty, coverage_factor=certificate.coverage_factor or 1.0
    )
    return hypot(block.scale_uncertainty, reference)


def asked(
    groups: tuple[Group, ...], limits: tuple[Limit, ...], costs: Mapping[str, Decimal], settings: Settings
) -> tuple[StrengthAnswer, str | None]:
    """Return the engine's answer, or nothing and why it declines."""
    if not groups:
        return _EMPTY, None
    try:
        return _kept_or_worked_out(groups, limits, costs, settings), None
    except (Invalid, Unsettled) as refusal:
        return _EMPTY, refusal.sentence


def _kept_or_worked_out(
    groups: tuple[Group, ...], limits: tuple[Limit, ...], costs: Mapping[str, Decimal], settings: Settings
) -> StrengthAnswer:
    tried = {group.recipe for group in groups}
    of_tried = {label: costs[label] for label in sorted(costs) if label in tried}
    digest = digest_of(groups, limits, of_tried, settings)
    return _ANSWERS.get(digest, lambda: strength(groups, limits=limits, costs=of_tried, settings=settings))


def digest_of(
    groups: tuple[Group, ...], limits: tuple[Limit, ...], costs: Mapping[str, Decimal], settings: Settings
) -> str:
    """Return the SHA-256 of all that goes into an answer, the engine's version too, so that none is served stale."""
    # The text of a frozen dataclass holds every field, and of a float every digit.
    return hashlib.sha256(repr((ENGINE, groups, limits, tuple(costs.items()), settings)).encode()).hexdigest()


def with_strays(blocks: Sequence[ReadBlock], settings: Settings) -> tuple[ReadingFacts, ...]:
    """Return every reading, those that stray from their siblings marked."""
    stray: set[str] = set()
    standing = [block for block in blocks if block.reading and block.reading.outcome != "fell apart"]
    for key in dict.fromkeys((block.facts.recipe, block.facts.condition) for block in standing):
        mine = [block for block in standing if (block.facts.recipe, block.facts.condition) == key]
        marked = _straying(tuple(block.reading for block in mine if block.reading), settings.prior)
        stray |= {mine[place].facts.block for place in marked}
    return tuple(replace(block.facts, strays=block.facts.block in stray) for block in blocks)


@lru_cache(maxsize=512)
def _straying(readings: tuple[Reading, ...], prior: Prior) -> tuple[int, ...]:
    """Return by their places the readings that stray from the others of their group."""
    marked = straying(
        [one.stress_mpa for one in readings],
        held=[one.outcome == "held" for one in readings],
        prior_scatter=prior.scatter,
        prior_log_sd=prior.scatter_log_sd,
    )
    return tuple(one.place for one in marked)
