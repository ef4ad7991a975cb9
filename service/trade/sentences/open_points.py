"""What a job has not settled: the open points in order of weight, and the whole list of what is not known."""

from collections.abc import Iterable, Sequence

from service.phrase import Phrase, Value
from service.trade.sentences.ratios import both_outlasted, one_outlasted
from service.trade.sentences.tried_recipes import Trial
from service.trade.strength.estimate_result import GroupStrength, Limit, LimitAnswer
from service.trade.strength.shape_corrected_limits import said_of


def open_points(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    """Return what was not settled about some recipes, the weightiest first.

    Parameters
    ----------
    trial : Trial
        The job.
    labels : Sequence[str]
        Labels of the recipes that the answer speaks of.

    Returns
    -------
    list[Phrase]
        Missing readings, fallen, too weak, too few, straying, unbroken, one batch; may be empty.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> from service.trade.sentences.tried_recipes import Recipe
    >>> trial = Trial("addition", (Recipe("A", (), (), None, 2),), (), (), StrengthAnswer((), (), (), (), ()))
    >>> [point.english for point in open_points(trial, ["A"])]
    ['We crushed no block of {recipes} yet.']
    """
    return [
        *_uncrushed(trial, labels),
        *_missing(trial, labels),
        *_shapeless(trial, labels),
        *_fallen(trial, labels),
        *_failing(trial, labels),
        *held_below(trial, labels),
        *_valueless(trial, labels),
        *_too_few(trial, labels),
        *_straying(trial, labels),
        # Where limits decide, which of two recipes is stronger changes nothing that anybody does.
        *([] if trial.limits else _outlasted(trial, labels)),
        *_one_mix(trial, labels),
    ]


def not_known(trial: Trial) -> tuple[Phrase, ...]:
    """Return everything that this job does not show.

    Parameters
    ----------
    trial : Trial
        The job.

    Returns
    -------
    tuple[Phrase, ...]
        The open points of all recipes, what was left out and why it may matter, and what no bench test shows.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> for point in not_known(Trial("addition", (), (), (), StrengthAnswer((), (), (), (), ()))):
    ...     print(point.english[:45])
    We tested no full-size blocks. They usually t
    Rain, frost, wetting and drying, and years of
    The result holds only if the sacks hold soil
    """
    labels = [recipe.label for recipe in trial.recipes]
    return (
        *open_points(trial, labels),
        *(_outlasted(trial, labels) if trial.limits else []),
        *_unmeasured(trial),
        *_left_out(trial),
        *_without_cost(trial),
        *([] if trial.calibrated else [Phrase(_UNCALIBRATED)]),
        Phrase(_SHAPED if any(limit.shape for limit in trial.limits) else _FULL_SIZE),
        *(Phrase(english) for english in _ALWAYS),
    )


_UNCALIBRATED = (
    "Our press was not calibrated: all strengths may be too high, or all too low. Then our answer may be wrong."
)
_FULL_SIZE = (
    "We tested no full-size blocks. "
    "They usually test weaker than small flat ones, and our figures do not allow for that."
)
_SHAPED = (
    "We tested no full-size blocks. They usually test weaker; "
    "of our figures only the strength corrected for shape allows for that."
)
_ALWAYS = (
    "Rain, frost, wetting and drying, and years of load were not tested.",
    "The result holds only if the sacks hold soil from all parts of the pit you will use.",
)


def _uncrushed(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    crushed = {group.recipe for group in trial.strength.groups}
    waiting = tuple(label for label in labels if label not in crushed)
    return [Phrase("We crushed no block of {recipes} yet.", {"recipes": waiting})] if waiting else []


def _missing(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    rows = [row for row in _rows(trial, labels) if not row.counted and not _crushed(trial, row)]
    conditions = dict.fromkeys(_limit(trial, row).condition for row in rows)
    return [
        Phrase(
            _UNTRIED[len(recipes) == 1],
            {"recipes": recipes, "condition": trial.said(condition)},
        )
        for condition in conditions
        if (recipes := tuple(dict.fromkeys(r.recipe for r in rows if _limit(trial, r).condition == condition)))
    ]


# By whether it is one recipe only.
_UNTRIED = {
    True: "We crushed no block of {recipes} {condition}, so we do not know whether it passes.",
    False: "We crushed no block of {recipes} {condition}, so we do not know whether they pass.",
}


def _crushed(trial: Trial, row: LimitAnswer) -> bool:
    """Return whether blocks were crushed in the condition of a limit, whether or not it takes them."""
    return trial.group(row.recipe, _limit(trial, row).condition) is not None


def _shapeless(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    english = "No shape factor of {name} fits the blocks of {recipe}, so it was not judged."
    rows = [row for row in _rows(trial, labels) if not row.counted and _crushed(trial, row)]
    return [Phrase(english, {"name": row.name, "recipe": row.recipe}) for row in rows]


def _fallen(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    fell: dict[str, list[GroupStrength]] = {}
    for group in trial.strength.groups:
        if group.fell_apart and group.recipe in labels:
            fell.setdefault(group.condition, []).append(group)
    return [_fallen_in(trial.said(condition), groups) for condition, groups in fell.items()]


def _fallen_in(condition: Phrase, groups: Sequence[GroupStrength]) -> Phrase:
    if len(groups) > 1:
        english = "Blocks fell apart {condition}: {fallen}. These recipes fail."
        each = tuple(
            Phrase("{count} of {recipe}", {"count": group.fell_apart, "recipe": group.recipe}) for group in groups
        )
        return Phrase(english, {"fallen": each, "condition": condition})
    english = "{fallen} blocks of {recipe} fell apart {condition}, so recipe {recipe} fails."
    if groups[0].fell_apart == 1:
        english = "One block of {recipe} fell apart {condition}, so recipe {recipe} fails."
    return Phrase(english, {"recipe": groups[0].recipe, "fallen": groups[0].fell_apart, "condition": condition})


def _failing(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    """Return what the readings were where they fail a limit and no block fell apart."""
    said: dict[tuple[str, str], Phrase] = {}
    for row in _rows(trial, labels):
        limit, group = _limit(trial, row), trial.group(row.recipe, _limit(trial, row).condition)
        tally = trial.tally(row.recipe, limit.condition)
        read = {"each": tally.lowest_mpa, "mean": tally.mean_mpa}.get(limit.statistic) if tally else None
        if row.rule != "not met" or group is None or group.fell_apart or limit.shape or read is None:
            continue
        values: dict[str, Value] = {"recipe": row.recipe, "condition": trial.said(limit.condition),
                  **_as_read(read, tally.step_mpa if tally else 0.0), "limit_mpa": said_of(limit)}  # fmt: skip
        said.setdefault((row.recipe, limit.condition), Phrase(FAILING[limit.statistic], values))
    return list(said.values())


def _as_read(strength_mpa: float, step_mpa: float) -> dict[str, Value]:
    """Return a strength that was read, with the step of its gauge where that is known."""
    values: dict[str, Value] = {"strength_mpa": strength_mpa}
    return values | {"strength_mpa_step": step_mpa} if step_mpa else values


FAILING = {
    "each": "Recipe {recipe} {condition}: the weakest block reached {strength_mpa}, the minimum is {limit_mpa}.",
    "mean": "Recipe {recipe} {condition}: the average is {strength_mpa}, the minimum is {limit_mpa}.",
}


def held_below(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    """Return of which recipes blocks did not break where pressing ended below a limit.

    Parameters
    ----------
    trial : Trial
        The job.
    labels : Sequence[str]
        Labels of the recipes that are asked about.

    Returns
    -------
    list[Phrase]
        One for each recipe and limit; may be empty. More blocks on the same press settle none of them.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> held_below(Trial("addition", (), (), (), StrengthAnswer((), (), (), (), ())), ["A"])
    []
    """
    limits = {limit.name: limit for limit in trial.limits}
    found: dict[tuple[str, float], tuple[Limit, dict[str, None]]] = {}
    for row in _rows(trial, labels):
        limit = limits[row.name]
        open_rule = row.rule == "cannot tell" and not limit.by
        if row.counted and (open_rule or (row.assurance is None and row.rule != "not met")):
            found.setdefault((row.recipe, limit.limit_mpa), (limit, {}))[1][limit.condition] = None
    said = []
    for (recipe, _), (limit, conditions) in found.items():
        values: dict[str, Value] = {"limit_mpa": said_of(limit), "conditions": _all_said(trial, conditions)}
        none_broke = not any(trial.some_broke(recipe, condition) for condition in conditions)
        said.append(Phrase(_NONE_BROKE if none_broke else _SOME_HELD, {**values, "recipe": recipe}))
    return said


_NONE_BROKE = (
    "In our crushing press no block of {recipe} broke {conditions}. "
    "We did not load them up to the {limit_mpa} they must bear: we do not know whether {recipe} passes."
)
_SOME_HELD = (
    "In our crushing press some blocks of {recipe} broke {conditions}. "
    "We did not load the others up to the {limit_mpa} they must bear: we do not know whether {recipe} passes."
)


def _all_said(trial: Trial, conditions: Iterable[str]) -> tuple[Phrase, ...]:
    return tuple(trial.said(condition) for condition in conditions)


def _valueless(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    english = "The value that {name} asks for needs {required} broken blocks of {recipe}."
    rows = [row for row in _rows(trial, labels) if row.rule == "cannot tell" and row.assurance is not None]
    return [
        Phrase(english, {"name": row.name, "recipe": row.recipe, "required": row.required})
        for row in rows
        if _limit(trial, row).by
    ]


def _too_few(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    found: dict[tuple[str, int, int], dict[str, None]] = {}
    for row in _rows(trial, labels):
        if row.rule == "too few":
            key = row.recipe, row.counted, row.required
            found.setdefault(key, {})[_limit(trial, row).condition] = None
    # Only the first are told on page 1: the recipe that came nearest, before the others.
    rank = {one.recipe: place for place, one in enumerate(trial.strength.order)}
    return [
        Phrase(
            TOO_FEW[len(conditions) == 1],
            {"recipe": recipe, "counted": counted, "required": required, "conditions": _all_said(trial, conditions)},
        )
        for (recipe, counted, required), conditions in sorted(found.items(), key=lambda item: rank[item[0][0]])
    ]


# By whether it is in one condition only.
TOO_FEW = {
    True: "The rule asks for {required} blocks of {recipe} {conditions}; we crushed {counted}.",
    False: "The rule asks for {required} blocks of {recipe} in each state: {conditions}. We crushed {counted} of each.",
}


def _straying(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    return [
        Phrase(
            _ABOVE if one.above else _BELOW[bool(trial.limits) and trial.verdict(one.recipe) == "will do"],
            {
                "recipe": one.recipe,
                "condition": trial.said(one.condition),
                **_as_read(one.strength_mpa, one.step_mpa),
            },
        )
        for one in trial.straying
        if one.recipe in labels
    ]


_ABOVE = "One block of {recipe} {condition} broke at {strength_mpa}, far above the others. We counted it too."
# By whether the recipe passes.
_BELOW = {
    True: "One block of {recipe} {condition} broke at {strength_mpa}, far below the others. "
    "We counted it, and recipe {recipe} passes even so.",
    False: "One block of {recipe} {condition} broke at {strength_mpa}, far below the others. We counted it too.",
}


def _outlasted(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    said: list[Phrase] = []
    for pair in trial.strength.pairs:
        if pair.a not in labels or pair.b not in labels or pair.ratio is not None:
            continue
        if trial.all_held(pair.a, pair.condition) and trial.all_held(pair.b, pair.condition):
            said += both_outlasted(trial, pair)
        elif pair.low is not None or pair.high is not None:
            said += one_outlasted(trial, pair)
    return said


def _one_mix(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    single = tuple(label for label in labels if trial.recipe(label).batches == 1)
    if not single:
        return []
    return [Phrase(_ONE_MIX[len(single) == 1], {"recipes": single})]


# By whether it is one recipe only.
_ONE_MIX = {
    True: "We made {recipes} in one batch only. "
    "Other batches of a recipe may differ; our figures allow for the usual difference.",
    False: "We made {recipes} in one batch each only. "
    "Other batches of a recipe may differ; our figures allow for the usual difference.",
}


def _unmeasured(trial: Trial) -> list[Phrase]:
    held: dict[str, list[str]] = {}
    for group in trial.strength.groups:
        if group.held:
            held.setdefault(group.condition, []).append(group.recipe)
    return [
        Phrase(
            _UNMEASURED[not any(trial.some_broke(recipe, condition) for recipe in recipes)],
            {
                "recipes": tuple(recipes),
                "condition": trial.said(condition),
                "held_mpa": trial.highest_held_mpa(recipes, condition) or 0.0,
            },
        )
        for condition, recipes in held.items()
    ]


# By whether no block of them broke.
_UNMEASURED = {
    True: "The blocks of {recipes} ({condition}) did not break. We loaded them to {held_mpa} at most; "
    "they may be stronger. Unbroken blocks are no reason to use less cement.",
    False: "Some blocks of {recipes} ({condition}) did not break. We loaded those to {held_mpa} at most; "
    "they may be stronger. Unbroken blocks are no reason to use less cement.",
}


def _left_out(trial: Trial) -> list[Phrase]:
    said = []
    for tally in trial.tallies:
        values: dict[str, Value] = {"recipe": tally.recipe, "condition": trial.said(tally.condition)}
        if tally.spoiled:
            said.append(Phrase(_SPOILED[tally.spoiled == 1], {**values, "spoiled": tally.spoiled}))
        if tally.lost:
            said.append(Phrase(_LOST[tally.lost == 1], {**values, "lost": tally.lost}))
    return said


# By whether it was one only.
_SPOILED = {
    True: "1 test of {recipe} {condition} went wrong and is not counted.",
    False: "{spoiled} tests of {recipe} {condition} went wrong and are not counted.",
}
_LOST = {
    True: "1 block of {recipe} broke or went missing before we could test it {condition}. "
    "It may have been the weakest; then the result looks too good.",
    False: "{lost} blocks of {recipe} broke or went missing before we could test them {condition}. "
    "They may have been the weakest; then the result looks too good.",
}


def _without_cost(trial: Trial) -> list[Phrase]:
    unpriced = tuple(recipe.label for recipe in trial.recipes if recipe.cost is None)
    if not unpriced:
        return []
    return [Phrase("No price is known for {recipes}, so we cannot say which is cheapest.", {"recipes": unpriced})]


def _rows(trial: Trial, labels: Sequence[str]) -> list[LimitAnswer]:
    return [row for row in trial.strength.limits if row.recipe in labels]


def _limit(trial: Trial, row: LimitAnswer) -> Limit:
    return next(limit for limit in trial.limits if limit.name == row.name)
