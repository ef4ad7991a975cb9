"""Whether what a plan leads to falls on closed days of the shop, which days are better, and the move to one of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from uuid import UUID

from sqlmodel import Session

from service.desk.doorway import STAFF, Caller, Done, act, look
from service.desk.plan._lines import GroupLine, RecipeLine
from service.desk.plan._planned import unmixed
from service.errors import Conflict, Invalid, NotFound
from service.measured.opening_hours import opening_days
from service.records.recipes import RecipeGroup
from service.trade.block.opening_days import FallsClosed, OpeningDays, falls_closed
from service.trade.block.soak_and_crush_steps import Meant

# Of so many days before and after the planned one the nearest good ones are offered.
LOOKED_BEFORE, LOOKED_AFTER = 7, 14
DAYS_OFFERED, AGES_OFFERED = 3, 2


@dataclass(frozen=True)
class GroupOnClosedDays:
    """A group of which an act falls on closed hours, and the ages within its tolerance at which none does."""

    group: GroupLine
    falls: tuple[FallsClosed, ...]
    ages: list[float]


@dataclass(frozen=True)
class RecipeDays:
    """What of a recipe falls on closed days; the days to mix on which nothing does.

    Without a planned day ``mix_on`` is None, and the days alone are told.
    """

    mix_on: date | None
    mix_closed: bool
    mix_closed_name: str
    groups: list[GroupOnClosedDays]
    days: list[date]
    may_move: bool


@look("plan.days", by=STAFF)
def of_plan(session: Session, caller: Caller, *, recipes: Sequence[RecipeLine]) -> dict[UUID, RecipeDays]:
    """Return for each recipe of which something falls on closed days what that is, and what would be better."""
    opening, today = opening_days(session, caller.clock), caller.clock.today
    if opening.never_closed:
        return {}
    open_ones = [one for one in recipes if one.state in ("planned", "begun")]
    found = {one.id: _of_recipe(one, opening, today) for one in open_ones}
    return {recipe_id: days for recipe_id, days in found.items() if days is not None}


def _of_recipe(recipe: RecipeLine, opening: OpeningDays, today: date) -> RecipeDays | None:
    may_move, mix_on = recipe.state == "planned", recipe.mix_on
    if mix_on is None:
        # Any day may be meant: it is told only if one of the next open ones would not do.
        coming = _days(today, 0, LOOKED_AFTER, opening)
        good = [day for day in coming if _all_well(recipe, day, opening)]
        if not may_move or len(good) == len(coming):
            return None
        return RecipeDays(None, False, "", [], good[:DAYS_OFFERED], True)
    groups = [
        GroupOnClosedDays(one, falls, _ages(one, mix_on, opening) if may_move and one.test is None else [])
        for one in recipe.groups
        if (falls := _falls(one, mix_on, opening))
    ]
    mix_closed = opening.is_closed(mix_on)
    if not groups and not mix_closed:
        return None
    near = _days(mix_on, LOOKED_BEFORE, LOOKED_AFTER, opening)
    better = [day for day in near if day >= today and _all_well(recipe, day, opening)]
    better = sorted(better, key=lambda day: (abs((day - mix_on).days), day))[:DAYS_OFFERED]
    named = opening.closed_days.get(mix_on, "")
    return RecipeDays(mix_on, mix_closed, named, groups, sorted(better) if may_move else [], may_move)


def _days(around: date, before: int, after: int, opening: OpeningDays) -> list[date]:
    days = (around + timedelta(days=n) for n in range(-before, after + 1))
    return [day for day in days if not opening.is_closed(day)]


def _all_well(recipe: RecipeLine, day: date, opening: OpeningDays) -> bool:
    return not any(_falls(group, day, opening) for group in recipe.groups)


def _falls(
    group: GroupLine, day: date, opening: OpeningDays, *, age_days: float | None = None
) -> tuple[FallsClosed, ...]:
    age = group.age_days if age_days is None else age_days
    meant = Meant(group.condition, age, group.tolerance_hours, group.soak_hours, group.soak_hours_max)
    return falls_closed(meant, pressed_at=opening.midday(day), opening=opening)


def _ages(group: GroupLine, day: date, opening: OpeningDays) -> list[float]:
    """Return whole days nearest to a group's age, within its tolerance, at which nothing falls on closed hours."""
    within = int(group.tolerance_hours // 24)
    others = (group.age_days + sign * n for n in range(1, min(within, 14) + 1) for sign in (-1, 1))
    well = (age for age in others if age > 0 and not _falls(group, day, opening, age_days=age))
    return [age for _, age in zip(range(AGES_OFFERED), well, strict=False)]


@act("recipe.set_mix_day", by=STAFF)
def set_mix_day(session: Session, caller: Caller, *, recipe_id: UUID, mix_on: date) -> Done:
    """Plan a recipe, of which nothing is mixed yet, for another day."""
    recipe = unmixed(session, caller, recipe_id).recipe
    was, recipe.mix_on = recipe.mix_on, mix_on
    session.add(recipe)
    return Done("recipe", recipe.id, {"label": recipe.label, "mix_on": mix_on, "was": was})


@act("recipe.set_age", by=STAFF)
def set_age(
    session: Session, caller: Caller, *, recipe_id: UUID, condition: str, age_days: float, new_age_days: float
) -> Done:
    """Plan a group of a recipe, of which nothing is mixed yet, for another age within its tolerance."""
    whole = unmixed(session, caller, recipe_id)
    recipe, groups = whole.recipe, whole.groups
    group = _group(groups, condition, age_days)
    if abs(new_age_days - group.age_days) * 24 > group.tolerance_hours:
        raise Invalid("This age is outside the tolerance of the plan.", {"new_age_days": "Change the recipe instead."})
    if any((one.condition, one.age_days, one.test) == (condition, new_age_days, None) for one in groups):
        raise Conflict("Other blocks of this recipe have this age already.")
    group.age_days = new_age_days
    session.add(group)
    return Done("recipe", recipe.id, {"label": recipe.label, "age_days": new_age_days, "was": age_days})


def _group(groups: Iterable[RecipeGroup], condition: str, age_days: float) -> RecipeGroup:
    found = next(
        (one for one in groups if (one.condition, one.age_days, one.test) == (condition, age_days, None)), None
    )
    if found is None:
        raise NotFound("There is no such group in this recipe.")
    return found
