"""Closed days at the desk: who sets them, and what the plan, Today, Curing and the calendar say of them."""

from datetime import date, time, timedelta
from uuid import uuid4

import pytest

from service.desk import closed_days
from service.desk.curing import queue as curing
from service.desk.plan import days, sheet
from service.desk.plan.days import RecipeDays
from service.desk.today import feed, page
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.web.authentication import sha256
from tests.bench_rows import pressed_job
from tests.cast import Cast
from tests.mixes import DRY, Ready, a_ready_job, hours
from tests.mixes import days as in_days

# The cast's clock begins on Monday 1 March 2027 at 9:00 in Denver; the 7th and the 14th are Sundays.
TUESDAY, SUNDAY = date(2027, 3, 2), date(2027, 3, 7)


def close_sundays(cast: Cast) -> None:
    closed_days.set_hours(cast.olu, closed_weekdays=["7"], opens_at=time(7), closes_at=time(17))


def remarks(cast: Cast, job: Ready) -> list[RecipeDays]:
    recipes = sheet.sheet(cast.tess, job_id=job.job_id).recipes
    return list(days.of_plan(cast.tess, recipes=recipes).values())


def test_the_owner_sets_week_hours_and_single_days(cast: Cast) -> None:
    close_sundays(cast)
    done = closed_days.close_on(cast.olu, day=date(2027, 3, 19), name=" stocktaking ")
    found = closed_days.opening(cast.olu)
    assert (found.closed_weekdays, found.opens_at, found.closes_at) == (("7",), "07:00", "17:00")
    assert [(one.day, one.name) for one in found.days] == [(date(2027, 3, 19), "stocktaking")]
    with pytest.raises(Conflict):
        closed_days.close_on(cast.olu, day=date(2027, 3, 19), name="again")
    closed_days.open_on(cast.olu, closed_day_id=done.id)
    assert closed_days.opening(cast.olu).days == []
    with pytest.raises(NotFound):
        closed_days.open_on(cast.olu, closed_day_id=done.id)
    with pytest.raises(Forbidden):
        closed_days.set_hours(cast.tess, closed_weekdays=[], opens_at=None, closes_at=None)


@pytest.mark.parametrize(
    ("closed", "opens", "closes", "field"),
    [
        ("1234567", None, None, "closed_weekdays"),
        ("8", None, None, "closed_weekdays"),
        ("7", time(7), None, "closes_at"),
        ("7", time(17), time(7), "closes_at"),
    ],
)
def test_a_week_that_makes_no_sense_is_refused_at_its_field(
    cast: Cast, closed: str, opens: time | None, closes: time | None, field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        closed_days.set_hours(cast.olu, closed_weekdays=list(closed), opens_at=opens, closes_at=closes)
    assert set(refused.value.fields) == {field}
    with pytest.raises(Invalid):
        closed_days.close_on(cast.olu, day=date(2027, 2, 27), name="past")


def test_the_plan_offers_the_nearest_days_and_one_of_them_is_taken(cast: Cast) -> None:
    job = a_ready_job(cast)
    # Cast, then crushed five days later: mixed on a Tuesday that is a Sunday.
    job.plan(batches=1, groups=(DRY.__class__("as cured", in_days(5), 5, hours(6)),), mix_on=TUESDAY)
    assert remarks(cast, job) == []
    close_sundays(cast)
    (told,) = remarks(cast, job)
    (group,) = told.groups
    assert [(one.do, one.at.date(), one.still_counts) for one in group.falls] == [("crush", SUNDAY, False)]
    assert (group.ages, told.mix_closed) == ([], False)
    # Monday to Saturday, those that lead to no Sunday and are not past: the three nearest to Tuesday the 2nd.
    assert told.days == [date(2027, 3, 1), date(2027, 3, 3), date(2027, 3, 4)]
    recipe = sheet.sheet(cast.tess, job_id=job.job_id).recipes[0]
    days.set_mix_day(cast.tess, recipe_id=recipe.id, mix_on=told.days[1])
    assert remarks(cast, job) == []


def test_an_age_within_the_tolerance_is_offered_and_taken_and_no_other(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe_id = job.plan(batches=1, groups=(DRY.__class__("as cured", in_days(5), 5, hours(24)),), mix_on=TUESDAY)
    close_sundays(cast)
    (told,) = remarks(cast, job)
    assert told.groups[0].ages == [4, 6]
    wanted = {"recipe_id": recipe_id, "condition": "as cured", "age_days": 5.0}
    with pytest.raises(Invalid):
        days.set_age(cast.tess, **wanted, new_age_days=7.0)
    days.set_age(cast.tess, **wanted, new_age_days=6.0)
    assert remarks(cast, job) == []
    job.begin(recipe_id)
    with pytest.raises(Conflict):
        days.set_mix_day(cast.tess, recipe_id=recipe_id, mix_on=TUESDAY)


def test_without_a_planned_day_the_good_ones_are_told(cast: Cast) -> None:
    job = a_ready_job(cast)
    job.plan(batches=1, groups=(DRY.__class__("as cured", in_days(5), 5, hours(6)),))
    close_sundays(cast)
    (told,) = remarks(cast, job)
    # Today is a Monday; Tuesdays lead to Sundays.
    assert (told.mix_on, told.days) == (None, [date(2027, 3, 1), date(2027, 3, 3), date(2027, 3, 4)])


def test_a_day_to_mix_that_is_closed_says_so_on_the_plan_and_on_today(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe_id = job.plan(batches=1, groups=(DRY,), mix_on=SUNDAY)
    close_sundays(cast)
    (told,) = remarks(cast, job)
    assert told.mix_closed and told.days
    cast.clock.forward(days=6)
    (task,) = page.page(cast.tess).tasks
    assert (task.recipe_id, task.closed and task.closed.day) == (recipe_id, SUNDAY)


def test_today_and_curing_say_by_when_it_has_to_be_done(cast: Cast) -> None:
    # Pressed on Monday at 9:00; six days and twelve hours either side end on Sunday at 21:00.
    pressed_job(cast, groups=({"condition": "air-dry", "age_days": 6.0, "tolerance_hours": 12.0},))
    close_sundays(cast)
    cast.clock.forward(days=5, hours=12)
    (task,) = page.page(cast.tess).tasks
    assert task.closed and (task.closed.day, task.closed.do_by) == (SUNDAY, None)
    cast.clock.forward(hours=-12)
    (later,) = page.page(cast.tess).later
    assert later.closed and later.closed.day == SUNDAY
    (waiting,) = curing.queue(cast.tess).later
    assert waiting.closed == later.closed


def test_what_may_still_be_done_on_saturday_comes_before_what_has_until_sunday_noon(cast: Cast) -> None:
    wide = {"condition": "air-dry", "age_days": 6.0, "tolerance_hours": 24.0}
    pressed_job(cast, groups=(wide,), number=1)
    close_sundays(cast)
    cast.clock.forward(days=5, hours=1)
    (task,) = page.page(cast.tess).tasks
    # The window ends on Monday at 9:00, when the shop is open: nothing is to be said.
    assert task.closed is None
    closed_days.close_on(cast.olu, day=date(2027, 3, 8), name="stocktaking")
    (task,) = page.page(cast.tess).tasks
    assert task.closed and (task.closed.name, task.closed.do_by) == (
        "stocktaking",
        cast.clock.now + timedelta(hours=7),
    )


def test_a_late_task_says_nothing_of_closed_days(cast: Cast) -> None:
    pressed_job(cast, groups=({"condition": "air-dry", "age_days": 6.0, "tolerance_hours": 6.0},))
    close_sundays(cast)
    cast.clock.forward(days=7)
    assert [task.closed for task in page.page(cast.tess).tasks] == [None]


def test_the_calendar_has_the_closed_days(cast: Cast) -> None:
    close_sundays(cast)
    closed_days.close_on(cast.olu, day=date(2027, 3, 19), name="stocktaking")
    pressed_job(cast, groups=({"condition": "air-dry", "age_days": 6.0, "tolerance_hours": 12.0},))
    feed.open_feed(cast.tess, token_sha256=sha256("a"), whole=False)
    found = feed.feed(cast.nobody, token_sha256=sha256("a"))
    assert found.opening.closed_days == {date(2027, 3, 19): "stocktaking"}
    assert [task.closed and task.closed.day for task in found.tasks] == [SUNDAY]


def test_a_customer_moves_no_plan(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe_id = job.plan(batches=1)
    with pytest.raises(Forbidden):
        days.set_mix_day(cast.cy, recipe_id=recipe_id, mix_on=TUESDAY)
    with pytest.raises(NotFound):
        days.set_mix_day(cast.tess, recipe_id=uuid4(), mix_on=TUESDAY)
