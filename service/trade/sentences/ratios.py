"""How much stronger one recipe is than another, as far as it was measured."""

from service.phrase import Phrase, Value
from service.trade.sentences.tried_recipes import Trial
from service.trade.strength.estimate_result import PairAnswer


def comparison(trial: Trial, one: str, other: str) -> Phrase | None:
    """Return the sentence that compares two recipes in the condition that tells most.

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
    Phrase or None
        A measured ratio before a bound, a bound before "both outlasted the press"; soaked before dry. None
        when there is no condition in which both were crushed and no block fell apart.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> comparison(Trial("addition", (), (), (), StrengthAnswer((), (), (), (), ())), "A", "B") is None
    True
    """
    pairs = [pair for pair in trial.pairs(one, other) if _both_stood(trial, pair)]
    if not pairs:
        return None
    told = min(pairs, key=lambda pair: (pair.ratio is None, pair.low is None and pair.high is None, _held(trial, pair)))
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


def _measured(trial: Trial, pair: PairAnswer) -> Phrase:
    values: dict[str, Value] = {
        "a": pair.a, "b": pair.b, "condition": trial.said(pair.condition), "ratio": pair.ratio or 0.0,
        "low": pair.low or 0.0, "high": pair.high or 0.0, "more_chance": pair.p_more or 0.0,
        "same_chance": pair.p_same or 0.0, "margin_share": trial.margin,
        "asked_chance": trial.assurance, "beyond": _beyond_the_press(trial, pair),
    }  # fmt: skip
    if (pair.p_same or 0.0) >= trial.assurance:
        return Phrase(_SAME, values)
    if (pair.p_more or 0.0) >= trial.assurance:
        return Phrase(_STRONGER, values)
    return Phrase(_OUT_ALIKE if abs((pair.ratio or 0.0) - 1) < _ALIKE else _NOT_TOLD_APART, values)


# By how far two ratios may be from 1 and still be written as 1.0.
_ALIKE = 0.05
_STRONGER = (
    "{a} is {ratio} times as strong as {b} {condition} (from {low} to {high} times): that it is more than "
    "{margin_share} stronger has a chance of {more_chance}{beyond}."
)
_SAME = "{a} and {b} are practically equal {condition}: within {margin_share}, with a chance of {same_chance}{beyond}."
_NOT_TOLD_APART = (
    "{a} came out {ratio} times as strong as {b} {condition} (from {low} to {high} times): that it is more than "
    "{margin_share} stronger has a chance of {more_chance}, short of the {asked_chance} asked for{beyond}."
)
_OUT_ALIKE = (
    "{a} and {b} came out alike {condition} (from {low} to {high} times): that they differ by less than {margin_share} "
    "has a chance of {same_chance}, short of the {asked_chance} asked for{beyond}."
)


def one_outlasted(trial: Trial, pair: PairAnswer) -> Phrase:
    """Return what is known when one recipe outlasted the press and the other broke.

    Parameters
    ----------
    trial : Trial
        The job.
    pair : PairAnswer
        With one bound only.

    Returns
    -------
    Phrase
        The bound that was measured, and that nothing above it was.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> held = PairAnswer("dry", "A", "B", None, 1.2, None, None, None, None)
    >>> trial = Trial("addition", (), (), (), StrengthAnswer((), (), (), (held,), ()))
    >>> one_outlasted(trial, held).values["ratio_least"]
    1.2
    """
    lasting = pair.a if pair.low is not None else pair.b
    view = _seen_from(pair, lasting)
    values: dict[str, Value] = {
        "a": view.a,
        "b": view.b,
        "condition": trial.said(pair.condition),
        "ratio_least": view.low or 0.0,
        "held_mpa": trial.highest_held_mpa([lasting], pair.condition) or 0.0,
    }
    if (view.low or 0.0) <= 1:
        return Phrase(_OUTLASTED_BARELY, values)
    return Phrase(_OUTLASTED, values)


_OUTLASTED = (
    "Every block of {a} outlasted the press {condition} and not every one of {b}: {a} is at least {ratio_least} times "
    "as strong, and above {held_mpa} its strength was not measured."
)
_OUTLASTED_BARELY = (
    "Every block of {a} outlasted the press {condition} and not every one of {b}, but strength above {held_mpa} was "
    "not measured, so the two are not told apart there."
)


def both_outlasted(trial: Trial, pair: PairAnswer) -> Phrase:
    """Return that neither recipe was broken.

    Parameters
    ----------
    trial : Trial
        The job.
    pair : PairAnswer
        Without ratio and bounds.

    Returns
    -------
    Phrase
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
    >>> both_outlasted(trial, unknown).values["held_mpa"]
    10.6
    """
    held = trial.highest_held_mpa([pair.a, pair.b], pair.condition) or 0.0
    values: dict[str, Value] = {"a": pair.a, "b": pair.b, "condition": trial.said(pair.condition), "held_mpa": held}
    return Phrase(
        "{a} and {b} both outlasted the press {condition}: strength above {held_mpa} was not measured, so which is "
        "stronger there is not known.",
        values,
    )


def _held(trial: Trial, pair: PairAnswer) -> int:
    groups = (trial.group(label, pair.condition) for label in (pair.a, pair.b))
    return sum(group.held for group in groups if group)


def _beyond_the_press(trial: Trial, pair: PairAnswer) -> Phrase:
    """Return the reservation that a ratio needs when some of its blocks never broke."""
    held_mpa = trial.highest_held_mpa([pair.a, pair.b], pair.condition)
    if not _held(trial, pair) or held_mpa is None:
        return Phrase("")
    return Phrase("; some of these blocks outlasted the press, and above {held_mpa} nothing was measured",
                  {"held_mpa": held_mpa})  # fmt: skip


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
