"""What more blocks would buy, and what a number of blocks can tell apart at all."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np

from service.phrase import Phrase, Value
from service.trade.strength.engine.frame import first_pass
from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.job import Job, job_of
from service.trade.strength.engine.normal import Array, below, log_above
from service.trade.strength.estimate import PASSES
from service.trade.strength.estimate_result import Group, Limit, Settings, StrengthAnswer
from service.trade.strength.shape_corrected_limits import as_crushed, said_of
from service.trade.validation import require

# Our own rules: "probably" is four in five, and nobody is sent back to the mixer for more than twenty blocks.
PROBABLY = 0.80
TRIED = (3, 5, 10, 20)
_FUTURES, _SEED = 400, 20_270_301
_ONE_SIDED, _POWER = 1.6449, 0.8416
_CHARACTERISTIC = 1.6449


@dataclass(frozen=True)
class Option:
    """So many more blocks: the chances that a limit is then settled as reached or as not, and the mean assurance."""

    blocks: int
    reached: float
    not_reached: float
    assurance: float

    @property
    def settled(self) -> float:
        """The chance that the limit is settled either way."""
        return self.reached + self.not_reached


@dataclass(frozen=True)
class More:
    """What more blocks of one recipe in one condition would do for one limit."""

    recipe: str
    condition: str
    limit: Limit
    assurance: float
    options: tuple[Option, ...]

    @property
    def enough(self) -> Option | None:
        """The least number that would probably settle it."""
        return next((one for one in self.options if one.settled >= PROBABLY), None)

    def phrase(self) -> Phrase:
        """Return it as a sentence."""
        told = self.enough or self.options[-1]
        values: dict[str, Value] = {"blocks": told.blocks, "recipe": self.recipe, "condition": self.condition,
                  "limit_mpa": said_of(self.limit), "settled_chance": told.settled}  # fmt: skip
        return Phrase(_SETTLES if self.enough else _LEAVES_OPEN, values)


_SETTLES = (
    "{blocks} more blocks of {recipe}, {condition}, would probably settle whether {limit_mpa} is reached; "
    "the chance that they do is {settled_chance}."
)
_LEAVES_OPEN = (
    "Even {blocks} more blocks of {recipe}, {condition}, would probably leave open whether {limit_mpa} is reached; the "
    "chance that they settle it is {settled_chance}."
)


@dataclass(frozen=True)
class Beliefs:
    """What is believed of one recipe in one condition: cells of mu and sigma with their weights."""

    mu: Array
    sigma: Array
    weight: Array
    step: Array = field(repr=False)

    @staticmethod
    def of(plane: Plane, number: int) -> "Beliefs":
        """Return the cells of a group that carry any weight."""
        grid = plane.groups[number]
        keep = grid.joint > 1e-6 * np.max(grid.joint)
        weight = grid.joint[keep]
        sigma = np.broadcast_to(np.exp(plane.log_sigma)[:, None], grid.mu.shape)
        step = np.broadcast_to(grid.step[:, None], grid.mu.shape)
        return Beliefs((grid.anchor + grid.mu)[keep], sigma[keep], weight / weight.sum(), step[keep])


def more_blocks(
    groups: Sequence[Group], said: StrengthAnswer, *, limits: Sequence[Limit], settings: Settings
) -> tuple[More, ...]:
    """Return, for every limit that is not settled for a recipe, what more blocks of it would do.

    Each number of blocks is looked ahead at by 400 futures drawn from what is believed, always the same ones; a block
    that would outlive what the press was taken to in this job is held there. The blocks come from one more mix.

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
        If they leave too much open for a grid.

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
    planes = planes_of(job)
    held = [reading.low_mpa for group in groups for reading in group.readings if reading.outcome == "held"]
    found = []
    for row in open_rows:
        limit = named[row.name]
        beliefs = Beliefs.of(planes[limit.condition], job.numbers[limit.condition, row.recipe])
        here = as_crushed(job.groups[limit.condition, row.recipe], limit)
        options = look_ahead(
            beliefs,
            here,
            error_sd=_error_with_another_mix(job, row.recipe),
            wanted=wanted,
            press_mpa=max(held, default=math.inf),
            tried=[count for count in TRIED if row.counted + count >= row.required] or [row.required - row.counted],
        )
        found.append(More(row.recipe, limit.condition, limit, row.assurance or 0.0, options))
    return tuple(found)


def planes_of(job: Job) -> dict[str, Plane]:
    """Return the posterior of each condition of a job.

    Parameters
    ----------
    job : Job
        A job of the strength engine.

    Returns
    -------
    dict[str, Plane]
        By condition.

    Raises
    ------
    Unsettled
        If the readings leave too much open for a grid.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> job = job_of([Group("A", "dry", (broke(stress_mpa=3.0),))], (), {}, Settings())
    >>> list(planes_of(job))
    ['dry']
    """
    return dict(zip(sorted(job.conditions), first_pass(job, PASSES[1]).planes, strict=True))


def _error_with_another_mix(job: Job, recipe: str) -> float:
    own = job.batch_sd[recipe]
    if not own:
        return job.settings.scale_uncertainty
    mixes = (job.settings.batch_sd / own) ** 2
    return math.hypot(job.settings.scale_uncertainty, job.settings.batch_sd / math.sqrt(mixes + 1))


def look_ahead(
    beliefs: Beliefs, limit: Limit, *, error_sd: float, wanted: float, press_mpa: float, tried: Sequence[int]
) -> tuple[Option, ...]:
    """Return what each number of further blocks would do for one limit.

    Parameters
    ----------
    beliefs : Beliefs
        What is believed of the recipe.
    limit : Limit
        The limit.
    error_sd : float
        Error of press and mixes on the log, which no block of these mixes takes away.
    wanted : float
        The assurance asked for; above 0.5, below 1.
    press_mpa : float
        Stress at which a block is held and not broken; may be infinite.
    tried : Sequence[int]
        Numbers of blocks, rising.

    Returns
    -------
    tuple[Option, ...]
        One for each number.

    Source
    ------
    own-rule : 400 futures with a fixed seed.

    Examples
    --------
    Nobody needs another block of what is far above the limit:

    >>> sure = Beliefs(np.array([2.0, 2.01]), np.array([0.1, 0.1]), np.array([0.5, 0.5]), np.array([0.01, 0.01]))
    >>> limit = Limit("mean", "dry", "mean", 2.0, 5)
    >>> look_ahead(sure, limit, error_sd=0.05, wanted=0.95, press_mpa=math.inf, tried=[3])[0].reached
    1.0
    """
    met = passing(beliefs, limit, error_sd)
    log_weight = np.tile(np.log(beliefs.weight), (_FUTURES, 1))
    options = []
    for seen, strengths in enumerate(_futures(beliefs, max(tried)), start=1):
        log_weight += _log_likelihood(beliefs, np.minimum(strengths, math.log(press_mpa)), strengths, press_mpa)
        if seen in tried:
            weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
            assurance = (weight @ met) / weight.sum(axis=1)
            options.append(
                Option(
                    seen,
                    float(np.mean(assurance >= wanted)),
                    float(np.mean(assurance <= 1 - wanted)),
                    float(np.mean(assurance)),
                )
            )
    return tuple(options)


def _futures(beliefs: Beliefs, blocks: int) -> Iterator[Array]:
    """Yield the log strength of one further block in every future, block by block."""
    chance = np.random.default_rng(_SEED)
    # One future from each of 400 equal shares of what is believed, so that chance has less to say.
    at = (np.arange(_FUTURES) + chance.random(_FUTURES)) / _FUTURES
    order = np.argsort(beliefs.mu, kind="stable")
    cell = order[np.minimum(np.searchsorted(np.cumsum(beliefs.weight[order]), at), len(order) - 1)]
    for _ in range(blocks):
        yield beliefs.mu[cell] + beliefs.sigma[cell] * chance.standard_normal(_FUTURES)


def _log_likelihood(beliefs: Beliefs, read: Array, strengths: Array, press_mpa: float) -> Array:
    z = (read[:, None] - beliefs.mu) / beliefs.sigma
    found: Array = -np.log(beliefs.sigma) - z * z / 2
    outlived = strengths > math.log(press_mpa)
    found[outlived] = log_above(z[outlived])
    return found


def passing(beliefs: Beliefs, limit: Limit, error_sd: float) -> Array:
    """Return the chance that a limit is met at every cell.

    Parameters
    ----------
    beliefs : Beliefs
        The cells.
    limit : Limit
        The limit.
    error_sd : float
        Error of press and mixes on the log; 0 or more.

    Returns
    -------
    Array
        One chance a cell.

    Source
    ------
    strength-model

    Examples
    --------
    A median that lies at the limit, sigma next to nothing: an even chance.

    >>> cell = Beliefs(np.array([math.log(2.0)]), np.array([1e-6]), np.array([1.0]), np.array([0.01]))
    >>> float(passing(cell, Limit("mean", "dry", "mean", 2.0, 5), 0.05).round(6)[0])
    0.5
    """
    room = beliefs.mu - math.log(limit.limit_mpa)
    # A step sharper than the grid would jump from cell to cell.
    error = np.maximum(error_sd, 0.5 * beliefs.step)
    if limit.statistic == "mean":
        return below((room + beliefs.sigma**2 / 2) / error)
    if limit.statistic == "characteristic":
        return below((room - _CHARACTERISTIC * beliefs.sigma) / error)
    nodes, weights = np.polynomial.hermite_e.hermegauss(15)
    each = [below((room + node * error_sd) / beliefs.sigma) ** limit.blocks for node in nodes]
    chance: Array = np.tensordot(weights / weights.sum(), np.stack(each), axes=1)
    return chance


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
