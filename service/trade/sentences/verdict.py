"""The rules of the words: what the numbers of a job come to, in at most three sentences.

First which recipe and why, then by how much, then what was not settled. Nothing is said of strength that was
not measured, and no saving rests on it: a recipe is named only when the engine's verdict on it is "will do",
which needs every rule met on the readings and the assurance that was asked for.
"""

from collections.abc import Callable
from dataclasses import dataclass

from service.phrase import Phrase, Value
from service.trade.sentences import open_points as unsettled
from service.trade.sentences.ratios import comparison, shown_stronger
from service.trade.sentences.tried_recipes import Question, Recipe, Trial
from service.trade.strength.estimate_result import Limit


@dataclass(frozen=True)
class Answer:
    """The recipe to use, if one is shown to do, the sentences, and all that is not known."""

    recommended: str | None
    sentences: tuple[Phrase, ...]
    not_known: tuple[Phrase, ...]


@dataclass(frozen=True)
class _Verdict:
    """A first sentence, the recipe it recommends and the two recipes that are worth comparing."""

    sentence: Phrase
    recommended: str | None = None
    compare: tuple[str, str] | None = None
    about: tuple[str, ...] = ()


def answer(trial: Trial) -> Answer:
    """Return the answer to the customer's question, as phrases.

    Parameters
    ----------
    trial : Trial
        Recipes, conditions, limits and the engine's answer of one job.

    Returns
    -------
    Answer
        One to three sentences, and the list of what is not known.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> nothing = Trial("meets code", (), (), (), StrengthAnswer((), (), (), (), ()))
    >>> answer(nothing).sentences[0].english
    'Whether a rule is met cannot be told, for no rule was chosen.'
    """
    verdict = _BY_QUESTION[trial.question](trial)
    spoken = [verdict.sentence]
    about = verdict.about or verdict.compare or ((verdict.recommended,) if verdict.recommended else ())
    if verdict.compare and (compared := comparison(trial, *verdict.compare)):
        spoken.append(compared)
    open_points = unsettled.open_points(trial, about or tuple(recipe.label for recipe in trial.recipes))
    fresh = [point for point in open_points if point not in spoken]
    return Answer(verdict.recommended, (*spoken, *fresh[: 3 - len(spoken)]), unsettled.not_known(trial))


def _addition(trial: Trial) -> _Verdict:
    native = _first(trial, [recipe for recipe in trial.recipes if recipe.native])
    other = _first(trial, [recipe for recipe in trial.recipes if not recipe.native])
    if native is None or other is None:
        return _Verdict(Phrase("What an addition brings cannot be told: blocks with and without it are needed."))
    pair = (other.label, native.label)
    if not trial.limits:
        return _addition_by_strength(trial, native=native, other=other)
    values: dict[str, Value] = {**_of_both(native=native, other=other),
              "demands": trial.demands(), **_chances(trial, native=native, other=other)}  # fmt: skip
    recommended, english = _worth(trial, native=native, other=other)
    return _Verdict(Phrase(english, {**values, **_costs(native=native, other=other)}), recommended, pair)


def _worth(trial: Trial, *, native: Recipe, other: Recipe) -> tuple[str | None, str]:
    """Return the recipe to use and the sentence, from the two verdicts and the two costs."""
    of_native, of_other = trial.verdict(native.label), trial.verdict(other.label)
    if of_native == "will do":
        if of_other == "will do" and _cheaper(other, native):
            return other.label, _PAYS
        return native.label, _NOT_NEEDED_COST if _cheaper(native, other) else _NOT_NEEDED
    if of_other == "will do":
        return other.label, _WORTH_IT if of_native == "will not do" else _SAFE_WITH_IT
    if of_native == of_other == "will not do":
        return None, _NEITHER
    return None, _OF_NO_USE if of_other == "will not do" else _CANNOT_BE_TOLD


_NOT_NEEDED = "There is no need to add {addition}: {native} reaches {demands}{native_chance}."
_NOT_NEEDED_COST = (
    "There is no need to add {addition}: {native} reaches {demands}{native_chance}, and costs {native_money} a block "
    "against {other_money}."
)
_PAYS = (
    "Adding {addition} pays: {other} reaches {demands}{other_chance}, and costs {other_money} a block against the "
    "{native_money} of {native_label}, which would do too{native_chance}."
)
_WORTH_IT = (
    "Adding {addition} is worth it: {other} reaches {demands}{other_chance}, and {native_label}, without it, does not."
)
_SAFE_WITH_IT = (
    "Use {other} for now: it reaches {demands}{other_chance}; whether {native_label} does so without {addition} is not "
    "settled{native_chance}."
)
_NEITHER = (
    "Adding {addition} in this way does not answer: neither {native_label}, without it, nor {other_label}, with it, "
    "reaches {demands}."
)
_OF_NO_USE = (
    "Adding {addition} in this way does not answer: {other_label} does not reach {demands}; whether {native} does is "
    "not settled{native_chance}."
)
_CANNOT_BE_TOLD = (
    "Whether adding {addition} is worth it cannot be told yet: neither {native_label}, without it{native_chance}, nor "
    "{other_label}, with it{other_chance}, is shown to reach {demands}."
)


def _addition_by_strength(trial: Trial, *, native: Recipe, other: Recipe) -> _Verdict:
    """Without a limit only the strengths can be compared, and what strength is needed is for others to say."""
    values = _of_both(native=native, other=other)
    if shown_stronger(trial, other.label, native.label):
        english = (
            "Adding {addition} brings strength: {other} is stronger than {native_label}; whether that is needed is "
            "open without a limit."
        )
    elif shown_stronger(trial, native.label, other.label):
        english = "Adding {addition} brings no strength: {native} is stronger than {other_label}."
    else:
        english = (
            "Whether adding {addition} brings strength cannot be told: {other_label}, with it, and {native_label}, "
            "without it, are not told apart."
        )
    return _Verdict(Phrase(english, values), None, (other.label, native.label))


def _least_stabiliser(trial: Trial) -> _Verdict:
    if not trial.limits:
        return _Verdict(Phrase("How little stabiliser will do cannot be told, for no strength to be reached was set."))
    leanest_first = sorted(trial.recipes, key=lambda recipe: (recipe.stabiliser_share, recipe.label))
    enough = [recipe for recipe in leanest_first if trial.verdict(recipe.label) == "will do"]
    if not enough:
        return _none_will_do(trial)
    chosen = enough[0]
    leaner = [recipe for recipe in leanest_first if recipe.stabiliser_share < chosen.stabiliser_share]
    values: dict[str, Value] = {
        "recipe": chosen.phrase(),
        "demands": trial.demands(),
        "chance": _chance(trial, chosen.label),
    }
    if not leaner:
        english = "{recipe} is enough: it reaches {demands}{chance}, and nothing leaner was tested."
        richer = [recipe for recipe in leanest_first if recipe.stabiliser_share > chosen.stabiliser_share]
        return _Verdict(Phrase(english, values), chosen.label, (chosen.label, richer[0].label) if richer else None)
    next_leaner = leaner[-1]
    fails = trial.verdict(next_leaner.label) == "will not do"
    english = _LEAST_AND_LESS_FAILS if fails else _LEAST_AND_LESS_OPEN
    values |= {"leaner": next_leaner.phrase(), "leaner_chance": _chance(trial, next_leaner.label)}
    return _Verdict(Phrase(english, values), chosen.label, (chosen.label, next_leaner.label))


_LEAST_AND_LESS_FAILS = "{recipe} is the leanest that will do: it reaches {demands}{chance}, and {leaner} does not."
_LEAST_AND_LESS_OPEN = (
    "{recipe} is the leanest that is shown to do: it reaches {demands}{chance}; that {leaner} does is not "
    "settled{leaner_chance}."
)


def _which_soil(trial: Trial) -> _Verdict:
    best = _first(trial, list(trial.recipes))
    if best is None or len({recipe.soil for recipe in trial.recipes}) < 2:
        return _Verdict(Phrase("Which soil to take cannot be told: blocks of two soils at least are needed."))
    rival = _first(trial, [recipe for recipe in trial.recipes if recipe.soil != best.soil])
    pair = (best.label, rival.label) if rival else None
    if not trial.limits:
        return _soil_by_strength(trial, best=best)
    if trial.verdict(best.label) != "will do":
        return _none_will_do(trial)
    values: dict[str, Value] = {"soil": best.soil, "recipe": best.phrase(), "demands": trial.demands(),
              "chance": _chance(trial, best.label)}  # fmt: skip
    if _cheapest_tested(trial, best):
        english = "Take {soil}: {recipe} reaches {demands}{chance}, and nothing cheaper was tested."
        return _Verdict(Phrase(english, values), best.label, pair)
    cheapest = trial.chance_cheapest(best.label)
    if cheapest is None:
        return _Verdict(Phrase("Take {soil}: {recipe} reaches {demands}{chance}.", values), best.label, pair)
    english = (
        "Take {soil}: {recipe} reaches {demands}{chance}; that nothing cheaper does has a chance of {cheapest_chance}."
    )
    return _Verdict(Phrase(english, {**values, "cheapest_chance": cheapest}), best.label, pair)


def _soil_by_strength(trial: Trial, *, best: Recipe) -> _Verdict:
    others = [recipe for recipe in trial.recipes if recipe.soil != best.soil]
    for one in trial.recipes:
        rivals = [recipe for recipe in trial.recipes if recipe.soil != one.soil]
        if all(shown_stronger(trial, one.label, rival.label) for rival in rivals):
            english = "{recipe} makes the strongest blocks; whether they are strong enough is open without a limit."
            sentence = Phrase(english, {"recipe": one.phrase()})
            return _Verdict(sentence, None, (one.label, rivals[0].label))
    english = "Which soil makes the stronger blocks cannot be told: they are not told apart."
    return _Verdict(Phrase(english), None, (best.label, others[0].label))


def _meets_code(trial: Trial) -> _Verdict:
    if not trial.limits:
        return _Verdict(Phrase("Whether a rule is met cannot be told, for no rule was chosen."))
    best = _first(trial, list(trial.recipes))
    if best is None or trial.verdict(best.label) != "will do":
        return _none_will_do(trial)
    english = "Yes, as small bench blocks: {recipe} reaches {demands}{chance}."
    values: dict[str, Value] = {
        "recipe": best.phrase(),
        "demands": trial.demands(),
        "chance": _chance(trial, best.label),
    }
    return _Verdict(Phrase(english, values), best.label)


def _none_will_do(trial: Trial) -> _Verdict:
    best = _first(trial, list(trial.recipes))
    if best is None:
        return _Verdict(Phrase("Nothing can be said before the first block is crushed."))
    values: dict[str, Value] = {
        "recipe": best.phrase(),
        "demands": trial.demands(),
        "chance": _chance(trial, best.label),
    }
    if all(trial.verdict(recipe.label) == "will not do" for recipe in trial.recipes):
        return _Verdict(Phrase(_NONE_REACHES[trial.question], values), about=(best.label,))
    if met := _met_so_far(trial, best.label):
        english = "So far {recipe} reaches {met}, which is not yet all that was asked."
        return _Verdict(Phrase(english, {**values, "met": trial.demands(met)}), None, None, (best.label,))
    english = "No recipe is yet shown to reach {demands}; the nearest is {recipe}{chance}."
    return _Verdict(Phrase(english, values))


_NONE_REACHES: dict[Question, str] = {
    "addition": "No recipe that was tested reaches {demands}.",
    "least stabiliser": "No share of stabiliser that was tested is enough to reach {demands}.",
    "which soil": "As they were mixed here, no soil reaches {demands}.",
    "meets code": "No: not even as small bench blocks does any recipe that was tested reach {demands}.",
}


def _cheapest_tested(trial: Trial, best: Recipe) -> bool:
    others = [recipe for recipe in trial.recipes if recipe.label != best.label]
    return all(_cheaper(best, other) or best.cost == other.cost is not None for other in others)


def _of_both(*, native: Recipe, other: Recipe) -> dict[str, Value]:
    return {
        "addition": other.additions,
        "native": native.phrase(),
        "native_label": native.label,
        "other": other.phrase(),
        "other_label": other.label,
    }


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


def _chances(trial: Trial, *, native: Recipe, other: Recipe) -> dict[str, Value]:
    return {"native_chance": _chance(trial, native.label), "other_chance": _chance(trial, other.label)}


def _chance(trial: Trial, label: str) -> Phrase:
    assurance = trial.chance(label)
    if assurance is None:
        return Phrase("")
    return Phrase(", with a chance of {assurance_chance}", {"assurance_chance": assurance})


def _cheaper(one: Recipe, other: Recipe) -> bool:
    return one.cost is not None and other.cost is not None and one.cost < other.cost


def _costs(*, native: Recipe, other: Recipe) -> dict[str, Value]:
    return {f"{name}_money": recipe.cost for name, recipe in (("native", native), ("other", other))
            if recipe.cost is not None}  # fmt: skip


_BY_QUESTION: dict[Question, Callable[[Trial], _Verdict]] = {
    "addition": _addition,
    "least stabiliser": _least_stabiliser,
    "which soil": _which_soil,
    "meets code": _meets_code,
}
