"""The rules of the words: what the numbers of a job come to, in short sentences.

First the act, then the reason, then how sure, once, then what is missing. Nothing is said of strength that was
not measured, and no saving rests on it: a recipe is named only when the engine's verdict on it is "will do",
which needs the assurance that was asked for and no rule failed on the readings.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from service.phrase import Phrase, Value
from service.trade.sentences import open_points as unsettled
from service.trade.sentences.asking import (
    ANOTHER,
    FURTHER,
    MISSING_BLOCKS,
    MORE,
    NO_LIMIT,
    OTHER_SOIL,
    STRONGER_PRESS,
    WITH_ADDITION,
    WITHOUT,
)
from service.trade.sentences.ratios import comparison, shown_alike, shown_stronger
from service.trade.sentences.tried_recipes import Question, Recipe, Trial, one_of
from service.trade.strength.estimate_result import Limit

# As many points that are open as one answer carries; all of them stand in what is not known.
MOST_OPEN = 2


@dataclass(frozen=True)
class Answer:
    """The recipe to use, if one is shown to do, the sentences, and all that is not known."""

    recommended: str | None
    sentences: tuple[Phrase, ...]
    not_known: tuple[Phrase, ...]


@dataclass(frozen=True)
class _Verdict:
    """The act and the reasons, the recipe it recommends, the two worth comparing, and what to ask for next."""

    sentences: tuple[Phrase, ...]
    recommended: str | None = None
    compare: tuple[str, str] | None = None
    about: tuple[str, ...] = ()
    then: tuple[Phrase, ...] = ()


def answer(trial: Trial) -> Answer:
    """Return the answer to the customer's question, as phrases.

    Parameters
    ----------
    trial : Trial
        Recipes, conditions, limits and the engine's answer of one job.

    Returns
    -------
    Answer
        The act, its reasons and how sure it is, and the list of what is not known.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> nothing = Trial("meets code", (), (), (), StrengthAnswer((), (), (), (), ()))
    >>> answer(nothing).sentences[0].english
    'We have not crushed any block yet, so we cannot name a recipe.'
    """
    if not trial.strength.groups:
        return Answer(None, (NONE_CRUSHED,), unsettled.not_known(trial))
    verdict = _BY_QUESTION[trial.question](trial)
    spoken = list(verdict.sentences)
    about = verdict.about or verdict.compare or ((verdict.recommended,) if verdict.recommended else ())
    if any(limit.shape for limit in trial.limits):
        spoken.append(Phrase("The limit is on strength corrected for the shape of the block."))
    # Where limits decide, which of two recipes is stronger changes nothing that anybody does.
    if verdict.compare and not trial.limits:
        spoken += comparison(trial, *verdict.compare)
    open_points = unsettled.open_points(trial, about or tuple(recipe.label for recipe in trial.recipes))
    fresh = [point for point in open_points if point not in spoken]
    return Answer(verdict.recommended, (*spoken, *fresh[:MOST_OPEN], *verdict.then), unsettled.not_known(trial))


NONE_CRUSHED = Phrase("We have not crushed any block yet, so we cannot name a recipe.")
NOT_YET = Phrase("Do not build yet: we cannot name a recipe.")
NONE_WILL_DO = Phrase("Do not use any recipe we tested: none is good enough.")
HOW_SURE = "It is {assurance_likely} likely that new test blocks of recipe {recipe} pass too."


def _addition(trial: Trial) -> _Verdict:
    native = _first(trial, [recipe for recipe in trial.recipes if recipe.native])
    other = _first(trial, [recipe for recipe in trial.recipes if not recipe.native])
    if other is None:
        why = Phrase("We tested no recipe with sand or another soil added, so we cannot compare.")
        return _Verdict((NOT_YET, why), then=(Phrase(WITH_ADDITION),))
    if native is None:
        values: dict[str, Value] = {"addition": other.additions}
        why = Phrase("We tested no recipe without {addition}, so we cannot compare.", values)
        return _Verdict((NOT_YET, why), then=(Phrase(WITHOUT, values),))
    if not trial.limits:
        return _addition_by_strength(trial, native=native, other=other)
    said = _worth(trial, native=native, other=other)
    return replace(said, compare=(other.label, native.label))


def _worth(trial: Trial, *, native: Recipe, other: Recipe) -> _Verdict:
    """Return the recipe to use and the sentences, from the two verdicts and the two costs."""
    of_native, of_other = trial.verdict(native.label), trial.verdict(other.label)
    values: dict[str, Value] = _names(native, other)
    if of_native == "will do":
        if of_other == "will do" and _cheaper(other, native):
            return _use(
                trial, other, Phrase("It costs less than recipe {native}, without {lacking}, which passes too.", values)
            )
        english = "You do not need {addition}, which would cost more." if _cheaper(native, other) else (
            "You do not need {addition}.")  # fmt: skip
        open_and_cheaper = of_other == "not settled" and _cheaper(other, native)
        more = [Phrase(_CHEAPER_IS_OPEN, values)] if open_and_cheaper else []
        return _use(trial, native, Phrase(english, values), *more, then=_further(other) if more else ())
    without = Phrase(_FAILS_WITHOUT if native.doses else _FAILS_ALONE, values)
    if of_other == "will do":
        if of_native == "will not do":
            return _use(trial, other, without)
        return _use(trial, other, _open(trial, native, _WITHOUT_IT, values), then=_further(native))
    if of_native == of_other == "will not do":
        return _Verdict((NONE_WILL_DO, without, Phrase(_FAILS_WITH, values)), then=(ANOTHER,))
    if of_other == "will not do":
        said = (
            Phrase("Do not add {addition}, and do not build yet.", values),
            Phrase(_FAILS_WITH, values),
            _open(trial, native, _WITHOUT_IT, values),
        )
        return _Verdict(said, then=_more(trial, native))
    return _Verdict((NOT_YET, *_likely(trial, (native, other))), then=_more(trial, native, other))


_COSTS_LESS = "It costs less than recipe {native}, without {lacking}, which passes too."
_FAILS_WITHOUT = "Recipe {native}, without {lacking}, fails."
_FAILS_ALONE = "Recipe {native}, the soil without {lacking}, fails."
_FAILS_WITH = "Recipe {other}, with {addition}, fails."
_CHEAPER_IS_OPEN = "Recipe {other}, with {addition}, costs less; we do not know yet whether it passes."


def _further(recipe: Recipe) -> tuple[Phrase, ...]:
    """Return what to ask for beside a recipe that passes, where another may do as well."""
    return (Phrase(FURTHER, {"recipe": recipe.label}),)


def _more(trial: Trial, *recipes: Recipe) -> tuple[Phrase, ...]:
    """Return what to ask for where it is open whether recipes pass: more blocks settle nothing that a press cannot."""
    labels = tuple(recipe.label for recipe in recipes)
    values: dict[str, Value] = {"recipes": labels}
    if unsettled.held_below(trial, labels):
        return (Phrase(STRONGER_PRESS, values),)
    return (Phrase(MORE[len(labels) == 1], values),)


def _names(native: Recipe, other: Recipe) -> dict[str, Value]:
    """Return both recipes by their labels, with what the one has and what the other lacks."""
    added = other.beyond(native)
    return {"native": native.label, "other": other.label, "addition": added, "lacking": one_of(added)}


def _addition_by_strength(trial: Trial, *, native: Recipe, other: Recipe) -> _Verdict:
    """Without a limit only the strengths can be compared, and what strength is needed is for others to say."""
    values: dict[str, Value] = _names(native, other)
    if shown_stronger(trial, other.label, native.label):
        english = "Recipe {other}, with {addition}, is stronger than recipe {native}."
    elif shown_stronger(trial, native.label, other.label):
        english = "Recipe {native}, without {lacking}, is stronger than recipe {other}."
    elif shown_alike(trial, other.label, native.label):
        english = "Recipe {other}, with {addition}, is about as strong as recipe {native}."
    else:
        english = "These blocks do not show whether recipe {other}, with {addition}, is stronger than recipe {native}."
    return _Verdict((NO_LIMIT, Phrase(english, values)), None, (other.label, native.label))


def _least_stabiliser(trial: Trial) -> _Verdict:
    if not trial.limits:
        return _Verdict((NO_LIMIT,))
    leanest_first = sorted(trial.recipes, key=lambda recipe: (recipe.stabiliser_share, recipe.label))
    enough = [recipe for recipe in leanest_first if trial.verdict(recipe.label) == "will do"]
    if not enough:
        return _none_will_do(trial)
    chosen = enough[0]
    leaner = [recipe for recipe in leanest_first if recipe.stabiliser_share < chosen.stabiliser_share]
    if not leaner:
        richer = [recipe for recipe in leanest_first if recipe.stabiliser_share > chosen.stabiliser_share]
        leanest = [Phrase("We tested no recipe with less {less}.", {"less": chosen.less_of()})] if chosen.doses else []
        said = _use(trial, chosen, *leanest)
        return replace(said, about=(chosen.label, *(one.label for one in richer[:1])))
    less = leaner[-1]
    values: dict[str, Value] = {"leaner": less.label, "less": chosen.less_of(less), "content": less.content()}
    if trial.verdict(less.label) == "will not do":
        said = _use(trial, chosen, Phrase("Recipe {leaner}, with less {less} ({content}), fails.", values))
    else:
        said = _use(trial, chosen, _open(trial, less, _WITH_LESS, values), then=_further(less))
    return replace(said, about=(chosen.label, less.label))


def _which_soil(trial: Trial) -> _Verdict:
    best = _first(trial, list(trial.recipes))
    if best is None or len({recipe.soil for recipe in trial.recipes}) < 2:
        one_soil = Phrase("We tested blocks of one soil only, so we cannot compare soils.")
        return _Verdict((NOT_YET, one_soil), then=(Phrase(OTHER_SOIL),))
    rival = _first(trial, [recipe for recipe in trial.recipes if recipe.soil != best.soil])
    pair = (best.label, rival.label) if rival else None
    if not trial.limits:
        return _soil_by_strength(trial, best=best)
    if trial.verdict(best.label) != "will do":
        return _none_will_do(trial, beside=rival)
    why = []
    if _cheapest_tested(trial, best):
        why.append(Phrase("No other recipe we tested costs less."))
    elif (cheapest := trial.chance_cheapest(best.label)) is not None:
        english = "It is {cheapest_likely} likely that every cheaper recipe we tested fails."
        why.append(Phrase(english, {"cheapest_likely": cheapest}))
    said = _use(trial, best, *why, content=best.whole())
    return replace(said, compare=pair)


def _soil_by_strength(trial: Trial, *, best: Recipe) -> _Verdict:
    others = [recipe for recipe in trial.recipes if recipe.soil != best.soil]
    values: dict[str, Value]
    for one in trial.recipes:
        rivals = [recipe for recipe in trial.recipes if recipe.soil != one.soil]
        if all(shown_stronger(trial, one.label, rival.label) for rival in rivals):
            values = {"recipe": one.label, "soil": one.soil}
            strongest = Phrase("Recipe {recipe} ({soil}) makes the strongest blocks.", values)
            return _Verdict((NO_LIMIT, strongest), None, (one.label, rivals[0].label))
    rival = others[0].label
    if shown_alike(trial, best.label, rival):
        values = {"recipe": best.label, "soil": best.soil, "rival": rival}
        level = Phrase("Recipe {recipe} ({soil}) is about as strong as recipe {rival}.", values)
    else:
        level = Phrase("These blocks do not show which soil is stronger.")
    return _Verdict((NO_LIMIT, level), None, (best.label, rival))


def _meets_code(trial: Trial) -> _Verdict:
    if not trial.limits:
        return _Verdict((NO_LIMIT,))
    best = _first(trial, list(trial.recipes))
    if best is None or trial.verdict(best.label) != "will do":
        return _none_will_do(trial)
    return _use(trial, best)


def _use(
    trial: Trial, recipe: Recipe, *why: Phrase, content: Phrase | None = None, then: tuple[Phrase, ...] = ()
) -> _Verdict:
    """Return the act of using a recipe, the limits it passes, further reasons, and how sure that is.

    Where its rule asks for more blocks than were crushed the act is not to build yet.
    """
    of_it: dict[str, Value] = {"recipe": recipe.label}
    values: dict[str, Value] = {**of_it, "content": content or recipe.content()}
    short = [row for row in trial.strength.limits if row.recipe == recipe.label and row.rule == "too few"]
    said = [
        *(
            [Phrase(TOO_EARLY, of_it), Phrase("So far it passes: {content}.", values)]
            if short
            else [Phrase("Use recipe {recipe}: {content}.", values)]
        ),
        Phrase(
            "Its small test blocks pass every limit for this job, {conditions}.",
            {"conditions": _conditions(trial, trial.limits)},
        ),
        *why,
    ]
    chance = trial.chance(recipe.label)
    if chance is not None:
        # The reasons may say of another recipe how likely it is, so this one says whose chance it is.
        said.append(Phrase(HOW_SURE, {"recipe": recipe.label, "assurance_likely": chance}))
    return _Verdict(tuple(said), recipe.label, then=(*((Phrase(MISSING_BLOCKS, of_it),) if short else ()), *then))


TOO_EARLY = "Do not build with recipe {recipe} yet: the rule asks for more test blocks."


def _none_will_do(trial: Trial, *, beside: Recipe | None = None) -> _Verdict:
    """Return that no recipe is shown to pass; ``beside`` is one whose chance is told too."""
    best = _first(trial, list(trial.recipes))
    if best is None:
        return _Verdict((NOT_YET,), then=_more(trial, *trial.recipes))
    if all(trial.verdict(recipe.label) == "will not do" for recipe in trial.recipes):
        labels = tuple(recipe.label for recipe in trial.recipes)
        said = Phrase(_EACH_FAILS, {"recipes": labels}) if len(labels) > 1 else Phrase(_FAILS, _is_made_of(trial, best))
        return _Verdict((NONE_WILL_DO, said), about=labels, then=(ANOTHER,))
    if met := _met_so_far(trial, best.label):
        values: dict[str, Value] = {"conditions": _conditions(trial, met)}
        so_far = Phrase("So far its small test blocks pass the limits {conditions}.", values)
        told = (NOT_YET, Phrase(_TESTED, _is_made_of(trial, best)), so_far)
        return _Verdict(told, about=(best.label,), then=_more(trial, best))
    if beside and trial.verdict(beside.label) == "will not do":
        fails = Phrase(_FAILS, _is_made_of(trial, beside))
        return _Verdict((NOT_YET, *_likely(trial, (best,)), fails), then=_more(trial, best))
    told_of = (best, beside) if beside else (best,)
    return _Verdict((NOT_YET, *_likely(trial, told_of)), then=_more(trial, *told_of))


def _likely(trial: Trial, recipes: Sequence[Recipe]) -> tuple[Phrase, ...]:
    """Return how likely recipes are to pass that are not shown to."""
    said = []
    for recipe in recipes:
        chance = trial.chance(recipe.label)
        said.append(Phrase(_TESTED, _is_made_of(trial, recipe)))
        if chance is None:
            said.append(Phrase("We cannot say yet whether it passes every limit."))
        else:
            english = "It is {assurance_likely} likely to pass every limit; we need {asked_likely}."
            said.append(Phrase(english, {"asked_likely": trial.assurance, "assurance_likely": chance}))
    return tuple(said)


def _is_made_of(trial: Trial, recipe: Recipe) -> dict[str, Value]:
    """Return the label of a recipe and what is in it; its soil too where the job has several."""
    several = len({one.soil for one in trial.recipes}) > 1
    return {"recipe": recipe.label, "content": recipe.whole() if several else recipe.content()}


_TESTED = "We tested recipe {recipe}: {content}."
_FAILS = "Recipe {recipe} ({content}) fails at least one limit."
_EACH_FAILS = "Recipes {recipes} each fail at least one limit."


def _open(trial: Trial, recipe: Recipe, english: tuple[str, str], values: dict[str, Value]) -> Phrase:
    """Return that something is open, with its chance where that is known."""
    chance = trial.chance(recipe.label)
    if chance is None:
        return Phrase(english[0], values)
    return Phrase(english[1], {**values, "open_likely": chance, "asked_likely": trial.assurance})


# Without and with the chance: whole sentences, since parts of one cannot be put into another language.
_WITHOUT_IT = (
    "We do not know yet whether recipe {native}, without {lacking}, passes.",
    "We do not know yet whether recipe {native}, without {lacking}, passes. "
    "It is {open_likely} likely that {native} passes; we need {asked_likely}.",
)
_WITH_LESS = (
    "We do not know yet whether recipe {leaner}, with less {less} ({content}), passes.",
    "We do not know yet whether recipe {leaner}, with less {less} ({content}), passes. "
    "It is {open_likely} likely that {leaner} passes; we need {asked_likely}.",
)


def _conditions(trial: Trial, limits: Sequence[Limit]) -> tuple[Phrase, ...]:
    return tuple(trial.said(name) for name in dict.fromkeys(limit.condition for limit in limits))


def _cheapest_tested(trial: Trial, best: Recipe) -> bool:
    others = [recipe for recipe in trial.recipes if recipe.label != best.label]
    return all(_cheaper(best, other) or best.cost == other.cost is not None for other in others)


def _met_so_far(trial: Trial, label: str) -> list[Limit]:
    """Return the limits that a recipe meets, if what is missing is readings and nothing else."""
    rows = {row.name: row for row in trial.strength.limits if row.recipe == label}
    if {row.rule for row in rows.values()} != {"met", "no readings"}:
        return []
    sure = [name for name, row in rows.items() if row.rule == "met" and (row.assurance or 0.0) >= trial.assurance]
    return [limit for limit in trial.limits if limit.name in sure]


def _first(trial: Trial, among: list[Recipe]) -> Recipe | None:
    """Return the recipe that the engine's order puts first."""
    labels = {recipe.label: recipe for recipe in among}
    return next((labels[place.recipe] for place in trial.strength.order if place.recipe in labels), None)


def _cheaper(one: Recipe, other: Recipe) -> bool:
    return one.cost is not None and other.cost is not None and one.cost < other.cost


_BY_QUESTION: dict[Question, Callable[[Trial], _Verdict]] = {
    "addition": _addition,
    "least stabiliser": _least_stabiliser,
    "which soil": _which_soil,
    "meets code": _meets_code,
}
