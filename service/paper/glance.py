"""What the first page of a result shows beside its sentences: the customer's own terms, two numbers, their limits."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from service.desk.doorway import Units
from service.desk.results.recipe_facts import BagFacts, CostFacts, RecipeFacts
from service.desk.results.result_facts import AskedFacts, CriterionFacts, GroupFacts, Result
from service.paper.evidence import widest_step_mpa
from service.phrase import Phrase
from service.trade.sentences.asking import asks
from service.trade.sentences.open_points import FAILING, TOO_FEW
from service.trade.sentences.verdict import HOW_SURE, TOO_EARLY
from service.trade.strength.estimate_result import LimitAnswer, Verdict

Missing = Literal["machine", "bag", "price", "carbon", "wall"]
Outcome = Literal["passes", "passes so far", "not settled", "fails", "not judged"]
# Pressures of bench and machine closer than this are the same to whoever pumps.
SAME_PRESSURE = 0.05
# So many sentences of an answer are read before what to ask for.
FIRST = 3
# 0.3048 m squared: the foot is that by definition.
M2_PER_FT2 = 0.09290304


@dataclass(frozen=True)
class Area:
    """One square metre or square foot of wall, one block thick, without joints."""

    blocks: float
    bags: float | None
    cost: Decimal | None
    carbon_kg: float | None


@dataclass(frozen=True)
class Bar:
    """One recipe's strength in one condition against its highest limit; an end that is None is open."""

    recipe: str
    condition: str
    soaked: bool
    low_mpa: float | None
    median_mpa: float | None
    high_mpa: float | None
    measured_to_mpa: float | None
    limit_mpa: float | None
    limit: str

    @property
    def reach_mpa(self) -> float:
        """How far the bar or its limit reaches."""
        known = (self.high_mpa, self.measured_to_mpa, self.median_mpa, self.low_mpa, self.limit_mpa)
        return max(value or 0.0 for value in known)


@dataclass(frozen=True)
class Short:
    """A limit that is shown on fewer blocks than its rule asks for."""

    condition: str
    counted: int
    required: int


@dataclass(frozen=True)
class Tried:
    """One recipe that was tried: what is in it, what it came to, and what a square of wall of it costs."""

    label: str
    # Mass of each material for 100 of dry soil, whatever the unit of mass.
    parts: tuple[tuple[str, float], ...]
    outcome: Outcome
    assurance: float | None
    cost: Decimal | None


@dataclass(frozen=True)
class Glance:
    """What a builder acts on, or what is missing to say it."""

    recipe: RecipeFacts | None
    # It passes so far, but its rule asks for more blocks.
    too_early: bool
    why: tuple[Phrase, ...]
    how_sure: Phrase | None
    open: tuple[Phrase, ...]
    tried: tuple[Tried, ...]
    limits: tuple[str, ...]
    bars: tuple[Bar, ...]
    step_mpa: float
    bag: BagFacts | None
    area: Area | None
    missing: tuple[Missing, ...]
    fails: tuple[str, ...]
    short: tuple[Short, ...]
    unread: tuple[CriterionFacts, ...]
    bench_mpa: float | None
    presses_otherwise: bool
    oldest_days: float | None
    stabiliser: str | None

    @property
    def told(self) -> tuple[Phrase, ...]:
        """What is read at once: what the recipe is and passes, and what to ask for."""
        return (*self.why[:FIRST], *(one for one in self.why[FIRST:] if asks(one)))

    @property
    def folded(self) -> tuple[Phrase, ...]:
        """What a narrow screen shows when it is asked to; a paper shows all."""
        return tuple(one for one in self.why[FIRST:] if not asks(one))

    @property
    def edge_mpa(self) -> float:
        """The stress at the right edge of the picture."""
        return 1.15 * max([1.0, *(bar.reach_mpa for bar in self.bars)])


def glance(result: Result, units: Units) -> Glance:
    """Return the first page's facts: of the recipe to use, else of the one that came nearest."""
    label = result.recommended or (result.order[0].recipe if result.order else None)
    recipe = next((one for one in result.recipes if one.label == result.recommended), None)
    cost = recipe.cost if recipe else None
    own = cost if cost and cost.block == "own block" else None
    shown = recipe or next((one for one in result.recipes if one.label == label), None)
    ages = [one.age_days for one in result.conditions if one.age_days is not None]
    # What is open stands once: with what was not tested, or as the reason why a recipe is not named.
    late = [one for one in result.not_known if recipe and one.english not in FAILING.values()]
    spoken = [one for one in result.answer[1:] if one.english not in TOO_FEW.values()]
    return Glance(
        recipe=recipe,
        too_early=result.answer[0].english == TOO_EARLY,
        why=tuple(one for one in spoken if one.english != HOW_SURE and one not in late),
        how_sure=next((one for one in spoken if one.english == HOW_SURE), None),
        open=tuple(one for one in spoken if one in late),
        tried=tuple(_tried(one, result, units) for one in result.recipes),
        limits=tuple(dict.fromkeys(one.criterion for one in result.asked)),
        bars=_bars(result, label),
        step_mpa=widest_step_mpa(result),
        bag=own.bag if own else None,
        area=area_of(own, units) if own else None,
        missing=_missing(result, recipe),
        fails=tuple(one.recipe for one in result.order if one.verdict == "will not do"),
        short=_short(result, label),
        unread=tuple(
            one for one in result.criteria if one.counts and not one.confirmed_on and one.standing == "second-hand"
        ),
        bench_mpa=shown.press_stress_mpa if shown else None,
        presses_otherwise=_presses_otherwise(result, shown),
        oldest_days=max(ages, default=None),
        stabiliser=next((part.name for part in recipe.parts if part.role == "stabiliser"), None) if recipe else None,
    )


def area_of(cost: CostFacts, units: Units) -> Area | None:
    """Return the blocks, bags, money and carbon of one square metre or square foot of wall."""
    if cost.square is None:
        return None
    size = M2_PER_FT2 if units == "imperial" else 1.0
    one = cost.square
    return Area(
        blocks=one.blocks * size,
        bags=one.blocks * size * cost.bag.per_hundred / 100 if cost.bag else None,
        cost=None if one.cost is None else one.cost * Decimal(repr(size)),
        carbon_kg=None if one.carbon_kg is None else one.carbon_kg * size,
    )


def _tried(recipe: RecipeFacts, result: Result, units: Units) -> Tried:
    order = next((one for one in result.order if one.recipe == recipe.label), None)
    judged = order if result.limits else None
    area = area_of(recipe.cost, units) if recipe.cost and recipe.cost.block == "own block" else None
    parts = [
        (part.name, 100 * (part.share if part.over_dry_soil is None else part.over_dry_soil)) for part in recipe.parts
    ]
    return Tried(
        label=recipe.label,
        parts=tuple(parts),
        outcome=_outcome(recipe.label, result, judged.verdict) if judged else "not judged",
        assurance=judged.assurance if judged else None,
        cost=area.cost if area else None,
    )


def _outcome(label: str, result: Result, verdict: Verdict) -> Outcome:
    if verdict == "will do":
        short = any(one.rule == "too few" for one in result.limits if one.recipe == label)
        return "passes so far" if short else "passes"
    return "fails" if verdict == "will not do" else "not settled"


def _bars(result: Result, label: str | None) -> tuple[Bar, ...]:
    """Return a bar for the dry and for the soaked blocks, each against its highest limit."""
    mine = [one for one in result.groups if one.said.recipe == label]
    asked = {one.name: one for one in result.asked if not one.shape}
    bars = []
    for soaked in (False, True):
        found = [(one, _hardest(one, asked)) for one in mine if one.soaked is soaked]
        # The condition with a limit is the one that is asked about.
        found.sort(key=lambda pair: (pair[1] is None, -(pair[1].limit_mpa if pair[1] else 0.0)))
        if found:
            bars.append(_bar(*found[0]))
    return tuple(bars)


def _hardest(group: GroupFacts, asked: dict[str, AskedFacts]) -> AskedFacts | None:
    mine = [one for one in asked.values() if one.condition == group.said.condition]
    return max(mine, key=lambda one: one.limit_mpa, default=None)


def _bar(group: GroupFacts, limit: AskedFacts | None) -> Bar:
    said, top = group.said, group.beyond_mpa
    return Bar(
        recipe=said.recipe,
        condition=said.condition,
        soaked=group.soaked,
        low_mpa=group.measured(said.low_mpa),
        # Where measuring stopped below it, the middle is a figure of the model and no reading.
        median_mpa=said.median_mpa if top is None or (said.median_mpa or 0.0) <= top else None,
        high_mpa=said.high_mpa if top is None else None,
        measured_to_mpa=top if top is not None else group.highest_held_mpa,
        limit_mpa=limit.limit_mpa if limit else None,
        limit=limit.criterion if limit else "",
    )


def _missing(result: Result, recipe: RecipeFacts | None) -> tuple[Missing, ...]:
    """Return what the customer or the shop has to tell before the wall can be counted in bags and money."""
    job, found = result.job, list[Missing]()
    if job.machine_length_mm is None:
        found.append("machine")
    if recipe and recipe.cost:
        if any(part.role == "stabiliser" for part in recipe.parts) and recipe.cost.bag is None:
            found.append("bag")
        if recipe.cost.price_missing:
            found.append("price")
        if recipe.cost.carbon_missing:
            found.append("carbon")
    if job.wall_thickness_mm is None or job.wall_height_m is None:
        found.append("wall")
    return tuple(found)


def _short(result: Result, label: str | None) -> tuple[Short, ...]:
    conditions = {one.name: one.condition for one in result.asked}
    rows: dict[str, LimitAnswer] = {}
    for row in result.limits:
        if row.recipe == label and row.counted < row.required:
            rows.setdefault(conditions.get(row.name, ""), row)
    return tuple(Short(condition, row.counted, row.required) for condition, row in rows.items())


def _presses_otherwise(result: Result, recipe: RecipeFacts | None) -> bool:
    bench, machine = recipe.press_stress_mpa if recipe else None, result.job.machine_pressure_mpa
    if bench is None or machine is None:
        return False
    return abs(bench - machine) > SAME_PRESSURE * machine
