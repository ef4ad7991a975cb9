"""Undo of corrections: each stands again as it was, with both values in the history and the reason "slip"."""

import re
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from uuid import UUID

import pytest
from sqlmodel import Session

from service.desk import closed_days, photos
from service.desk.block_tests import recording
from service.desk.block_tests.given import Wetting
from service.desk.crushing import press, reading, sheet
from service.desk.crushing.given import Given
from service.desk.curing import acts
from service.desk.mixing import at_press, cancelling, pressing, sheets, weighing
from service.desk.mixing.pressing import Pressed
from service.desk.plan import recipes, repeat
from service.desk.plan import sheet as plans
from service.desk.today import page, undo
from service.desk.today._undo_list import CALLED, CORRECTED
from service.errors import Conflict
from service.records import crushings
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.desk.test_repeat_plan import another_job
from tests.mixes import a_ready_job, kg, mm, mpa

SOAKED = {"condition": "soaked", "soak_hours": 24.0}
DESK = Path(closed_days.__file__).parent
ACT = re.compile(r'@act\(\s*"([a-z_.]+)"')
WHOLE = Pressed(charge_kg=kg(2.62), heights_mm=(mm(99), mm(101), mm(100), mm(100)), wet_mass_kg=kg(2.6))


def undo_last(cast: Cast) -> None:
    undo.undo(cast.tess, position=page.page(cast.tess).slips[0].position)


def spoiled(faces: str) -> Given:
    return Given("spoiled", "air-dry", spoiled_because="dropped", orientation="flat", faces=faces)


def test_every_act_of_the_bench_is_undone_by_a_tap() -> None:
    rooms = ("batch.", "block.", "crushing.", "curing.", "enduring.", "moisture.", "photo.")
    acts_of_desks = (name for path in DESK.rglob("*.py") for name in ACT.findall(path.read_text("utf-8")))
    of_the_bench = {name for name in acts_of_desks if name.startswith(rooms)} - {"photo.show"}
    assert of_the_bench == {*CALLED, *CORRECTED} - {"plan.repeat"}


def test_a_batch_taken_back_is_there_again_as_it_was(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe = job.plan()
    batch = job.begin(recipe, mixer_kg=kg(8))
    before = sheets.batch(cast.tess, batch_id=batch)
    cancelling.cancel_batch(cast.tess, batch_id=batch, because="begun twice")
    undo_last(cast)
    assert sheets.batch(cast.tess, batch_id=batch) == before
    # Once another stands in its place it does not come back.
    cancelling.cancel_batch(cast.tess, batch_id=batch, because="begun twice")
    job.begin(recipe)
    slip = next(one for one in page.page(cast.tess).slips if one.act == "batch.cancel")
    with pytest.raises(Conflict):
        undo.undo(cast.tess, position=slip.position)


def test_a_repeated_plan_is_taken_back_until_something_is_done_with_it(cast: Cast) -> None:
    first = a_ready_job(cast)
    first.plan()
    first.plan(dose=0.08)
    job_id = another_job(cast)
    repeat.repeat(cast.tess, job_id=job_id, number=1)
    slip = page.page(cast.tess).slips[0]
    assert (slip.called, slip.what) == ("Planned", "as job 1: A, B")
    undo.undo(cast.tess, position=slip.position)
    assert plans.sheet(cast.tess, job_id=job_id).recipes == []
    repeat.repeat(cast.tess, job_id=job_id, number=1)
    recipes.drop_recipe(cast.tess, recipe_id=plans.sheet(cast.tess, job_id=job_id).recipes[0].id, because="not wanted")
    with pytest.raises(Conflict):
        undo_last(cast)


def test_a_corrected_reading_and_one_withdrawn_stand_again(cast: Cast) -> None:
    block_id = pressed_job(cast)["1-A1-1"]
    cast.clock.forward(days=7)
    done = reading.record(cast.tess, block_id=block_id, given=spoiled("bare"))
    cast.clock.forward(minutes=1)
    reading.correct(cast.tess, crushing_id=done.id, given=spoiled("capped"), because="misread")
    undo_last(cast)
    block = sheet.sheet(cast.tess, block_id=block_id)
    with Session(cast.stores.read) as session:
        standing = crushings.standing_of(session, [block_id])[block_id]
    assert block.standing and standing.faces == "bare"
    assert [one.ended_because for one in block.earlier] == ["slip", "misread"]
    cast.clock.forward(minutes=1)
    reading.withdraw(cast.tess, crushing_id=block.standing.id, because="wrong block")
    assert sheet.sheet(cast.tess, block_id=block_id).standing is None
    undo_last(cast)
    assert sheet.sheet(cast.tess, block_id=block_id).standing


def test_a_withdrawn_reading_stays_so_when_the_block_was_crushed_since(cast: Cast) -> None:
    block_id = pressed_job(cast)["1-A1-1"]
    cast.clock.forward(days=7)
    done = reading.record(cast.tess, block_id=block_id, given=spoiled("bare"))
    reading.withdraw(cast.tess, crushing_id=done.id, because="wrong block")
    position = page.page(cast.tess).slips[0].position
    reading.record(cast.olu, block_id=block_id, given=spoiled("capped"))
    with pytest.raises(Conflict, match="Something else"):
        undo.undo(cast.tess, position=position)


def test_times_in_the_water_and_under_covers_are_as_before(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    acts.cover(cast.tess, batch_id=ids["batch"])
    covered = cast.clock.now
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    began = cast.clock.now
    cast.clock.forward(hours=3)
    stay = sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).soaks[0]
    earlier = began - timedelta(hours=2)
    acts.correct_soak(cast.tess, soak_id=stay.id, started_at=earlier, ended_at=None, because="misread")
    undo_last(cast)
    acts.correct_cover(
        cast.tess, batch_id=ids["batch"], covered_at=covered + timedelta(hours=1), uncovered_at=None, because="misread"
    )
    undo_last(cast)
    block = sheet.sheet(cast.tess, block_id=ids["1-A1-1"])
    assert (block.soaks[0].started_at, block.covered_at) == (began, covered)
    assert sorted(one.because for one in block.corrections if one.subject == "Soak") == ["misread", "slip"]


def test_a_correction_that_another_went_on_from_is_not_undone(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.cover(cast.tess, batch_id=ids["batch"])
    at = cast.clock.now
    cast.clock.forward(hours=4)
    given = {"batch_id": ids["batch"], "uncovered_at": None, "because": "misread"}
    acts.correct_cover(cast.tess, covered_at=at + timedelta(hours=1), **given)
    position = page.page(cast.tess).slips[0].position
    acts.correct_cover(cast.olu, covered_at=at + timedelta(hours=2), **given)
    with pytest.raises(Conflict, match="Something else"):
        undo.undo(cast.tess, position=position)


def test_a_lost_block_that_was_found_is_lost_again(cast: Cast) -> None:
    block_id = pressed_job(cast)["1-A1-1"]
    acts.lose(cast.tess, block_id=block_id, because="fell")
    acts.find_again(cast.tess, block_id=block_id, because="was there")
    undo_last(cast)
    block = sheet.sheet(cast.tess, block_id=block_id)
    assert (block.lost_because, block.lost_at) == ("fell", cast.clock.now)


def test_a_note_and_a_test_weighed_again_are_taken_back(cast: Cast) -> None:
    block_id = pressed_job(cast)["1-A1-1"]
    reading.add_note(cast.tess, block_id=block_id, remark="chipped")
    undo_last(cast)
    assert sheet.sheet(cast.tess, block_id=block_id).remark is None
    cast.clock.forward(days=1)
    given = Wetting(manner="under water", state_before="oven-dry", before_kg=kg(2.0))
    recording.record(cast.tess, block_id=block_id, given=given)
    cast.clock.forward(minutes=5)
    recording.weigh_again(cast.tess, block_id=block_id, outcome="fell apart")
    undo_last(cast)
    cast.clock.forward(minutes=1)
    # It waits for its second weighing again.
    recording.weigh_again(cast.tess, block_id=block_id, outcome="weighed", after_kg=kg(2.2))


def test_a_gauge_closed_by_a_slip_is_open_again_and_its_zero_as_it_was(cast: Cast) -> None:
    gauge_id = press_with_line(cast)
    opened = press.open_press_session(cast.tess, gauge_id=gauge_id, zero_before_mpa=mpa(0.5)).id
    press.close_press_session(cast.tess, press_session_id=opened, zero_after_mpa=mpa(0.5))
    undo_last(cast)
    given = {"press_session_id": opened, "zero_after_mpa": None, "because": "misread"}
    press.correct_press_session(cast.tess, zero_before_mpa=mpa(1.0), **given)
    undo_last(cast)
    press.correct_press_session(cast.tess, zero_before_mpa=mpa(0.5), **given)
    # Nothing changed: there is nothing to be undone of it.
    assert "Zero corrected" not in {slip.called for slip in page.page(cast.tess).slips[:1]}


def test_what_was_weighed_and_pressed_says_again_what_it_said(cast: Cast) -> None:
    job = a_ready_job(cast)
    batch = job.mix(job.plan(batches=1))
    part = sheets.batch(cast.tess, batch_id=batch).parts[0]
    weighing.correct_weighing(cast.tess, batch_id=batch, weighed=[(part.id, kg(9.0))], because="misread")
    undo_last(cast)
    assert sheets.batch(cast.tess, batch_id=batch).parts[0].weighed_kg == part.weighed_kg
    block_id = job.press(batch, 1, pressed=WHOLE)
    better = replace(WHOLE, wet_mass_kg=kg(2.65), heights_mm=(*WHOLE.heights_mm[:3], mm(102)))
    pressing.correct_block(cast.tess, block_id=block_id, pressed=better, because="misread")
    undo_last(cast)
    told = at_press.block_form(cast.tess, block_id=block_id)
    assert told.typed["wet_mass_kg"]["text"] == "2.6"
    assert [height["text"] for height in told.heights] == ["99", "101", "100", "100"]


def test_a_photograph_is_taken_away_and_brought_back(cast: Cast) -> None:
    block_id: UUID = pressed_job(cast)["1-A1-1"]
    sha256 = cast.stores.files.put(b"a picture")
    photos.add(cast.tess, of="block", thing_id=block_id, sha256=sha256, size=9)
    undo_last(cast)
    assert photos.album(cast.tess, of="block", thing_id=block_id).photos == ()
