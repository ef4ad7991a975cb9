"""What more blocks of two recipes would settle between them: which is the stronger, or that they are nearly equal."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.phrase import Phrase, Value
from service.trade.strength.engine.grid import Plane
from service.trade.strength.engine.job import job_of
from service.trade.strength.engine.normal import Array, below, log_above
from service.trade.strength.estimate_result import Group, PairAnswer, Settings, StrengthAnswer
from service.trade.strength.more_blocks import PROBABLY, TRIED, planes_of

# Our own rule: more than these few comparisons nobody reads.
MOST_PAIRS = 3
_DRAWN, _FUTURES, _SEED = 4000, 200, 20_270_302


@dataclass(frozen=True)
class Told:
    """So many more blocks of each: the chances that a is then shown stronger, that b is, or that they are equal."""

    blocks: int
    a_stronger: float
    b_stronger: float
    alike: float

    @property
    def settled(self) -> float:
        """The chance that any of the three is shown."""
        return self.a_stronger + self.b_stronger + self.alike


@dataclass(frozen=True)
class MoreOfBoth:
    """What more blocks of two recipes in one condition would tell of them."""

    pair: PairAnswer
    margin: float
    options: tuple[Told, ...]

    @property
    def enough(self) -> Told | None:
        """The least number that would probably settle it."""
        return next((one for one in self.options if one.settled >= PROBABLY), None)

    def phrase(self) -> Phrase:
        """Return it as a sentence."""
        told = self.enough or self.options[-1]
        values: dict[str, Value] = {"blocks": told.blocks, "a": self.pair.a, "b": self.pair.b,
                  "condition": self.pair.condition, "margin_share": self.margin,
                  "settled_chance": told.settled}  # fmt: skip
        return Phrase(_SETTLES if self.enough else _LEAVES_OPEN, values)


_SETTLES = (
    "{blocks} more blocks each of {a} and {b}, {condition}, would probably settle whether one is more than "
    "{margin_share} stronger; the chance that they do is {settled_chance}."
)
_LEAVES_OPEN = (
    "Even {blocks} more blocks each of {a} and {b}, {condition}, would probably leave open whether one is more than "
    "{margin_share} stronger; the chance that they settle it is {settled_chance}."
)


@dataclass(frozen=True)
class Drawn:
    """What is believed of two recipes together: equally likely log strengths and the scatter that goes with them."""

    a: Array
    b: Array
    sigma: Array


def more_of_both(groups: Sequence[Group], said: StrengthAnswer, *, settings: Settings) -> tuple[MoreOfBoth, ...]:
    """Return what more blocks would tell of the recipe that stands first and each that is not told apart from it.

    Parameters
    ----------
    groups : Sequence[Group]
        The readings, as the engine was given them.
    said : StrengthAnswer
        What the engine said of them.
    settings : Settings
        As it was asked.

    Returns
    -------
    tuple[MoreOfBoth, ...]
        Three at most, in the engine's order; none where a recipe was not broken or fell apart, for there more blocks on
        this press tell nothing.

    Raises
    ------
    Invalid
        If the readings cannot be used.
    Unsettled
        If they leave too much open for a grid.

    Source
    ------
    own-rule : 200 futures of 4,000 drawn strengths with a fixed seed; the chances are the strength model's.

    Examples
    --------
    >>> more_of_both([], StrengthAnswer((), (), (), (), ()), settings=Settings())
    ()
    """
    pairs = _open_pairs(said, settings)
    if not pairs:
        return ()
    job = job_of(groups, (), {}, settings)
    planes = planes_of(job)
    held = [reading.low_mpa for group in groups for reading in group.readings if reading.outcome == "held"]
    found = []
    for pair in pairs:
        numbers = job.numbers[pair.condition, pair.a], job.numbers[pair.condition, pair.b]
        mixes = [(settings.batch_sd / job.batch_sd[one]) ** 2 if settings.batch_sd else 1.0 for one in (pair.a, pair.b)]
        options = look_ahead_at_both(
            drawn(planes[pair.condition], *numbers),
            error_sd=settings.batch_sd * math.sqrt(sum(1 / (count + 1) for count in mixes)),
            wanted=settings.assurance,
            margin=settings.margin,
            press_mpa=max(held, default=math.inf),
            tried=TRIED,
        )
        found.append(MoreOfBoth(pair, settings.margin, options))
    return tuple(found)


def _open_pairs(said: StrengthAnswer, settings: Settings) -> list[PairAnswer]:
    place = {one.recipe: number for number, one in enumerate(said.order)}
    first = [pair for pair in said.pairs if 0 in (place[pair.a], place[pair.b]) and pair.ratio is not None]
    still = [pair for pair in first if max(_known(pair)) < settings.assurance]
    fell = {(one.condition, one.recipe) for one in said.groups if one.fell_apart}
    upright = [pair for pair in still if not {(pair.condition, pair.a), (pair.condition, pair.b)} & fell]
    return sorted(upright, key=lambda pair: place[pair.a] + place[pair.b])[:MOST_PAIRS]


def _known(pair: PairAnswer) -> tuple[float, float, float]:
    return pair.p_more or 0.0, pair.p_less or 0.0, pair.p_same or 0.0


def drawn(plane: Plane, a: int, b: int) -> Drawn:
    """Return strengths of two groups of a condition drawn together, one from each equal share of what is believed.

    Parameters
    ----------
    plane : Plane
        The posterior of the condition.
    a : int
        Number of a group.
    b : int
        Number of another.

    Returns
    -------
    Drawn
        Always the same 4,000.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> groups = [Group(name, "dry", (broke(stress_mpa=mpa),) * 5) for name, mpa in (("A", 3.0), ("B", 6.0))]
    >>> both = drawn(planes_of(job_of(groups, (), {}, Settings()))["dry"], 0, 1)
    >>> round(float(np.exp(np.median(both.b - both.a))), 1)
    2.0
    """
    chance = np.random.default_rng(_SEED)
    at = (np.arange(_DRAWN) + chance.random(_DRAWN)) / _DRAWN
    node = np.minimum(np.searchsorted(np.cumsum(plane.node_weight), at), len(plane.node_weight) - 1)
    strengths = np.empty((2, _DRAWN))
    for row, begin, end in plane.rows():
        mine = np.flatnonzero((node >= begin) & (node < end))
        for place, number in enumerate((a, b)):
            grid = plane.groups[number]
            mass = np.cumsum(plane.given(grid, row, begin, end), axis=1)[node[mine] - begin]
            cell = np.sum(mass < chance.random((len(mine), 1)), axis=1)
            step = float(grid.step[row])
            near = grid.mu[row][np.minimum(cell, grid.mu.shape[1] - 1)] + step * (chance.random(len(mine)) - 0.5)
            strengths[place, mine] = grid.anchor + near
    return Drawn(strengths[0], strengths[1], np.exp(plane.log_sigma)[plane.node_sigma[node]])


def look_ahead_at_both(
    believed: Drawn, *, error_sd: float, wanted: float, margin: float, press_mpa: float, tried: Sequence[int]
) -> tuple[Told, ...]:
    """Return what each number of further blocks of both recipes would tell.

    Parameters
    ----------
    believed : Drawn
        What is believed of both.
    error_sd : float
        Difference of the mixes of both on the log, which no block of these mixes takes away; 0 or more.
    wanted : float
        The assurance asked for; above 0.5, below 1.
    margin : float
        By how much one must be stronger to count as stronger; 0 or more.
    press_mpa : float
        Stress at which a block is held and not broken; may be infinite.
    tried : Sequence[int]
        Numbers of blocks, rising.

    Returns
    -------
    tuple[Told, ...]
        One for each number.

    Source
    ------
    own-rule : 200 futures with a fixed seed.

    Examples
    --------
    Nobody needs another block to tell that twice as strong is stronger:

    >>> sure = Drawn(np.full(9, 2.0), np.full(9, 2.0 - math.log(2)), np.full(9, 0.1))
    >>> look_ahead_at_both(sure, error_sd=0.05, wanted=0.95, margin=0.1, press_mpa=math.inf, tried=[3])[0].a_stronger
    1.0
    """
    chance = np.random.default_rng(_SEED)
    apart, bar = believed.a - believed.b, math.log1p(margin)
    error = max(error_sd, 1e-9)
    shown = np.stack([below((apart - bar) / error), below((-apart - bar) / error)], axis=1)
    truth = np.argsort(apart, kind="stable")[(np.arange(_FUTURES) * len(apart)) // _FUTURES]
    log_weight, options = np.zeros((_FUTURES, len(apart))), []
    for seen in range(1, max(tried) + 1):
        for strengths in (believed.a, believed.b):
            block = strengths[truth] + believed.sigma[truth] * chance.standard_normal(_FUTURES)
            log_weight += _log_likelihood(strengths, believed.sigma, block, math.log(press_mpa))
        if seen in tried:
            weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
            more, less = ((weight @ shown) / weight.sum(axis=1, keepdims=True)).T
            told = (more >= wanted, less >= wanted, 1 - more - less >= wanted)
            options.append(Told(seen, *(float(np.mean(one)) for one in told)))
    return tuple(options)


def _log_likelihood(strengths: Array, sigma: Array, block: Array, press: float) -> Array:
    z = (np.minimum(block, press)[:, None] - strengths) / sigma
    found: Array = -np.log(sigma) - z * z / 2
    outlived = block > press
    found[outlived] = log_above(z[outlived])
    return found
