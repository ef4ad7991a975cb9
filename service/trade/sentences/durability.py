"""What limits on other tests than crushing come to, in sentences beside the answer on strength."""

from collections.abc import Sequence
from dataclasses import dataclass

from service.phrase import Phrase
from service.trade.criteria.durability_limits import Verdict


@dataclass(frozen=True)
class Judged:
    """One recipe held against one demand of a criterion."""

    criterion: str
    demand: str
    recipe: str
    verdict: Verdict
    blocks: int


def missed(judged: Sequence[Judged]) -> tuple[Phrase, ...]:
    """Return a sentence for each demand that a recipe does not meet: strength alone does not make it do.

    Parameters
    ----------
    judged : Sequence[Judged]
        Recipes held against the demands that are judged; may be empty.

    Returns
    -------
    tuple[Phrase, ...]
        One for each recipe and demand, in order.

    Source
    ------
    own-words

    Examples
    --------
    >>> held = [Judged("Kenya", "absorption", "A", "not met", 3), Judged("Kenya", "absorption", "B", "met", 3)]
    >>> (said,) = missed(held)
    >>> said.english.format_map(said.values)
    'Recipe A fails “absorption” of Kenya, whatever its strength.'
    """
    return tuple(
        Phrase(_MISSED, {"recipe": one.recipe, "demand": one.demand, "criterion": one.criterion})
        for one in judged
        if one.verdict == "not met"
    )


def unsaid(judged: Sequence[Judged]) -> tuple[Phrase, ...]:
    """Return what is not known of the demands: what was not tested, tested too little, or held.

    Parameters
    ----------
    judged : Sequence[Judged]
        Recipes held against the demands that are judged; may be empty.

    Returns
    -------
    tuple[Phrase, ...]
        One for each demand and reason, with its recipes.

    Source
    ------
    own-words

    Examples
    --------
    >>> (said,) = unsaid([Judged("Kenya", "absorption", "A", "no readings", 0)])
    >>> said.english
    'No block of {recipes} was tested for “{demand}” of {criterion}.'
    """
    found: dict[tuple[Verdict, str, str], list[str]] = {}
    for one in judged:
        if one.verdict in _UNSAID:
            found.setdefault((one.verdict, one.demand, one.criterion), []).append(one.recipe)
    return tuple(
        Phrase(_UNSAID[verdict], {"recipes": tuple(recipes), "demand": demand, "criterion": criterion})
        for (verdict, demand, criterion), recipes in found.items()
    )


_MISSED = "Recipe {recipe} fails “{demand}” of {criterion}, whatever its strength."
_UNSAID: dict[Verdict, str] = {
    "no readings": "No block of {recipes} was tested for “{demand}” of {criterion}.",
    "too few": "“{demand}” of {criterion}: passed by {recipes} so far, with too few blocks or too short a test.",
    "cannot tell": "“{demand}” of {criterion}: open for {recipes}, as a block did not break.",
}
