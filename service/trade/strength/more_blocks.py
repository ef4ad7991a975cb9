"""Would more blocks help?, and what a number of blocks can tell apart at all."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from service.phrase import Phrase, Value
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.fit.in_range import in_range
from service.trade.strength.fit.job import Job, job_of
from service.trade.strength.looking_ahead import Option, Recipe, beliefs_of, calibration_ahead, look_ahead
from service.trade.strength.shape_corrected_limits import as_crushed, said_of
from service.trade.validation import require

# Our own rules: "probably" is four in five, "probably not" one in five, and nobody is sent back to the mixer for more
# than twenty blocks.
PROBABLY, PROBABLY_NOT = 0.80, 0.20
TRIED = (3, 5, 10, 20)
_ONE_SIDED, _POWER = 1.6449, 0.8416
# Parts of a belief that speak for all of them.
_PARTS = 240


@dataclass(frozen=True)
class More:
    """What acts would do for one limit of one recipe: blocks of a new mix, of the same mix, or a calibration."""

    recipe: str
    condition: str
    limit: Limit
    assurance: float
    options: tuple[Option, ...]
    same_mix: tuple[Option, ...]
    calibration: Option | None

    @property
    def enough(self) -> Option | None:
        """The least number that would probably settle it."""
        return next((one for one in self.options if one.settled >= PROBABLY), None)

    def phrase(self) -> Phrase:
        """Return it as a sentence."""
        told = self.enough or self.options[-1]
        values: dict[str, Value] = {"blocks": told.blocks, "recipe": self.recipe, "condition": self.condition,
                  "limit_mpa": said_of(self.limit), "settled_chance": told.settled}  # fmt: skip
        return Phrase(_SETTLES if self.enough else _MAY if told.settled > PROBABLY_NOT else _LEAVES_OPEN, values)


_SETTLES = (
    "{blocks} more blocks of {recipe} from a new batch, {condition}, would probably settle whether it reaches "
    "{limit_mpa}. The chance that they would: {settled_chance}."
)
_MAY = (
    "{blocks} more blocks of {recipe} from a new batch, {condition}, may settle whether it reaches {limit_mpa}. "
    "The chance that they would: {settled_chance}."
)
_LEAVES_OPEN = (
    "Even {blocks} more blocks of {recipe} from a new batch, {condition}, would probably not settle whether it "
    "reaches {limit_mpa}. The chance that they would: {settled_chance}."
)


def more_blocks(
    groups: Sequence[Group], said: StrengthAnswer, *, limits: Sequence[Limit], settings: Settings
) -> tuple[More, ...]:
    """Return, for every limit that is not settled for a recipe, what more blocks of it would do.

    Each number of blocks is looked ahead at by 400 futures drawn from what is believed, always the same ones; a block
    that would outlive what the press was taken to in this job is held there. The blocks come from one new mix, which
    lies off the recipe like any other, or from the mixes made, which tell nothing of what mixes differ by.

    Parameters
    ----------
    groups : Sequence[Group]
        The readings, as the engine was given them.
    said : StrengthAnswer
        What the engine said of them.
    limits : Sequence[Limit]
        The limits it was asked about.
    settings : Settings
        As it was asked.

    Returns
    -------
    tuple[More, ...]
        In the order of the engine's limits; no recipe of which a block fell apart or a rule is not met.

    Raises
    ------
    Invalid
        If the readings cannot be used.
    Unsettled
        If the numbers run out of range.

    Source
    ------
    own-rule : the numbers tried and what counts as probably; the chances are the strength model's.

    Examples
    --------
    >>> more_blocks([], StrengthAnswer((), (), (), (), ()), limits=[], settings=Settings())
    ()
    """
    named = {limit.name: limit for limit in limits}
    wanted = settings.assurance
    open_rows = [
        row
        for row in said.limits
        if row.assurance is not None and 1 - wanted < row.assurance < wanted and row.rule != "not met"
    ]
    if not open_rows:
        return ()
    job = job_of(groups, limits, {}, settings)
    held = [reading.low_mpa for group in groups for reading in group.readings if reading.outcome == "held"]
    found = []
    for row in open_rows:
        limit = named[row.name]
        recipe = believed(job, row.recipe, limit.condition)
        here = as_crushed(job.groups[limit.condition, row.recipe], limit)
        asked: dict[str, Any] = {
            "error_sd": settings.scale_uncertainty,
            "wanted": wanted,
            "press_mpa": max(held, default=math.inf),
            "tried": [count for count in TRIED if row.counted + count >= row.required] or [row.required - row.counted],
        }
        new = look_ahead(beliefs_of(recipe.of_a_new_mix()), here, **asked)
        same = look_ahead(beliefs_of(recipe), here, **asked)
        calibrated = calibration_ahead(recipe, here, scale_sd=settings.scale_uncertainty, wanted=wanted)
        found.append(More(row.recipe, limit.condition, limit, row.assurance or 0.0, new, same, calibrated))
    return tuple(found)


def believed(job: Job, recipe: str, condition: str) -> Recipe:
    """Return what is believed of a recipe in a condition, and of the mix of it that most blocks came from.

    Parameters
    ----------
    job : Job
        A job of the strength engine.
    recipe : str
        With a standing block in the condition.
    condition : str
        Which.

    Returns
    -------
    Recipe
        A few hundred parts, the likelier ones more often.

    Raises
    ------
    Unsettled
        If the numbers run out of range.

    Source
    ------
    strength-model : where no mix is named, the mixes made are one lump.

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),) * 5)], (), {}, Settings())
    >>> round(math.exp(believed(job, "A", "dry").mean.mean()), 1)
    3.0
    """
    number = job.number(condition, recipe)
    assert number is not None
    with in_range():
        return _believed(job, recipe, *number)


def _believed(job: Job, recipe: str, condition: int, number: int) -> Recipe:
    fit = job.fit
    parts = fit.kept_parts(number, [condition])
    order = np.argsort(parts.mean[0], kind="stable")
    at = np.searchsorted(np.cumsum(parts.weight[order]), (np.arange(_PARTS) + 0.5) / _PARTS)
    few = parts.taken(order[np.minimum(at, len(order) - 1)])
    mean, variance, node = few.mean[0], few.cov[0, 0], few.node
    weight, sigma = np.full(_PARTS, 1 / _PARTS), np.exp(few.log_sigma[0])
    lump = job.errors(recipe).batches
    if not job.mixes_named:
        off = np.full(_PARTS, job.settings.batch_sd)
        return Recipe(weight, sigma, mean, variance + lump, mean, variance, variance, off)
    made = fit.mix_made(number, condition)
    gain = made.gain[node]
    level = made.mean[node] + gain * (mean - made.middle[node])
    return Recipe(
        weight, sigma, mean, variance, level, gain**2 * variance + made.own[node], gain * variance,
        fit.new_mix_sd()[node],
    )  # fmt: skip


@lru_cache(maxsize=256)
def least_ratio_told(*, blocks: int, batches: int, scatter: float, batch_sd: float) -> float:
    """Return the least ratio of two recipes that so many blocks of each would probably show.

    Parameters
    ----------
    blocks : int
        Blocks of each recipe in one condition; above 0.
    batches : int
        Mixes that they come from; above 0.
    scatter : float
        Scatter between blocks, on the log; above 0.
    batch_sd : float
        Difference between mixes, on the log; 0 or more.

    Returns
    -------
    float
        Shown with an assurance of 95 % in four trials of five; the scatter taken as known.

    Raises
    ------
    Invalid
        If a number is out of its range.

    Source
    ------
    sample-size : for one mean n = (z95 + z80)^2 (sd / difference)^2; the difference of two means has twice the
        variance. 95 % sure, one-sided, and four trials of five are own rules.

    Examples
    --------
    Five blocks that scatter by 15 %, mixes alike: 2.4865 x 0.15 x sqrt(2/5) = 0.2359 on the log.

    >>> round(least_ratio_told(blocks=5, batches=1, scatter=0.15, batch_sd=0.0), 3)
    1.266
    """
    require(positive={"blocks": blocks, "batches": batches, "scatter": scatter}, not_negative={"batch_sd": batch_sd})
    sd = math.sqrt(2 * (scatter**2 / blocks + batch_sd**2 / batches))
    return math.exp((_ONE_SIDED + _POWER) * sd)
