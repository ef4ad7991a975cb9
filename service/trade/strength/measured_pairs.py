"""Comparisons as far as they were measured: a ratio stands only where the middles of both recipes were."""

from collections.abc import Collection, Sequence
from dataclasses import replace

from service.trade.strength.estimate_result import PairAnswer


def as_measured(pairs: Sequence[PairAnswer], unmeasured: Collection[tuple[str, str]]) -> tuple[PairAnswer, ...]:
    """Return comparisons without what rests on a strength above which nothing was measured.

    Parameters
    ----------
    pairs : Sequence[PairAnswer]
        As the engine gives them.
    unmeasured : Collection[tuple[str, str]]
        Recipe and condition of every group whose middle lies above the highest stress that a block was held to.

    Returns
    -------
    tuple[PairAnswer, ...]
        Of a pair with one such side only the bound that does not rest on it; of one with two, nothing.

    Source
    ------
    own-rule : as the contract has it where every block of a side was held.

    Examples
    --------
    >>> pair = PairAnswer("dry", "A", "B", 1.3, 1.1, 1.6, 0.9, 0.0, 0.1)
    >>> [one.low for one in as_measured([pair], {("A", "dry")})], as_measured([pair], {("A", "dry")})[0].ratio
    ([1.1], None)
    """
    found = []
    for pair in pairs:
        a, b = ((name, pair.condition) in unmeasured for name in (pair.a, pair.b))
        if a or b:
            low, high = None if b else pair.low, None if a else pair.high
            pair = replace(pair, ratio=None, low=low, high=high, p_more=None, p_less=None, p_same=None)
        found.append(pair)
    return tuple(found)
