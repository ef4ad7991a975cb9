"""Which share of stabiliser between two that were tested is worth a mix."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from service.phrase import Phrase, Value
from service.trade.strength.engine.normal import Array
from service.trade.strength.estimate_result import Limit
from service.trade.strength.looking_ahead import Beliefs, passing

# Our own rules: shares on the steps a bench weighs to, and a mix is worth it from an even chance.
STEP, WORTH = 0.005, 0.5
_DRAWS, _SEED = 4000, 20_270_302


@dataclass(frozen=True)
class Rung:
    """One recipe of a series that differs in the share of one stabiliser alone.

    ``beliefs`` None: no block stood; ``most_mpa``: where every block outlived the press, what it was taken to;
    ``fell_elsewhere``: another condition under a limit in which a block fell apart.
    """

    label: str
    share: float
    fell_apart: bool
    assurance: float | None
    beliefs: Beliefs | None
    most_mpa: float | None
    fell_elsewhere: str | None = None


@dataclass(frozen=True)
class Step:
    """An untested share with the chance that the limit is met there."""

    share: float
    chance: float


def worth_trying(
    series: Sequence[Rung], limit: Limit, *, spread: float, error_sd: float, wanted: float, amount: Value | None = None
) -> Phrase:
    """Return which untested share to mix next for one limit, or why none is named.

    Parameters
    ----------
    series : Sequence[Rung]
        Two or more recipes that differ in one stabiliser's share of the dry soil.
    limit : Limit
        The limit that decides.
    spread : float
        How far recipes of one soil differ, on the log.
    error_sd : float
        Error of press and mixes, on the log.
    wanted : float
        Assurance from which a recipe will do.
    amount : Value or None
        What the limit is called in the sentence; None: its stress.

    Returns
    -------
    Phrase
        Never a share outside those tested, and none between two of which one fell apart.

    Source
    ------
    own-rule : a straight line of log strength over the share between neighbours; off it by the spread times the root
        of t (1 - t), t the place between them.

    Examples
    --------
    >>> limit = Limit("mean", "soaked", "mean", 2.0, 5)
    >>> fell, stood = Rung("A", 0.0, True, 0.0, None, None), Rung("B", 0.06, False, 0.99, None, None)
    >>> worth_trying([stood, fell], limit, spread=0.3, error_sd=0.05, wanted=0.95).english[:40]
    'Between {low_share} and {high_share} not'
    """
    by_share = sorted(series, key=lambda one: one.share)
    enough = next((n for n, one in enumerate(by_share) if (one.assurance or 0.0) >= wanted), None)
    if enough is None:
        return Phrase(_ABOVE, {"high_share": by_share[-1].share, "condition": limit.condition})
    if enough == 0:
        return Phrase(_BELOW, {"low_share": by_share[0].share, "condition": limit.condition})
    low, high = by_share[enough - 1], by_share[enough]
    ends: dict[str, Value] = {"low_share": low.share, "high_share": high.share, "condition": limit.condition}
    if low.fell_apart or low.beliefs is None or high.beliefs is None:
        return Phrase(_ACROSS, ends)
    steps = chances_between(low, high, limit, spread=spread, error_sd=error_sd)
    found = next((one for one in steps if one.chance >= WORTH), None)
    if found is None:
        return Phrase(_NONE, ends)
    tried: dict[str, Value] = {**ends, "try_share": found.share, "met_chance": found.chance,
                               "limit_mpa": limit.limit_mpa if amount is None else amount}  # fmt: skip
    if low.fell_elsewhere:
        return Phrase(_TRY_ACROSS, {**tried, "fell_condition": low.fell_elsewhere})
    return Phrase(_TRY, tried)


_ABOVE = (
    "No tested share of stabiliser is settled to do, {condition}; {high_share} is the most that was tested, and "
    "nothing is said of more."
)
_BELOW = (
    "The least tested share, {low_share}, will do already, {condition}; of less nothing is said, for none was tested."
)
_ACROSS = (
    "Between {low_share} and {high_share} nothing is worked out, {condition}: blocks with the lower share fell apart "
    "or were not crushed, and where they begin to stand is not a matter of strength. A mix between them would show it."
)
_NONE = "Between {low_share} and {high_share} no share has an even chance, {condition}."
_TRY = (
    "Between {low_share} and {high_share}, {try_share} of the dry soil is worth a mix: the chance that it reaches "
    "{limit_mpa}, {condition}, is {met_chance}. It was not tested."
)
_TRY_ACROSS = (
    "Between {low_share} and {high_share}, {try_share} of the dry soil has a chance of {met_chance} to reach "
    "{limit_mpa}, {condition}; but blocks with {low_share} fell apart {fell_condition}, and whether it stands there "
    "cannot be worked out, only tried."
)


def chances_between(low: Rung, high: Rung, limit: Limit, *, spread: float, error_sd: float) -> tuple[Step, ...]:
    """Return the chance that a limit is met at each share strictly between two tested ones.

    Parameters
    ----------
    low : Rung
        The recipe of less stabiliser, with what is believed of it.
    high : Rung
        That of more.
    limit : Limit
        The limit.
    spread : float
        How far recipes of one soil differ, on the log.
    error_sd : float
        Error of press and mixes, on the log.

    Returns
    -------
    tuple[Step, ...]
        On steps of half a percent; may be empty.

    Source
    ------
    own-rule : as ``worth_trying``; 4,000 draws with a fixed seed; the strengths of both ends are taken as apart.

    Examples
    --------
    Between two alike recipes far above the limit everything does:

    >>> sure = Beliefs(np.array([2.0]), np.array([0.1]), np.array([1.0]), np.array([0.01]))
    >>> ends = [Rung(name, share, False, 0.99, sure, None) for name, share in (("A", 0.04), ("B", 0.05))]
    >>> limit = Limit("mean", "soaked", "mean", 2.0, 5)
    >>> chances_between(*ends, limit, spread=0.1, error_sd=0.05)
    (Step(share=0.045, chance=1.0),)
    """
    if low.beliefs is None or high.beliefs is None:
        return ()
    chance = np.random.default_rng(_SEED)
    off_line = chance.standard_normal(_DRAWS)
    below_mu, _ = _drawn(low, chance.random(_DRAWS))
    above_mu, sigma = _drawn(high, chance.random(_DRAWS))
    found = []
    for number in range(math.floor(low.share / STEP + 1e-9) + 1, math.ceil(high.share / STEP - 1e-9)):
        share = number * STEP
        t = (share - low.share) / (high.share - low.share)
        mu = (1 - t) * below_mu + t * above_mu + spread * math.sqrt(t * (1 - t)) * off_line
        cells = Beliefs(mu, sigma, np.full(_DRAWS, 1 / _DRAWS), np.full(_DRAWS, 0.02))
        found.append(Step(round(share, 6), float(np.mean(passing(cells, limit, error_sd)))))
    return tuple(found)


def _drawn(one: Rung, at: Array) -> tuple[Array, Array]:
    """Return mu and sigma drawn from what is believed; never above what the press was taken to."""
    believed = one.beliefs
    assert believed is not None
    cell = np.minimum(np.searchsorted(np.cumsum(believed.weight), at), len(believed.weight) - 1)
    mu = believed.mu[cell]
    return (np.minimum(mu, math.log(one.most_mpa)) if one.most_mpa else mu), believed.sigma[cell]
