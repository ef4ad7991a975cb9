"""What the numbers of a job come to in words, and what weakens them."""

from collections.abc import Sequence
from statistics import fmean

from service.desk.results import _recipes
from service.desk.results._readings import ReadBlock
from service.desk.results.recipe_facts import RecipeFacts
from service.desk.results.result_facts import ReadingFacts
from service.phrase import Phrase, Value
from service.trade.block.test_conditions import Condition, condition_phrase
from service.trade.sentences.tried_recipes import Question, Recipe, Straying, Tally, Trial
from service.trade.sentences.verdict import NONE_CRUSHED, Answer, answer
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.prior_check import disagreements


def words_of(
    *,
    question: Question,
    recipe_facts: Sequence[RecipeFacts],
    conditions: tuple[Condition, ...],
    limits: tuple[Limit, ...],
    said: StrengthAnswer,
    readings: Sequence[ReadingFacts],
    settings: Settings,
    calibrated: bool,
) -> Answer:
    """Return the answer to the customer's question from the numbers."""
    if not said.groups:
        return Answer(None, (NONE_CRUSHED,), ())
    tried = {group.recipe for group in said.groups}
    return answer(
        Trial(
            question=question,
            recipes=tuple(_tried(one) for one in recipe_facts if one.label in tried),
            conditions=conditions,
            limits=limits,
            strength=said,
            tallies=_tallies(readings),
            straying=tuple(
                Straying(
                    one.recipe,
                    one.condition,
                    one.crushed.stress.stress_mpa,
                    one.crushed.stress.graduation_mpa,
                    above=_above(one, one.crushed.stress.stress_mpa, readings),
                )
                for one in readings
                if one.strays and one.crushed and one.crushed.stress
            ),
            assurance=settings.assurance,
            margin=settings.margin,
            calibrated=calibrated,
        )
    )


def _tried(facts: RecipeFacts) -> Recipe:
    cost = facts.cost.cost_per_block if facts.cost else None
    return _recipes.tried_recipe(facts.label, facts.parts, cost=cost, mixes=len(facts.mixes))


def _above(stray: ReadingFacts, stress_mpa: float, readings: Sequence[ReadingFacts]) -> bool:
    """Return whether a reading is higher than the others of its recipe and condition are in the middle."""
    mine = [
        one for one in readings if one is not stray and (one.recipe, one.condition) == (stray.recipe, stray.condition)
    ]
    others = [*_stresses(mine, "broke"), *_stresses(mine, "held")]
    return bool(others) and stress_mpa > fmean(others)


def _tallies(readings: Sequence[ReadingFacts]) -> tuple[Tally, ...]:
    keys = dict.fromkeys((one.recipe, one.condition) for one in readings)
    tallies = []
    for recipe, condition in keys:
        mine = [one for one in readings if (one.recipe, one.condition) == (recipe, condition)]
        held, broke = _stresses(mine, "held"), _stresses(mine, "broke")
        steps = [one.crushed.stress.graduation_mpa for one in mine if one.crushed and one.crushed.stress]
        fates = [one.fate for one in mine]
        tallies.append(
            Tally(
                recipe,
                condition,
                max(held, default=None),
                spoiled=fates.count("spoiled"),
                lost=fates.count("lost"),
                lowest_mpa=min(broke, default=None),
                mean_mpa=fmean(broke) if broke and not held else None,
                step_mpa=max(steps, default=0.0),
            )
        )
    return tuple(tallies)


def _stresses(readings: Sequence[ReadingFacts], outcome: str) -> list[float]:
    crushed = [one.crushed for one in readings if one.fate == "counted" and one.crushed]
    return [one.stress.stress_mpa for one in crushed if one.outcome == outcome and one.stress]


def unexpected(groups: Sequence[Group], settings: Settings) -> tuple[Phrase, ...]:
    """Return where blocks scatter otherwise than was believed before they were crushed."""
    found = []
    for one in disagreements(groups, settings.prior):
        values: dict[str, Value] = {
            "condition": condition_phrase(one.condition),
            "seen_share": one.seen,
            "expected_share": one.expected,
        }
        found.append(Phrase(_UNEXPECTED, values))
    return tuple(found)


_UNEXPECTED = "Blocks {condition} scatter by {seen_share}; we expected {expected_share}."


def doubts(blocks: Sequence[ReadBlock]) -> tuple[Phrase, ...]:
    """Return what weakens readings that count: a calibration past its end, a gauge outside it, blocks left out."""
    stresses = [one.facts.crushed.stress for one in blocks if one.reading and one.facts.crushed]
    counts = {
        _PAST_END: sum(bool(stress and stress.after_end) for stress in stresses),
        _WANDERED: sum(bool(stress and stress.zero_wandered) for stress in stresses),
        _OUT_OF_RANGE: sum(stress is not None and stress.in_range is False for stress in stresses),
        _LEFT_OUT: sum(one.facts.fate == "left out" for one in blocks),
        _WAITING: sum(one.facts.fate == "waiting" for one in blocks),
    }
    return tuple(Phrase(english, {"count": count}) for english, count in counts.items() if count)


_PAST_END = "{count} of the readings were taken after the calibration of the gauge had run out."
_WANDERED = "{count} of the readings were taken at a gauge whose zero had moved by more than a mark when it was closed."
_OUT_OF_RANGE = "{count} of the readings lie outside the range over which the gauge was calibrated."
_LEFT_OUT = (
    "{count} of the crushed blocks are not counted, because of their age, their soak or their state; each is listed."
)
_WAITING = "{count} of the blocks are still to be crushed."
