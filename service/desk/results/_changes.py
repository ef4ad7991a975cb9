"""What changed between the result issued last and the one about to be issued, in sentences."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from service.phrase import Phrase
from service.records.base import canonical
from service.trade.block.test_conditions import condition_phrase

# Below this share a number is the same to anyone who reads it.
SAME = 0.0005
# Where no block of a group was read at a gauge.
FINEST_MPA = 0.01
# More blocks than these are named in one sentence; each has its reason in the list of blocks.
MOST_TOLD = 5
# What is no part of the question: how the customer is written to, and who and where they are.
SPOKEN = {"language"}
NAMED = {"customer", "site"}
NOTHING_CHANGED = Phrase("Nothing that is shown has changed.")


def changed(old: Mapping[str, Any], now: Mapping[str, Any], remark: str) -> tuple[Phrase, ...]:
    """Return what a reader of what was issued has to know of the data now, nothing where all is the same."""
    was = old["result"]
    parts = (_asked_for, _readings, _strengths, _order, _rules, _tests, _costs)
    found = [phrase for part in parts for phrase in part(was, now)]
    return (*found, *_remark(old["remark"], remark))


def _asked_for(was: Any, now: Any) -> Iterator[Phrase]:
    other = {name for name, value in was["job"].items() if now["job"].get(name) != value} - SPOKEN
    if other - NAMED:
        yield Phrase("What was asked, what is to be built, or the customer's own block was corrected.")
    if other & NAMED:
        yield Phrase("The name of the customer or of the site was corrected.")


def _remark(was: str, now: str) -> Iterator[Phrase]:
    if was == now:
        return
    if not was:
        yield Phrase("A remark was added.")
    elif not now:
        yield Phrase("The remark was taken out.")
    else:
        yield Phrase("The remark was changed.")


def _readings(was: Any, now: Any) -> Iterator[Phrase]:
    before, after = _counted(was), _counted(now)
    fresh, gone = sorted(after.keys() - before.keys()), sorted(before.keys() - after.keys())
    other = sorted(label for label in before.keys() & after.keys() if _typed(before[label]) != _typed(after[label]))
    if fresh:
        yield Phrase("Readings that count now and did not before: {blocks}.", {"blocks": tuple(fresh)})
    uncounted = {one["block"]: _uncounted(one) for one in now["readings"] if one["block"] in gone}
    yield from _each_or_all(gone, uncounted, "Readings that no longer count: {blocks}.")
    corrected = {label: _corrected(before[label], after[label]) for label in other}
    yield from _each_or_all(other, corrected, "Readings that were corrected: {blocks}.")
    if {one["id"] for one in was["calibrations"]} != {one["id"] for one in now["calibrations"]}:
        yield Phrase("The stresses use another calibration of the press.")


def _each_or_all(labels: Sequence[str], told: Mapping[str, Phrase | None], together: str) -> Iterator[Phrase]:
    """Yield what happened to each block and why; many blocks, and those without a reason, are named together."""
    each = {label: phrase for label in labels if (phrase := told.get(label))} if len(labels) <= MOST_TOLD else {}
    yield from each.values()
    if rest := tuple(label for label in labels if label not in each):
        yield Phrase(together, {"blocks": rest})


def _uncounted(reading: Any) -> Phrase | None:
    if not reading.get("because"):
        return None
    values = {"block": reading["block"], "because": reading["because"].rstrip(". ")}
    return Phrase("{block} no longer counts. Reason: {because}.", values)


def _corrected(was: Any, now: Any) -> Phrase | None:
    """Return what a block was corrected from and to, and why; nothing where the reason is at its soak."""
    # A result issued long ago kept neither.
    if len(now.get("earlier", ())) <= len(was.get("earlier", ())):
        return None
    old, new = was["crushed"].get("gauge"), now["crushed"].get("gauge")
    values = {"block": now["block"], "because": now["earlier"][-1]["because"].rstrip(". ")}
    if old == new or not (old and new):
        return Phrase("{block} was corrected. Reason: {because}.", values)
    return Phrase("{block}: {old} was corrected to {new}. Reason: {because}.", {**values, "old": old, "new": new})


def _counted(result: Any) -> dict[str, Any]:
    return {one["block"]: one for one in result["readings"] if one["fate"] == "counted"}


def _typed(reading: Any) -> tuple[Any, ...]:
    crushed = reading["crushed"]
    hours = crushed["water_hours"]
    return (
        *(crushed[key] for key in ("outcome", "gauge_mpa", "length_mm", "width_mm", "crushed_at")),
        # To a tenth of an hour, as it is shown.
        hours if hours is None else round(hours, 1),
    )


def _strengths(was: Any, now: Any) -> Iterator[Phrase]:
    before = {(one["said"]["recipe"], one["said"]["condition"]): one["said"] for one in was["groups"]}
    for one in now["groups"]:
        said = one["said"]
        old = before.get((said["recipe"], said["condition"]))
        if not old or not said["median_mpa"] or not old["median_mpa"]:
            continue
        step = max(_step(was, said), _step(now, said))
        # What is less than a step of the gauge is no change that anybody could read.
        if abs(said["median_mpa"] - old["median_mpa"]) >= step:
            yield Phrase(
                "The strength of {recipe}, {condition}, was {old_mpa} and is {new_mpa}.",
                {
                    "recipe": said["recipe"],
                    "condition": condition_phrase(said["condition"]),
                    "old_mpa": old["median_mpa"],
                    "old_mpa_step": step,
                    "new_mpa": said["median_mpa"],
                    "new_mpa_step": step,
                },
            )


def _step(result: Any, said: Any) -> float:
    """Return one step of the coarsest gauge at which blocks of a group were read, as stress on their face."""
    crushed = [
        one["crushed"]
        for one in result["readings"]
        if (one["recipe"], one["condition"]) == (said["recipe"], said["condition"])
    ]
    steps = [one["stress"]["graduation_mpa"] for one in crushed if one and one["stress"]]
    return max(steps, default=FINEST_MPA)


def _order(was: Any, now: Any) -> Iterator[Phrase]:
    before = {one["recipe"]: one["verdict"] for one in was["order"]}
    for one in now["order"]:
        old = before.get(one["recipe"], "not tested")
        if old != one["verdict"]:
            values = {"recipe": one["recipe"], "old": Phrase(old), "new": Phrase(one["verdict"])}
            yield Phrase("{recipe} was: {old}; it is now: {new}.", values)
    if was["recommended"] != now["recommended"]:
        none = Phrase("none")
        values = {"old": was["recommended"] or none, "new": now["recommended"] or none}
        yield Phrase("The recipe to use was {old} and is {new}.", values)


def _rules(was: Any, now: Any) -> Iterator[Phrase]:
    if _limits(was) != _limits(now):
        yield Phrase("The limits that the recipes must meet have changed.")
    if _read_on(was) != _read_on(now):
        yield Phrase("The owner has noted since that the text of a rule was read.")
    shown = ("assurance", "batch_sd", "median_mpa", "scatter", "spread")
    if any(not _same(was["model"][key], now["model"][key]) for key in shown):
        yield Phrase("The expected strength, or the chance of passing asked for, has changed.")
    if not _same(was["model"]["margin"], now["model"]["margin"]):
        yield Phrase("The difference up to which two recipes count as equally strong has changed.")
    if was["model"]["engine"] != now["model"]["engine"]:
        yield Phrase("It was worked out by a newer version.")


def _read_on(result: Any) -> dict[str, str | None]:
    return {one["key"]: one["confirmed_on"] for one in result["criteria"]}


def _limits(result: Any) -> list[dict[str, Any]]:
    """Return the limits; one issued before there were shape factors asked for none."""
    return [{"shape": "", "shape_standing": "", "by": "", **one} for one in result["asked"]]


def _tests(was: Any, now: Any) -> Iterator[Phrase]:
    """Yield what changed of tests besides crushing; results issued before there were any have none."""
    before, after = _endured(was), _endured(now)
    other = tuple(sorted({block for block, _ in before ^ after}))
    if other:
        yield Phrase(
            "Bending, water and wear tests that were added, corrected or excluded: {blocks}.", {"blocks": other}
        )
    if "demands" in was and [_asked(one) for one in was["demands"]] != [_asked(one) for one in now["demands"]]:
        yield Phrase("The limits on bending, water and wear tests have changed.")


def _endured(result: Any) -> set[tuple[str, str]]:
    return {(one["block"], canonical(one)) for one in result.get("endured", ())}


def _asked(demand: Any) -> dict[str, Any]:
    return {key: value for key, value in demand.items() if key != "verdicts"}


def _costs(was: Any, now: Any) -> Iterator[Phrase]:
    before = {one["label"]: _amounts(one) for one in was["recipes"]}
    other = [one["label"] for one in now["recipes"] if before.get(one["label"], _amounts(one)) != _amounts(one)]
    if other:
        yield Phrase("Cost or carbon of {recipes} has changed.", {"recipes": tuple(other)})


def _amounts(recipe: Any) -> tuple[Any, ...] | None:
    cost = recipe["cost"]
    return tuple(cost[key] for key in ("dry_mass_kg", "cost_per_block", "carbon_kg_per_block")) if cost else None


def _same(one: float, other: float) -> bool:
    return abs(one - other) <= SAME * max(abs(one), abs(other))
