"""What more blocks of two recipes would settle between them: which is the stronger, or that they are nearly equal."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.phrase import Phrase, Value
from service.trade.strength.estimate_result import Group, PairAnswer, Settings, StrengthAnswer
from service.trade.strength.fit.in_range import in_range
from service.trade.strength.fit.job import Job, job_of
from service.trade.strength.fit.logs import Array, Whole, log_below
from service.trade.strength.fit.sobol import normal_points
from service.trade.strength.more_blocks import PROBABLY, PROBABLY_NOT, TRIED

# Our own rule: more than these few comparisons nobody reads.
MOST_PAIRS = 3
_DRAWN, _FUTURES, _SEED = 4096, 200, 20_270_302


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
        return Phrase(_SETTLES if self.enough else _MAY if told.settled > PROBABLY_NOT else _LEAVES_OPEN, values)


_SETTLES = (
    "{blocks} more blocks each of {a} and {b}, {condition}, would probably show whether one is more than "
    "{margin_share} stronger. The chance that they would: {settled_chance}."
)
_MAY = (
    "{blocks} more blocks each of {a} and {b}, {condition}, may show whether one is more than {margin_share} stronger. "
    "The chance that they would: {settled_chance}."
)
_LEAVES_OPEN = (
    "Even {blocks} more blocks each of {a} and {b}, {condition}, would probably not show whether one is "
    "{margin_share} stronger. The chance that they would: {settled_chance}."
)


@dataclass(frozen=True)
class Drawn:
    """What is believed of two recipes together, equally likely: how far their middles lie apart on the log, a over b,
    and of each recipe a row: the log strength of a new mix, and the scatter of its blocks."""

    apart: Array
    mixes: tuple[Array, Array]
    sigma: tuple[Array, Array]


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
    own-rule : 200 futures of 4,096 drawn strengths with a fixed seed; the chances are the strength model's.

    Examples
    --------
    >>> more_of_both([], StrengthAnswer((), (), (), (), ()), settings=Settings())
    ()
    """
    pairs = _open_pairs(said, settings)
    if not pairs:
        return ()
    job = job_of(groups, (), {}, settings)
    held = [reading.low_mpa for group in groups for reading in group.readings if reading.outcome == "held"]
    found = []
    for pair in pairs:
        options = look_ahead_at_both(
            drawn(job, pair.condition, pair.a, pair.b),
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


def drawn(job: Job, condition: str, a: str, b: str) -> Drawn:
    """Return strengths of two recipes in a condition drawn together, with a new mix of each.

    Parameters
    ----------
    job : Job
        A job of the strength engine.
    condition : str
        Which.
    a, b : str
        Recipes with a standing block there.

    Returns
    -------
    Drawn
        Always the same.

    Raises
    ------
    Unsettled
        If the numbers run out of range.

    Source
    ------
    strength-model

    Examples
    --------
    >>> from service.trade.strength.censored_readings import broke
    >>> groups = [Group(name, "dry", (broke(stress_mpa=mpa),) * 5) for name, mpa in (("A", 3.0), ("B", 6.0))]
    >>> both = drawn(job_of(groups, (), {}, Settings()), "dry", "A", "B")
    >>> round(float(np.exp(-np.median(both.apart))), 1)
    2.0
    """
    with in_range():
        return _drawn(job, condition, a, b)


def _drawn(job: Job, condition: str, a: str, b: str) -> Drawn:
    nodes, chance = job.fit.chosen_nodes(_DRAWN), np.random.default_rng(_SEED)
    z = chance.permuted(normal_points(6, _DRAWN, 9), axis=1)
    mix_sd = job.fit.new_mix_sd()[nodes] if job.mixes_named else np.full(_DRAWN, job.settings.batch_sd)
    rows = []
    for name, own in ((a, z[:3]), (b, z[3:])):
        number = job.number(condition, name)
        assert number is not None
        level, sigma = _levels(job, number, nodes, chance.random(_DRAWN), own[0])
        middle = level - math.sqrt(job.errors(name).batches) * own[1]
        rows.append((middle, middle + mix_sd * own[2], sigma))
    (middle_a, mix_a, sigma_a), (middle_b, mix_b, sigma_b) = rows
    return Drawn(middle_a - middle_b, (mix_a, mix_b), (sigma_a, sigma_b))


def _levels(job: Job, number: tuple[int, int], nodes: Whole, at: Array, z: Array) -> tuple[Array, Array]:
    """Return for every node a level of a recipe and its scatter, drawn from what is believed there."""
    condition, recipe = number
    parts = job.fit.parts(recipe, [condition], nodes=np.unique(nodes))
    order = np.argsort(parts.node, kind="stable")
    of_node = np.bincount(parts.node, weights=parts.weight, minlength=len(job.fit.node_weight))
    before = np.cumsum(of_node) - of_node
    place = np.searchsorted(np.cumsum(parts.weight[order]), before[nodes] + at * of_node[nodes])
    chosen = parts.taken(order[np.minimum(place, len(order) - 1)])
    return chosen.mean[0] + np.sqrt(chosen.cov[0, 0]) * z, np.exp(chosen.log_sigma[0])


def look_ahead_at_both(
    believed: Drawn, *, wanted: float, margin: float, press_mpa: float, tried: Sequence[int]
) -> tuple[Told, ...]:
    """Return what each number of further blocks of both recipes would tell.

    Parameters
    ----------
    believed : Drawn
        What is believed of both.
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

    >>> sure = Drawn(np.full(9, math.log(2)), (np.full(9, 2.0), np.full(9, 2.0 - math.log(2))), (np.full(9, 0.1),) * 2)
    >>> look_ahead_at_both(sure, wanted=0.95, margin=0.1, press_mpa=math.inf, tried=[3])[0].a_stronger
    1.0
    """
    chance = np.random.default_rng(_SEED)
    apart, bar = believed.apart, math.log1p(margin)
    shown = np.stack([apart > bar, -apart > bar], axis=1).astype(float)
    truth = np.argsort(apart, kind="stable")[(np.arange(_FUTURES) * len(apart)) // _FUTURES]
    log_weight, options = np.zeros((_FUTURES, len(apart))), []
    for seen in range(1, max(tried) + 1):
        for strengths, sigma in zip(believed.mixes, believed.sigma, strict=True):
            block = strengths[truth] + sigma[truth] * chance.standard_normal(_FUTURES)
            log_weight += _log_likelihood(strengths, sigma, block, math.log(press_mpa))
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
    found[outlived] = log_below(-z[outlived])
    return found
