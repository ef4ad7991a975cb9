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
        Missing readings, fallen, too weak, too few, straying, outlasted the press, one mix; may be empty.

    Source
    ------
    own-words

    Examples
    --------
    >>> from service.trade.strength.estimate_result import StrengthAnswer
    >>> from service.trade.sentences.tried_recipes import Recipe
    >>> trial = Trial("addition", (Recipe("A", (), (), None, 2),), (), (), StrengthAnswer((), (), (), (), ()))
    >>> [point.english for point in open_points(trial, ["A"])]
    ['No block of {recipes} has been crushed yet.']
    """
    return [
        *_uncrushed(trial, labels),
        *_missing(trial, labels),
        *_shapeless(trial, labels),
        *_fallen(trial, labels),
        *_failing(trial, labels),
        *_held_below(trial, labels),
        *_valueless(trial, labels),
        *_too_few(trial, labels),
        *_straying(trial, labels),
        *_outlasted(trial, labels),
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
    These are small bench blocks, which read high
    Rain, frost, wetting and drying, and years of
    The samples stand for the soil only as far as
    """
    labels = [recipe.label for recipe in trial.recipes]
    return (
        *open_points(trial, labels),
        *_unmeasured(trial),
        *_left_out(trial),
        *_without_cost(trial),
        *([] if trial.calibrated else [Phrase(_UNCALIBRATED)]),
        *(Phrase(english) for english in _ALWAYS),
    )


_UNCALIBRATED = (
    "The press was not calibrated: its scale is taken from its geometry, and all stresses may be off by one factor."
)
_ALWAYS = (
    "These are small bench blocks, which read high when squat; full-size units as laid in the wall were not tested.",
    "Rain, frost, wetting and drying, and years of load were not tested.",
    "The samples stand for the soil only as far as they were taken from all of it.",
)


def _uncrushed(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    crushed = {group.recipe for group in trial.strength.groups}
    waiting = tuple(label for label in labels if label not in crushed)
    return [Phrase("No block of {recipes} has been crushed yet.", {"recipes": waiting})] if waiting else []


def _missing(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    rows = [row for row in _rows(trial, labels) if not row.counted and not _crushed(trial, row)]
    conditions = dict.fromkeys(_limit(trial, row).condition for row in rows)
    return [
        Phrase(
            "Of {recipes} no block was crushed {condition}, so whether {limit_mpa} is reached there is open.",
            {
                "recipes": tuple(dict.fromkeys(r.recipe for r in rows if _limit(trial, r).condition == condition)),
                "condition": trial.said(condition),
                "limit_mpa": said_of(max(_limits_in(trial, condition), key=lambda limit: limit.limit_mpa)),
            },
        )
        for condition in conditions
    ]


def _limits_in(trial: Trial, condition: str) -> list[Limit]:
    return [limit for limit in trial.limits if limit.condition == condition]


def _crushed(trial: Trial, row: LimitAnswer) -> bool:
    """Return whether blocks were crushed in the condition of a limit, whether or not it takes them."""
    return trial.group(row.recipe, _limit(trial, row).condition) is not None


def _shapeless(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    english = (
        "The table of shape factors that {name} asks for has nothing for blocks shaped like those of {recipe}, so "
        "whether {recipe} meets it was not worked out."
    )
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
        english = "Blocks of {recipes} fell apart {condition}, so none of these meets a limit there."
        return Phrase(english, {"recipes": tuple(group.recipe for group in groups), "condition": condition})
    english = "{fallen} blocks of {recipe} fell apart {condition}, so {recipe} meets no limit there."
    if groups[0].fell_apart == 1:
        english = "One block of {recipe} fell apart {condition}, so {recipe} meets no limit there."
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
                  "strength_mpa": read, "limit_mpa": said_of(limit)}  # fmt: skip
        said.setdefault((row.recipe, limit.condition), Phrase(_FAILING[limit.statistic], values))
    return list(said.values())


_FAILING = {
    "each": "The weakest block of {recipe} {condition} broke at {strength_mpa}, where {limit_mpa} is asked of each.",
    "mean": "The blocks of {recipe} {condition} broke at {strength_mpa} on average, where {limit_mpa} is asked.",
}


def _held_below(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    english = (
        "The press was stopped below {limit_mpa} on blocks of {recipe} {conditions}, so whether they reach it was not "
        "measured."
    )
    limits = {limit.name: limit for limit in trial.limits}
    found: dict[tuple[str, float], tuple[Limit, dict[str, None]]] = {}
    for row in _rows(trial, labels):
        limit = limits[row.name]
        open_rule = row.rule == "cannot tell" and not limit.by
        if row.counted and (open_rule or (row.assurance is None and row.rule != "not met")):
            found.setdefault((row.recipe, limit.limit_mpa), (limit, {}))[1][limit.condition] = None
    return [
        Phrase(english, {"recipe": recipe, "limit_mpa": said_of(limit), "conditions": _all_said(trial, conditions)})
        for (recipe, _), (limit, conditions) in found.items()
    ]


def _all_said(trial: Trial, conditions: Iterable[str]) -> tuple[Phrase, ...]:
    return tuple(trial.said(condition) for condition in conditions)


def _valueless(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    english = (
        "The characteristic value that {name} asks for cannot be worked out from the readings of {recipe}: it takes "
        "{required} blocks, all of them broken."
    )
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
    return [
        Phrase(
            _TOO_FEW[len(conditions) == 1],
            {"recipe": recipe, "counted": counted, "required": required, "conditions": _all_said(trial, conditions)},
        )
        for (recipe, counted, required), conditions in found.items()
    ]


# By whether it is in one condition only.
_TOO_FEW = {
    True: "The rule asks for {required} blocks of {recipe} {conditions}; with {counted} crushed there are too few.",
    False: "The rule asks for {required} blocks of {recipe} each {conditions}; with {counted} crushed of each there "
    "are too few.",
}


def _straying(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    english = (
        "One block of {recipe} {condition} read {strength_mpa}, far from its siblings; it is counted all the same."
    )
    return [
        Phrase(
            english, {"recipe": one.recipe, "condition": trial.said(one.condition), "strength_mpa": one.strength_mpa}
        )
        for one in trial.straying
        if one.recipe in labels
    ]


def _outlasted(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    said: list[Phrase] = []
    for pair in trial.strength.pairs:
        if pair.a not in labels or pair.b not in labels or pair.ratio is not None:
            continue
        if trial.all_held(pair.a, pair.condition) and trial.all_held(pair.b, pair.condition):
            said.append(both_outlasted(trial, pair))
        elif pair.low is not None or pair.high is not None:
            said.append(one_outlasted(trial, pair))
    return said


def _one_mix(trial: Trial, labels: Sequence[str]) -> list[Phrase]:
    single = tuple(label for label in labels if trial.recipe(label).batches == 1)
    if not single:
        return []
    return [Phrase(_ONE_MIX[len(single) == 1], {"recipes": single})]


# By whether it is one recipe only.
_ONE_MIX = {
    True: "Only one mix of {recipes} was made; how much mixes differ is assumed here, not measured.",
    False: "Only one mix each of {recipes} was made; how much mixes differ is assumed here, not measured.",
}


def _unmeasured(trial: Trial) -> list[Phrase]:
    held: dict[str, list[str]] = {}
    for group in trial.strength.groups:
        if group.held:
            held.setdefault(group.condition, []).append(group.recipe)
    return [
        Phrase(
            _UNMEASURED,
            {
                "recipes": tuple(recipes),
                "condition": trial.said(condition),
                "held_mpa": trial.highest_held_mpa(recipes, condition) or 0.0,
            },
        )
        for condition, recipes in held.items()
    ]


_UNMEASURED = (
    "Blocks of {recipes} outlasted the press {condition}; strength above {held_mpa} was not measured, and no saving of "
    "cement or cost may rest on it."
)


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
    True: "Of {recipe} {condition}, 1 reading was spoiled and is not counted.",
    False: "Of {recipe} {condition}, {spoiled} readings were spoiled and are not counted.",
}
_LOST = {
    True: "Of {recipe} {condition}, 1 block was lost before it could be crushed, which may flatter the rest.",
    False: "Of {recipe} {condition}, {lost} blocks were lost before they could be crushed, which may flatter the rest.",
}


def _without_cost(trial: Trial) -> list[Phrase]:
    unpriced = tuple(recipe.label for recipe in trial.recipes if recipe.cost is None)
    if not unpriced:
        return []
    return [Phrase("No price is known for {recipes}, so nothing is said of what is cheapest.", {"recipes": unpriced})]


def _rows(trial: Trial, labels: Sequence[str]) -> list[LimitAnswer]:
    return [row for row in trial.strength.limits if row.recipe in labels]


def _limit(trial: Trial, row: LimitAnswer) -> Limit:
    return next(limit for limit in trial.limits if limit.name == row.name)
