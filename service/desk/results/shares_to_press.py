"""Before anything is mixed: which shares of stabiliser, and how many blocks, settle the question soonest."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, look
from service.desk.results import _criteria
from service.errors import Invalid
from service.measured.crushed import condition_of
from service.measured.cup import flow_points
from service.measured.curve import curve_of
from service.phrase import Phrase
from service.records import recipes, result_queries, sack_stock, soil_tests
from service.records.recipes import WholeRecipe
from service.records.shop import Prior
from service.records.soil_tests import WholeTest
from service.trade.block.test_conditions import condition_phrase
from service.trade.soil.plasticity import liquid_limit
from service.trade.strength.estimate_result import Limit
from service.trade.strength.shares_to_press import Aim, Believed, Plans, shares_to_press
from service.trade.strength.soil_level import soil_level

# Own rule: shares that a shop weighs out, with the published economic range of 5 to 9 % in the middle.
OFFERED = (0.03, 0.04, 0.05, 0.06, 0.08, 0.10, 0.12)
_FINES_BELOW_MM = 0.075


@dataclass(frozen=True)
class SoilTested:
    """What was tested of the customer's soil; None: not tested."""

    name: str | None
    fines: float | None
    liquid_limit: float | None


@dataclass(frozen=True)
class SharesSheet:
    """What to press first, what it was worked out from, or why nothing is proposed.

    ``like`` is the letter of the recipe that the new ones would be copied from; None: there is none to copy.
    """

    job_id: UUID
    number: int
    aim: Aim
    found: Plans | None
    missing: str
    conditions: tuple[Phrase, ...]
    soil: SoilTested
    rests_on: str | None
    like: str | None


@look("plan.shares", by=STAFF)
def which_shares(session: Session, caller: Caller, *, job_id: UUID) -> SharesSheet:
    """Return which shares to press, and how many blocks of each, for a job's soil and its limits."""
    job, _, adopted = result_queries.setting(session, job_id)
    like = recipes.newest_of_job(session, job.id) or recipes.newest_recipe(session)
    planned = tuple(condition_of(one) for one in like.groups if one.test is None) if like else ()
    rules = _criteria.chosen(result_queries.criteria_checked(session, job.id), caller.clock)
    limits = _criteria.limits(rules, planned)
    soil = _soil_of(session, job.id)
    aim: Aim = "least" if job.question_kind == "least stabiliser" else "passes"
    found, missing = _found(limits, aim, _believed(adopted, soil), caller.shop.assurance)
    return SharesSheet(
        job_id=job.id,
        number=job.number,
        aim=aim,
        found=found,
        missing=missing,
        conditions=tuple(condition_phrase(one) for one in dict.fromkeys(one.condition for one in limits)),
        soil=soil,
        rests_on=adopted.rests_on if adopted else None,
        like=_letter(like, job.id),
    )


def _letter(like: WholeRecipe | None, job_id: UUID) -> str | None:
    if like is None:
        return None
    return like.recipe.label if like.recipe.job_id == job_id else ""


def _found(limits: tuple[Limit, ...], aim: Aim, believed: Believed, wanted: float) -> tuple[Plans | None, str]:
    if not limits:
        return None, "Choose a code or a rule for this job first: without a limit no share passes or fails."
    try:
        return _worked_out(limits, aim, believed, wanted), ""
    except Invalid as refusal:
        return None, refusal.sentence


@lru_cache(maxsize=64)
def _worked_out(limits: tuple[Limit, ...], aim: Aim, believed: Believed, wanted: float) -> Plans:
    return shares_to_press(OFFERED, limits, aim=aim, believed=believed, wanted=wanted)


def _believed(adopted: Prior | None, soil: SoilTested) -> Believed:
    """Return what the shop's history says, else what soils like this one say."""
    if adopted is not None:
        return Believed(
            median_mpa=adopted.median_mpa,
            log_sd=adopted.log_sd,
            scatter=adopted.scatter,
            scatter_log_sd=adopted.scatter_log_sd,
            mixes=adopted.batch_sd,
        )
    level = soil_level(fines=soil.fines, liquid_limit=soil.liquid_limit)
    median = level.at_middle_of(OFFERED[0], OFFERED[-1], slope=Believed.slope, bend=Believed.bend)
    return Believed(median_mpa=median, log_sd=level.log_sd)


def _soil_of(session: Session, job_id: UUID) -> SoilTested:
    sacks = sack_stock.sacks_in_hand(session, job_id)
    soil = next((one.material for one in sacks if one.material.kind == "soil"), None)
    if soil is None:
        return SoilTested(None, None, None)
    tests = soil_tests.sievings_and_cups(session, [soil.id])
    graded = curve_of(_newest(tests, "sieve"), None)
    fines = graded.curve.share_at(_FINES_BELOW_MM) if graded else None
    points = flow_points(_newest([one for one in tests if not one.oven_dried], "flow"))
    return SoilTested(soil.name, fines, liquid_limit(points).liquid_limit if points else None)


def _newest(tests: Sequence[WholeTest], kind: str) -> WholeTest | None:
    return next((one for one in reversed(tests) if one.test.kind == kind), None)
