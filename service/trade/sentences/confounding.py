"""A recipe that sits with one person or one day alone: what differs may then be theirs and not the recipe's."""

from collections.abc import Mapping, Sequence

from service.phrase import Phrase


def sits_alone(where: Mapping[str, Sequence[str]]) -> tuple[str, ...]:
    """Return the recipes that share no person or day with any other recipe.

    Parameters
    ----------
    where : Mapping[str, Sequence[str]]
        For every recipe the persons, or the days, that its blocks fell to; a recipe without any is passed over.

    Returns
    -------
    tuple[str, ...]
        Those that had one alone, which no other recipe had; none where there is one recipe only.

    Source
    ------
    own-rule

    Examples
    --------
    >>> sits_alone({"A": ["Tess"], "B": ["Olu"], "C": ["Olu", "Tess"]})
    ()
    >>> sits_alone({"A": ["Tess"], "B": ["Olu"], "C": ["Olu"]})
    ('A',)
    """
    known = {recipe: set(marks) for recipe, marks in where.items() if marks}
    if len(known) < 2:
        return ()
    return tuple(
        recipe
        for recipe, marks in known.items()
        if len(marks) == 1 and not any(marks & others for name, others in known.items() if name != recipe)
    )


def alone_remarks(
    *,
    crushed_by: Mapping[str, Sequence[str]],
    mixed_by: Mapping[str, Sequence[str]],
    mixed_on: Mapping[str, Sequence[str]],
) -> tuple[Phrase, ...]:
    """Return the remark for each way in which recipes sit with one person or one day alone.

    Parameters
    ----------
    crushed_by : Mapping[str, Sequence[str]]
        Who crushed the blocks of each recipe.
    mixed_by : Mapping[str, Sequence[str]]
        Who mixed each recipe.
    mixed_on : Mapping[str, Sequence[str]]
        The days on which each recipe was mixed.

    Returns
    -------
    tuple[Phrase, ...]
        None where each recipe shares a person and a day with another.

    Source
    ------
    own-words

    Examples
    --------
    >>> remark, = alone_remarks(crushed_by={"A": ["t"], "B": ["o"], "C": ["o"]}, mixed_by={}, mixed_on={})
    >>> remark.values["recipes"]
    ('A',)
    """
    return _said(((_CRUSHED_BY, crushed_by), (_MIXED_BY, mixed_by), (_MIXED_ON, mixed_on)))


def planned_remarks(
    *, mixed_by: Mapping[str, Sequence[str]], mixed_on: Mapping[str, Sequence[str]]
) -> tuple[Phrase, ...]:
    """Return the remark for each way in which a plan leaves recipes with one person or one day alone.

    Parameters
    ----------
    mixed_by : Mapping[str, Sequence[str]]
        Who mixed each recipe so far.
    mixed_on : Mapping[str, Sequence[str]]
        The days on which each recipe was mixed or is to be.

    Returns
    -------
    tuple[Phrase, ...]
        None where each recipe shares a person and a day with another.

    Source
    ------
    own-words

    Examples
    --------
    >>> monday, tuesday = "2027-03-01", "2027-03-02"
    >>> remark, = planned_remarks(mixed_by={}, mixed_on={"A": [monday], "B": [monday], "C": [tuesday]})
    >>> remark.values["recipes"]
    ('C',)
    """
    return _said(((_PLANNED_ON, mixed_on), (_MIXED_BY, mixed_by)))


# By whether it is one recipe only.
_PLANNED_ON = {
    True: "{recipes} is planned for a day of its own. Mix another recipe that day, or you cannot tell the recipe's "
    "effect from the day's.",
    False: "{recipes} are planned for different days. Mix two on the same day, or you cannot tell the recipe's effect "
    "from the day's.",
}
_CRUSHED_BY = {
    True: "One person crushed {recipes} and nothing else; a difference may come from the person.",
    False: "{recipes} were each crushed by a different person; a difference may come from the person.",
}
_MIXED_BY = {
    True: "One person mixed {recipes} and nothing else; a difference may come from the person.",
    False: "{recipes} were each mixed by a different person; a difference may come from the person.",
}
_MIXED_ON = {
    True: "{recipes} was mixed on a day of its own; a difference may come from the day.",
    False: "{recipes} were each mixed on a different day; a difference may come from the day.",
}


def _said(seen: Sequence[tuple[Mapping[bool, str], Mapping[str, Sequence[str]]]]) -> tuple[Phrase, ...]:
    found = ((english, sits_alone(where)) for english, where in seen)
    return tuple(Phrase(english[len(alone) == 1], {"recipes": alone}) for english, alone in found if alone)
