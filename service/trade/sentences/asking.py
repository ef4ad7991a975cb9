"""What to ask for next: as a customer asks the shop, and as the people of the shop read the same."""

from collections.abc import Sequence

from service.phrase import Phrase

ANOTHER = Phrase("Ask us to test another recipe.")
NO_LIMIT = Phrase("Do not build yet: we need to know which building rule you must meet. Ask your building official.")
FURTHER = "To know whether recipe {recipe} passes too, ask us to test it further."
WITH_ADDITION = "Ask us to test a recipe with sand or another soil added."
WITHOUT = "Ask us to test a recipe without {addition}."
STRONGER_PRESS = "Ask us whether a stronger crushing press can test {recipes}."
# By whether it is one recipe only.
MORE = {
    True: "Ask us to test more blocks of recipe {recipes}.",
    False: "Ask us to test more blocks of recipes {recipes}.",
}
OTHER_SOIL = "Ask us to test your other soil too; send it if we do not have it yet."
MISSING_BLOCKS = "Ask us to test the missing blocks of recipe {recipe}."
# What a customer is asked to order is the shop's own to decide on: the same sentences as its people read them.
_FOR_THE_SHOP = {
    ANOTHER.english: "Test another recipe.",
    NO_LIMIT.english: "Do not build yet: choose the building rule to meet, so that the recipes can be judged.",
    FURTHER: "To know whether recipe {recipe} passes too, test it further.",
    WITH_ADDITION: "Test a recipe with sand or another soil added.",
    WITHOUT: "Test a recipe without {addition}.",
    STRONGER_PRESS: "Find out whether a stronger crushing press can test {recipes}.",
    MORE[True]: "Test more blocks of recipe {recipes}.",
    MORE[False]: "Test more blocks of recipes {recipes}.",
    OTHER_SOIL: "Test the other soil too; ask for it if it is not here yet.",
    MISSING_BLOCKS: "Test the missing blocks of recipe {recipe}.",
}


def for_the_shop(sentences: Sequence[Phrase]) -> tuple[Phrase, ...]:
    """Return an answer as the people of the shop read it; the paper speaks to the customer.

    Parameters
    ----------
    sentences : Sequence[Phrase]
        The sentences of an answer.

    Returns
    -------
    tuple[Phrase, ...]
        The same, in order; what the customer may ask the shop for says what the shop may do.

    Raises
    ------
    Nothing
        Every sentence is answered.

    Source
    ------
    own-rule

    Examples
    --------
    >>> for_the_shop([ANOTHER])[0].english
    'Test another recipe.'
    """
    return tuple(Phrase(_FOR_THE_SHOP.get(one.english, one.english), one.values) for one in sentences)


def asks(sentence: Phrase) -> bool:
    """Return whether a sentence says what to ask for, rather than why.

    Parameters
    ----------
    sentence : Phrase
        A sentence of an answer, as a customer or as the shop reads it.

    Returns
    -------
    bool
        True for what can be done next.

    Raises
    ------
    Nothing
        Every sentence is answered.

    Source
    ------
    own-rule

    Examples
    --------
    >>> asks(ANOTHER), asks(Phrase("You do not need {addition}."))
    (True, False)
    """
    return sentence.english in _FOR_THE_SHOP or sentence.english in _FOR_THE_SHOP.values()
