"""Blocks set aside for another test in the plan: pressed with the others, due under its words, never crushed."""

from collections import Counter
from typing import Any
from uuid import UUID

import pytest

from service.desk import labels, scanned
from service.desk.block_tests import recording
from service.desk.block_tests.given import Wetting
from service.desk.crushing import queue, reading
from service.desk.crushing import sheet as sheets
from service.desk.crushing.given import Given
from service.desk.curing import acts
from service.desk.curing import queue as curing
from service.desk.mixing import at_press
from service.desk.plan import recipes, repeat, sheet
from service.desk.results import live
from service.desk.today import page
from service.errors import Conflict, Invalid
from tests.bench_rows import pressed_job
from tests.cast import Cast
from tests.desk.test_repeat_plan import another_job
from tests.mixes import DRY, GroupGiven, a_ready_job, days, hours, kg

ASIDE = GroupGiven("as cured", days(7), 2, hours(6), test="absorption")
BENT = GroupGiven("as cured", days(7), 1, hours(6), test="bending")


@pytest.fixture
def ids(cast: Cast) -> dict[str, Any]:
    """Return the ids of three blocks to crush and three set aside for absorption, due now."""
    found = pressed_job(cast, groups=({"condition": "as cured"}, {"condition": "as cured", "test": "absorption"}))
    cast.clock.forward(days=7)
    return found


def wet(cast: Cast, block_id: UUID, **more: Any) -> None:
    given = Wetting(manner="under water", state_before="as cured", before_kg=kg(2.0), **more)
    recording.record(cast.tess, block_id=block_id, given=given)


def test_the_plan_counts_them_with_the_others_and_tells_them_apart(cast: Cast) -> None:
    job = a_ready_job(cast)
    job.plan(groups=(DRY,))
    before = sheet.sheet(cast.tess, job_id=job.job_id)
    recipe = job.plan(groups=(DRY, ASIDE, BENT))
    after = sheet.sheet(cast.tess, job_id=job.job_id)
    (line,) = [one for one in after.recipes if one.id == recipe]
    assert [(one.test, one.name, one.blocks) for one in line.groups] == [
        (None, "as cured, 7 days", 5), ("absorption", "absorption, 7 days", 2), ("bending", "bending, 7 days", 1),
    ]  # fmt: skip
    assert (line.blocks, len(line.drawn)) == (8, 8)
    # Each recipe is two batches with a trial fill each: 5 + 2 blocks, and 8 + 2 with those set aside.
    kg_before, kg_after = before.materials[0].needed_kg, after.materials[0].needed_kg
    assert kg_after / kg_before == pytest.approx((7 + 10) / 7)
    assert after.detectable_difference.planned == (5,)


def test_a_test_stands_in_a_plan_once_and_is_not_soaked_first(cast: Cast) -> None:
    job = a_ready_job(cast)
    with pytest.raises(Invalid, match="for this test already"):
        job.plan(groups=(DRY, ASIDE, ASIDE))
    with pytest.raises(Invalid, match="has its own water"):
        job.plan(groups=(GroupGiven("soaked", days(7), 2, hours(6), hours(4), test="erosion"),))


def test_a_plan_that_is_changed_or_repeated_keeps_them(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe = job.plan(groups=(DRY, ASIDE))
    recipes.change_recipe(cast.tess, recipe_id=recipe, asked=job.asked(groups=(DRY, ASIDE, BENT)))
    other = another_job(cast)
    repeat.repeat(cast.tess, job_id=other, number=1)
    (line,) = sheet.sheet(cast.tess, job_id=other).recipes
    assert [(one.test, one.blocks) for one in line.groups] == [(None, 5), ("absorption", 2), ("bending", 1)]


def test_they_are_due_under_the_words_of_their_test_and_never_at_the_press(cast: Cast, ids: dict[str, Any]) -> None:
    tasks = {task.do: task for task in page.page(cast.tess).tasks}
    assert {(one.do, one.test, one.count) for one in tasks.values()} == {("crush", "", 3), ("test", "absorption", 3)}
    waits = curing.queue(cast.tess)
    assert [(one.test, len(one.blocks)) for one in waits.test] == [("absorption", 3)]
    assert sum(len(one.blocks) for one in waits.crush) == queue.queue(cast.tess).total == 3
    aside = ids["1-A1-4"]
    assert scanned.leads_to(cast.tess, thing_id=aside) == scanned.LeadsTo("test", aside, "absorption")
    assert labels.of_block(cast.tess, block_id=aside)[0].lines[0] == "absorption, 7 days"
    assert sheets.sheet(cast.tess, block_id=aside).test == "absorption"


def test_they_are_neither_crushed_nor_soaked(cast: Cast, ids: dict[str, Any]) -> None:
    given = Given("spoiled", "air-dry", spoiled_because="damaged before", orientation="flat", faces="bare")
    with pytest.raises(Conflict, match="1-A1-4 is for the test absorption, so it is not crushed"):
        reading.record(cast.tess, block_id=ids["1-A1-4"], given=given)
    with pytest.raises(Invalid, match="1-A1-4 is for the test absorption, not soaked"):
        acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-4"]])


def test_once_its_test_has_begun_a_block_waits_no_more(cast: Cast, ids: dict[str, Any]) -> None:
    wet(cast, ids["1-A1-4"])
    tasks = [(one.do, one.test, one.count) for one in page.page(cast.tess).tasks]
    assert sorted(tasks) == [("crush", "", 3), ("test", "absorption", 2), ("weigh again", "absorption", 1)]


def test_the_engine_is_given_the_crushed_ones_alone(cast: Cast) -> None:
    job = a_ready_job(cast)
    batch = job.mix(job.plan(groups=(DRY, ASIDE), batches=1))
    blocks = [job.press(batch, position) for position in range(1, 8)]
    aside = next(one for one in blocks if sheets.sheet(cast.tess, block_id=one).test)
    acts.lose(cast.tess, block_id=aside, because="It was dropped.")
    result = live.live(cast.tess, job_id=job.job_id).result
    assert [one.name for one in result.conditions] == ["as cured, 7 days"]
    fates = Counter((one.condition, one.fate) for one in result.readings)
    assert fates == {
        ("as cured, 7 days", "waiting"): 5, ("absorption, 7 days", "other test"): 1, ("absorption, 7 days", "lost"): 1,
    }  # fmt: skip
    # One that was lost is pressed again, for the same test.
    (again,) = at_press.press_form(cast.tess, batch_id=batch, position=None).open_for_lost
    assert again.name == "absorption, 7 days"
