"""How much stronger one recipe is than another, as far as it was measured."""

from service.phrase import Phrase, Value
from service.trade.sentences.tried_recipes import Trial
from service.trade.strength.estimate_result import PairAnswer


def comparison(trial: Trial, one: str, other: str) -> tuple[Phrase, ...]:
    """Return the sentences that compare two recipes in the condition that tells most.

    Parameters
    ----------
    trial : Trial
        The job.
    one : str
        Label of a recipe.
    other : str
        Label of another.

    Returns
    -------
    tuple[Phrase, ...]
        A measured ratio before a bound, a bound before "neither broke"; soaked before dry. None of them
        when there is no condition in which both were crushed and no block fell apart.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> comparison(Trial("addition", (), (), (), StrengthAnswer((), (), (), (), ())), "A", "B")
    ()
    """
    told = _telling(trial, one, other)
    if told is None:
        return ()
    if told.ratio is not None:
        return _measured(trial, _stronger_first(told))
    if told.low is not None or told.high is not None:
        return one_outlasted(trial, told)
    return both_outlasted(trial, told)


def shown_stronger(trial: Trial, one: str, other: str) -> bool:
    """Return whether a recipe is shown to be stronger by more than the margin, in the condition that tells most.

    Parameters
    ----------
    trial : Trial
        The job.
    one : str
        Label of the recipe said to be stronger.
    other : str
        Label of the other.

    Returns
    -------
    bool
        On the assurance asked for, or on a bound that was measured.

    Source
    ------
    own-words

    Examples
    --------
    A bound of 1.2 that was measured is more than the margin of 10 %:

    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> held = PairAnswer("dry", "A", "B", None, 1.2, None, None, None, None)
    >>> shown_stronger(Trial("addition", (), (), (), StrengthAnswer((), (), (), (held,), ())), "A", "B")
    True
    """
    for pair in trial.pairs(one, other):
        view = _seen_from(pair, one)
        if view.p_more is not None:
            return view.p_more >= trial.assurance
        if view.low is not None:
            return view.low > 1 + trial.margin
    return False


def shown_alike(trial: Trial, one: str, other: str) -> bool:
    """Return whether two recipes are shown to differ by less than the margin, in the condition that tells most.

    Parameters
    ----------
    trial : Trial
        The job.
    one : str
        Label of a recipe.
    other : str
        Label of another.

    Returns
    -------
    bool
        On the assurance asked for.

    Source
    ------
    own-words

    Examples
    --------
    Where no block of either broke nothing is shown:

    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> unknown = PairAnswer("dry", "A", "B", None, None, None, None, None, None)
    >>> shown_alike(Trial("addition", (), (), (), StrengthAnswer((), (), (), (unknown,), ())), "A", "B")
    False
    """
    told = _telling(trial, one, other)
    return told is not None and (told.p_same or 0.0) >= trial.assurance


def _telling(trial: Trial, one: str, other: str) -> PairAnswer | None:
    """Return the comparison of two recipes in the condition that tells most, if no block fell apart in it."""
    pairs = [pair for pair in trial.pairs(one, other) if _both_stood(trial, pair)]
    return min(
        pairs,
        key=lambda pair: (pair.ratio is None, pair.low is None and pair.high is None, _held(trial, pair)),
        default=None,
    )


def _measured(trial: Trial, pair: PairAnswer) -> tuple[Phrase, ...]:
    values: dict[str, Value] = {
        "a": pair.a, "b": pair.b, "condition": trial.said(pair.condition), **_by(pair.ratio or 1.0),
        "more_likely": pair.p_more or 0.0, "same_likely": pair.p_same or 0.0, "margin_share": trial.margin,
        "asked_likely": trial.assurance,
    }  # fmt: skip
    ratio = pair.ratio or 1.0
    said: tuple[str, ...]
    if (pair.p_same or 0.0) >= trial.assurance:
        said = (_EQUAL,)
    elif (pair.p_more or 0.0) >= trial.assurance:
        said = (_STRONGER_BY if ratio < _TIMES else _TWICE if values["ratio"] == _TIMES else _TIMES_STRONGER, _STRONGER)
    elif abs(ratio - 1) < _ALIKE:
        said = (_OUT_ALIKE,)
    else:
        said = (_MAY_BE_CHANCE,)
    return (*(Phrase(english, values) for english in said), *_beyond_the_press(trial, pair))


# By how far two ratios may be from 1 and still be written as 1.0.
_ALIKE = 0.05
# From how many times as strong on a ratio is said as such; below it is so much stronger.
_TIMES = 2.0
_STRONGER_BY = "In our test {a} was about {more_share} stronger than {b} {condition}."
_TWICE = "In our test {a} was about twice as strong as {b} {condition}."
_TIMES_STRONGER = "In our test {a} was about {ratio} times as strong as {b} {condition}."
# The chance is that of being stronger by more than the margin.
_STRONGER = "It is {more_likely} likely that {a} is more than {margin_share} stronger than {b}."
_MAY_BE_CHANCE = "In our test {a} was about {more_share} stronger than {b} {condition}, which may be chance."
_EQUAL = "It is {same_likely} likely that {a} and {b} differ by less than {margin_share} {condition}."
_OUT_ALIKE = "In our test {a} and {b} came out about the same {condition}. More blocks might show a difference."


def _by(ratio: float) -> dict[str, Value]:
    """Return a ratio and by how much it is above 1, both to two figures of the ratio."""
    told = float(f"{ratio:.2g}")
    return {"ratio": told, "more_share": told - 1}


def _by_at_least(ratio: float) -> dict[str, Value]:
    """Return a ratio and by how much it is above 1, in whole percent, both rounded down."""
    return {"ratio_least": ratio, "more_share": int(round(100 * (ratio - 1), 6)) / 100}


def one_outlasted(trial: Trial, pair: PairAnswer) -> tuple[Phrase, ...]:
    """Return what is known when no block of one recipe broke and blocks of the other did.

    Parameters
    ----------
    trial : Trial
        The job.
    pair : PairAnswer
        With one bound only.

    Returns
    -------
    tuple[Phrase, ...]
        The bound that was measured, and how hard was pressed.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> held = PairAnswer("dry", "A", "B", None, 1.2, None, None, None, None)
    >>> trial = Trial("addition", (), (), (), StrengthAnswer((), (), (), (held,), ()))
    >>> one_outlasted(trial, held)[0].values["more_share"]
    0.2
    """
    lasting = pair.a if pair.low is not None else pair.b
    view = _seen_from(pair, lasting)
    low = view.low or 1.0
    values: dict[str, Value] = {
        "a": view.a,
        "b": view.b,
        "condition": trial.said(pair.condition),
        **_by_at_least(low),
    }
    held = trial.highest_held_mpa([lasting], pair.condition)
    none_broke = not trial.some_broke(lasting, pair.condition)
    if low < _LEAST_TOLD:
        broke = trial.lowest_broken_mpa(view.b, pair.condition) or 0.0
        return (Phrase(_TOO_LITTLE[none_broke], {**values, "held_mpa": held or 0.0, "broke_mpa": broke}),)
    by_share, by_times = _UNBROKEN_STRONGER if none_broke else _HALF_BROKEN_STRONGER
    said = Phrase(by_share if low < _TIMES else by_times, {**values, "bound_likely": _BOUND_LIKELY})
    above = () if held is None else (Phrase(_STRONGER_STILL[none_broke], {**values, "held_mpa": held}),)
    return (said, *above)


# Under one percent there is nothing to tell.
_LEAST_TOLD = 1.01
# The chance that a ratio is above its lower bound: the bounds are those of nine in ten (fit/pairs.py).
_BOUND_LIKELY = 0.95
_HALF_BROKEN_STRONGER = (
    "It is {bound_likely} likely that {a} is at least {more_share} stronger than {b} {condition}. "
    "Some blocks of {a} did not break, so {a} may be stronger still.",
    "It is {bound_likely} likely that {a} is at least {ratio_least} times as strong as {b} {condition}. "
    "Some blocks of {a} did not break, so {a} may be stronger still.",
)
_UNBROKEN_STRONGER = (
    "It is {bound_likely} likely that {a} is at least {more_share} stronger than {b} {condition}. "
    "No block of {a} broke.",
    "It is {bound_likely} likely that {a} is at least {ratio_least} times as strong as {b} {condition}. "
    "No block of {a} broke.",
)
# By whether no block of it broke: one that broke may have been pressed harder.
_TOO_LITTLE = {
    True: "These blocks do not show whether {a} is stronger than {b} {condition}. "
    "No block of {a} broke: we loaded them to {held_mpa} at most. Blocks of {b} broke at {broke_mpa} or more.",
    False: "These blocks do not show whether {a} is stronger than {b} {condition}. "
    "Some blocks of {a} did not break: we loaded those to {held_mpa} at most. "
    "Blocks of {b} broke at {broke_mpa} or more.",
}
_STRONGER_STILL = {
    True: "We loaded {a} to {held_mpa} at most: it may be stronger still.",
    False: "We loaded those to {held_mpa} at most.",
}


def both_outlasted(trial: Trial, pair: PairAnswer) -> tuple[Phrase, ...]:
    """Return that neither recipe was broken.

    Parameters
    ----------
    trial : Trial
        The job.
    pair : PairAnswer
        Without ratio and bounds.

    Returns
    -------
    tuple[Phrase, ...]
        With the highest stress that was held.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> from service.trade.sentences.tried_recipes import Tally
    >>> unknown = PairAnswer("dry", "A", "B", None, None, None, None, None, None)
    >>> tallies = (Tally("A", "dry", 10.6), Tally("B", "dry", 10.4))
    >>> trial = Trial("addition", (), (), (), StrengthAnswer((), (), (), (unknown,), ()), tallies)
    >>> both_outlasted(trial, unknown)[0].values["held_mpa"]
    10.6
    """
    held = trial.highest_held_mpa([pair.a, pair.b], pair.condition) or 0.0
    values: dict[str, Value] = {"a": pair.a, "b": pair.b, "condition": trial.said(pair.condition), "held_mpa": held}
    none_broke = not any(trial.some_broke(one, pair.condition) for one in (pair.a, pair.b))
    return (Phrase(_NEITHER if none_broke else _NOT_ALL, values),)


_NEITHER = (
    "In our tests {condition} no block of {a} or {b} broke. "
    "We loaded no block beyond {held_mpa}, so we do not know which recipe is stronger."
)
_NOT_ALL = (
    "In our tests {condition} some blocks of {a} or {b} did not break. "
    "We loaded those to {held_mpa} at most, so we do not know which recipe is stronger."
)


def _held(trial: Trial, pair: PairAnswer) -> int:
    groups = (trial.group(label, pair.condition) for label in (pair.a, pair.b))
    return sum(group.held for group in groups if group)


def _beyond_the_press(trial: Trial, pair: PairAnswer) -> tuple[Phrase, ...]:
    """Return the reservation that a ratio needs when some of its blocks never broke."""
    groups = (trial.group(label, pair.condition) for label in sorted((pair.a, pair.b)))
    unbroken = tuple(group.recipe for group in groups if group and group.held)
    if not unbroken:
        return ()
    english = (
        "Some blocks of {recipes} did not break. We count an unbroken block with the load it took; it may be stronger."
    )
    return (Phrase(english, {"recipes": unbroken}),)


def _both_stood(trial: Trial, pair: PairAnswer) -> bool:
    groups = [trial.group(label, pair.condition) for label in (pair.a, pair.b)]
    return all(group is not None and not group.fell_apart for group in groups)


def _stronger_first(pair: PairAnswer) -> PairAnswer:
    return _seen_from(pair, pair.a if (pair.ratio or 0.0) >= 1 else pair.b)


def _seen_from(pair: PairAnswer, label: str) -> PairAnswer:
    """Return the pair with a recipe in front."""
    if pair.a == label:
        return pair
    return PairAnswer(
        condition=pair.condition, a=pair.b, b=pair.a, ratio=_inverse(pair.ratio), low=_inverse(pair.high),
        high=_inverse(pair.low), p_more=pair.p_less, p_less=pair.p_more, p_same=pair.p_same,
    )  # fmt: skip


def _inverse(ratio: float | None) -> float | None:
    return None if ratio is None else 1 / ratio
