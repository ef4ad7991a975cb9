"""What stands beside the engine's answer: the same without the readings that stray, and what the water leaves."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import hypot, sqrt

from service.desk.results import _engine
from service.desk.results._readings import ReadBlock
from service.desk.results.result_facts import GroupFacts, KeptFacts, OutlierFacts, ReadingFacts, StrayFacts
from service.phrase import Phrase
from service.records.result_queries import TriedBlock
from service.shop_clock import ShopClock
from service.trade.sentences.confounding import alone_remarks
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.odd_readings import outlier_of
from service.trade.strength.wet_dry_ratio import kept_in_water


def strays(
    blocks: Sequence[ReadBlock],
    readings: Sequence[ReadingFacts],
    said: StrengthAnswer,
    groups: Sequence[Group],
    limits: tuple[Limit, ...],
    costs: Mapping[str, Decimal],
    settings: Settings,
) -> tuple[StrayFacts, ...]:
    """Return every group in which a reading strays, as it stands and without it."""
    stray = {one.block for one in readings if one.strays}
    if not stray or not said.groups:
        return ()
    kept = [one for one in blocks if one.facts.block not in stray]
    compositions = {one.recipe: one.composition for one in groups if one.composition}
    without, refusal = _engine.asked(_engine.groups_of(kept, compositions), limits, costs, settings)
    verdicts = {one.recipe: one.verdict for one in said.order}
    verdicts_without = {one.recipe: one.verdict for one in without.order}
    rest = {(one.recipe, one.condition): one for one in without.groups}
    return tuple(
        StrayFacts(
            with_it=group,
            without_it=rest.get((group.recipe, group.condition)),
            blocks=labels,
            verdict=verdicts.get(group.recipe),
            verdict_without=verdicts_without.get(group.recipe),
            declined=refusal,
        )
        for group in said.groups
        if (labels := _labels(readings, group.recipe, group.condition))
    )


def _labels(readings: Sequence[ReadingFacts], recipe: str, condition: str) -> tuple[str, ...]:
    return tuple(one.block for one in readings if one.strays and (one.recipe, one.condition) == (recipe, condition))


def outliers(blocks: Sequence[ReadBlock]) -> tuple[OutlierFacts, ...]:
    """Return, by recipe and condition, the reading that Grubbs' test finds too far from the mean; none is taken out.

    A block that was held or fell apart has no stress at which it broke, and then there is no mean to be far from.
    """
    counted = [(one.facts, one.reading) for one in blocks if one.reading is not None]
    found = []
    for key in dict.fromkeys((facts.recipe, facts.condition) for facts, _ in counted):
        mine = [(facts, reading) for facts, reading in counted if (facts.recipe, facts.condition) == key]
        if all(reading.outcome == "broke" and reading.stress_mpa > 0 for _, reading in mine):
            stresses = [reading.stress_mpa for _, reading in mine]
            far = outlier_of(stresses)
            if far is not None and far.strays:
                block, stress = mine[far.place][0].block, stresses[far.place]
                found.append(OutlierFacts(*key, block, len(mine), stress, far.distance, far.critical))
    return tuple(found)


def kept(facts: Sequence[GroupFacts], groups: Sequence[Group], settings: Settings) -> tuple[KeptFacts, ...]:
    """Return, for every recipe crushed soaked and otherwise, how much of its strength it keeps in the water."""
    batches = {group.recipe: group.batches or 1 for group in groups}
    return tuple(
        KeptFacts(
            wet.said.recipe,
            wet.said.condition,
            dry.said.condition,
            kept_in_water(
                wet.said,
                dry.said,
                dry_floor_mpa=dry.floor_mpa,
                # The mixes are in both conditions, and so is the press.
                error_sd=hypot(settings.scale_uncertainty, settings.batch_sd / sqrt(batches[wet.said.recipe])),
            ),
        )
        for wet in facts
        for dry in facts
        if wet.said.recipe == dry.said.recipe and wet.soaked and not dry.soaked
    )


def sitting_alone(tried: Sequence[TriedBlock], blocks: Sequence[ReadBlock], *, clock: ShopClock) -> tuple[Phrase, ...]:
    """Return the remarks on recipes whose counted blocks sit with one person or one day alone."""
    crushed: dict[str, list[str]] = {}
    mixed: dict[str, list[str]] = {}
    days: dict[str, list[str]] = {}
    for one, block in zip(tried, blocks, strict=True):
        if block.reading is None or one.standing is None:
            continue
        label = block.facts.recipe
        crushed.setdefault(label, []).append(str(one.standing.crushing.crushed_by))
        if one.batch.mixed_at is not None:
            mixed.setdefault(label, []).append(str(one.batch.mixed_by))
            days.setdefault(label, []).append(clock.day(one.batch.mixed_at).isoformat())
    return alone_remarks(crushed_by=crushed, mixed_by=mixed, mixed_on=days)
