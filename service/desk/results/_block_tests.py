"""What the tests besides crushing come to, each by its own arithmetic; a gauge by the line of its day."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple
from uuid import UUID

from service.desk.results._criteria import Chosen
from service.desk.results._scales import Scale, Scales
from service.desk.results.block_test_facts import DemandFacts, EnduredFacts, SummaryFacts, VerdictFacts
from service.records.durability_tests import Absorption, Row
from service.records.result_queries import TriedBending, TriedBlock
from service.shop_clock import ShopClock
from service.trade.block.durability_tests import Endured, bent, endured_by, soaked_up, weathered, worn
from service.trade.criteria.durability_limits import Demand, verdict_of
from service.trade.sentences.durability import Judged

HOUR = 3600.0
WORDS = ("outcome", "state", "laid", "manner", "state_before", "number", "remark")


class Place(NamedTuple):
    """Which block of which recipe and batch."""

    block: str
    recipe: str
    batch: int


@dataclass(frozen=True)
class TestedBlock:
    """One test of a block with what it comes to, and the line that gave its force."""

    facts: EnduredFacts
    scale: Scale | None


def tested_blocks(
    found: Sequence[TriedBlock], scales: Scales, *, labels: Mapping[UUID, str]
) -> tuple[TestedBlock, ...]:
    """Return every standing test of a job that is over, block by block."""
    return tuple(test for one in found for test in _tests(one, scales, labels[one.batch.recipe_id]))


def _tests(one: TriedBlock, scales: Scales, recipe: str) -> Iterator[TestedBlock]:
    place, clock = Place(one.block.label, recipe, one.batch.number), scales.clock
    if one.bent is not None:
        test = _bent(one.bent, scales, place)
        if test is not None:
            yield test
    wet = one.absorption
    if wet is not None and wet.weighed_at is not None:
        yield TestedBlock(_facts(wet, _soaked(wet), wet.weighed_at, place, clock), None)
    if one.erosion is not None:
        row = one.erosion
        came_to = worn(spray=row.manner == "spray", depth_mm=row.depth_mm, minutes=row.water_min)
        yield TestedBlock(_facts(row, came_to, row.done_at, place, clock), None)
    lost = weathered({number: cycle.mass_kg for number, cycle in one.cycles.items()})
    if lost is not None:
        last, first = one.cycles[max(one.cycles)], one.cycles[0]
        facts = _facts(last, lost, last.done_at, place, clock)
        typed = {"before_kg": _typed(first)["mass_kg"], **facts.typed}
        yield TestedBlock(replace(facts, typed=typed), None)


def _bent(told: TriedBending, scales: Scales, place: Place) -> TestedBlock | None:
    """Return a bending, or None where the gauge showed no force above zero."""
    row = told.flexure
    scale, force, shifted = None, row.force_kn, None
    if row.gauge_mpa is not None and told.gauge is not None and told.press is not None:
        scale = scales.on(told.gauge, told.press, row.done_at)
        shifted = row.gauge_mpa - scale.shift_mpa(told.press_session)
        force = scale.force_kn(row.gauge_mpa, told.press_session)
    if force is None or force <= 0:
        return None
    sides = {"span_mm": row.span_mm, "width_mm": row.width_mm, "thickness_mm": row.thickness_mm}
    facts = _facts(row, bent(force_kn=force, held=row.outcome == "held", **sides), row.done_at, place, scales.clock)
    facts = replace(
        facts,
        force_kn=force,
        calibration=scale.key if scale else None,
        in_range=scale.covers(shifted) if scale and shifted is not None else None,
        after_end=scale is not None and scale.over_on(facts.done_on),
    )
    return TestedBlock(facts, scale)


def _soaked(row: Absorption) -> Endured:
    hours = (row.weighed_at - row.wetted_at).total_seconds() / HOUR if row.weighed_at else 0.0
    return soaked_up(
        before_kg=row.before_kg,
        after_kg=row.after_kg,
        oven_dry=row.state_before == "oven-dry",
        damp_surface=row.manner == "damp surface",
        hours=hours,
    )


def _facts(row: Row, came_to: Endured, at: datetime, place: Place, clock: ShopClock) -> EnduredFacts:
    said = {name: getattr(row, name, None) for name in WORDS}
    return EnduredFacts(
        block=place.block,
        recipe=place.recipe,
        batch=place.batch,
        came_to=came_to,
        typed=_typed(row),
        words={name: word for name, word in said.items() if word is not None},
        force_kn=None,
        calibration=None,
        in_range=None,
        after_end=False,
        done_on=clock.day(at),
    )


def _typed(row: Row) -> dict[str, str]:
    return {name: f"{read['text']} {read['unit']}" for name, read in row.as_read.items()}


def summaries(tests: Sequence[TestedBlock]) -> tuple[SummaryFacts, ...]:
    """Return what the blocks of each recipe came to, test by test."""
    recipes = dict.fromkeys(one.facts.recipe for one in tests)
    return tuple(SummaryFacts(recipe, summary) for recipe in recipes for summary in endured_by(_came_to(tests, recipe)))


def _came_to(tests: Sequence[TestedBlock], recipe: str) -> list[Endured]:
    return [one.facts.came_to for one in tests if one.facts.recipe == recipe]


def demanded(rules: Sequence[Chosen], tests: Sequence[TestedBlock], recipes: Sequence[str]) -> tuple[DemandFacts, ...]:
    """Return every limit on another test that the rules of a job have, with each recipe held against it."""
    return tuple(
        _demand(one, demand, one.criterion.judges_tests(confirmed=one.facts.confirmed_on is not None), tests, recipes)
        for one in rules
        for demand in one.criterion.demands
    )


def _demand(
    rule: Chosen, demand: Demand, judged: bool, tests: Sequence[TestedBlock], recipes: Sequence[str]
) -> DemandFacts:
    found = {recipe: [one for one in _came_to(tests, recipe) if one.test == demand.test] for recipe in recipes}
    return DemandFacts(
        criterion=rule.facts.name,
        name=demand.name,
        test=demand.test,
        statistic=demand.statistic,
        limit=demand.limit,
        limit_si=demand.limit_si,
        unit=demand.unit,
        at_least=demand.at_least,
        blocks=demand.blocks,
        hours=demand.hours,
        cycles=demand.cycles,
        standing=rule.facts.standing,
        judged=judged,
        verdicts=tuple(
            VerdictFacts(recipe, verdict_of(demand, mine), len(mine)) for recipe, mine in found.items() if judged
        ),
    )


def judged(demands: Sequence[DemandFacts]) -> list[Judged]:
    """Return the same as the sentences on them need it."""
    return [
        Judged(one.criterion, one.name, said.recipe, said.verdict, said.blocks)
        for one in demands
        for said in one.verdicts
    ]
