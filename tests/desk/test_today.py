"""Today at the desk: what comes first, in the words of the act, and what was done by a slip is taken back."""

from datetime import timedelta
from uuid import UUID

import pytest

from service.desk import scanned
from service.desk.crushing import reading, sheet
from service.desk.crushing.given import Given
from service.desk.curing import acts
from service.desk.mixing import sheets, weighing
from service.desk.today import page, undo
from service.desk.today.page import Today
from service.errors import Conflict, NotFound
from tests.bench_rows import pressed_job
from tests.cast import Cast
from tests.mixes import a_ready_job, kg

DRY = {"condition": "air-dry"}
SOAKED = {"condition": "soaked", "soak_hours": 24.0}


def seen(cast: Cast) -> Today:
    return page.page(cast.tess)


def what(today: Today) -> list[tuple[str, str, int, int]]:
    return [(task.do, task.when, task.job_number, task.count) for task in today.tasks]


def undo_last(cast: Cast) -> None:
    undo.undo(cast.tess, position=seen(cast).slips[0].position)


def of_spoiled() -> Given:
    return Given("spoiled", "air-dry", spoiled_because="damaged before", orientation="flat", faces="bare")


def test_a_technician_is_led_from_mixing_to_the_covers(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe = job.plan(batches=1)
    assert what(seen(cast)) == [("mix", "now", 1, 10)]
    batch = job.begin(recipe)
    assert what(seen(cast)) == [("weigh", "now", 1, 0)]
    asked = sheets.batch(cast.tess, batch_id=batch)
    weighed = [(part.id, kg(part.planned_kg)) for part in asked.parts]
    weighing.weigh(cast.tess, batch_id=batch, weighed=weighed, water_kg=kg(asked.water_planned_kg))
    assert what(seen(cast)) == [("press", "now", 1, 10)]
    for position in range(1, 11):
        job.press(batch, position)
    assert what(seen(cast)) == [("cover", "now", 1, 10)]
    acts.cover(cast.tess, batch_id=batch)
    assert what(seen(cast)) == []
    # The soak of 4 h begins at seven days less six hours less four: the cover comes off with it.
    cast.clock.forward(days=7, hours=-10)
    assert {(task.do, task.when) for task in seen(cast).tasks} == {("soak", "now"), ("uncover", "now")}


def test_late_comes_first_and_what_comes_later_says_when(cast: Cast) -> None:
    pressed_job(cast, number=1)
    cast.clock.forward(days=1)
    pressed_job(cast, number=2, of="dov")
    cast.clock.forward(days=6, hours=12)
    today = seen(cast)
    # Six hours either side of the seventh day: job 1 is over its window by six hours, job 2 is due in six.
    assert (what(today), today.late) == ([("crush", "late", 1, 3)], 1)
    assert [(task.do, task.job_number) for task in today.later] == [("crush", 2)]
    assert today.next_at == cast.clock.now + timedelta(hours=6)


def test_the_blocks_of_a_job_are_crushed_in_the_order_drawn_by_lot_whichever_is_in_the_water(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(DRY, SOAKED))
    wet = [ids[f"1-A1-{n}"] for n in (4, 5, 6)]
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=wet)
    cast.clock.forward(days=1)
    (task,) = [task for task in seen(cast).tasks if task.do == "crush"]
    turns = {block.id: sheet.sheet(cast.tess, block_id=block.id).crush_order for block in task.blocks}
    assert len(turns) == 6
    assert list(turns.values()) == sorted(turns.values())


def test_a_soak_is_undone_and_the_history_says_that_it_was_a_slip(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"], ids["1-A1-2"]])
    assert [slip.what for slip in seen(cast).slips] == ["1-A1-1, 1-A1-2"]
    undo_last(cast)
    block = sheet.sheet(cast.tess, block_id=ids["1-A1-1"])
    assert (block.in_water, block.soaks) == (False, [])
    assert [(one.subject, one.because) for one in block.corrections] == [("Soak", "slip")]
    assert (what(seen(cast)), seen(cast).slips) == ([("soak", "now", 1, 3)], [])


def test_out_of_the_water_and_the_covers_are_undone(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    batch = sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).batch_id
    acts.cover(cast.tess, batch_id=batch)
    cast.clock.forward(days=6)
    acts.uncover(cast.tess, batch_id=batch)
    undo_last(cast)
    assert sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).uncovered_at is None
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    cast.clock.forward(minutes=5)
    acts.take_out(cast.tess, block_ids=[ids["1-A1-1"]])
    undo_last(cast)
    assert sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).in_water


def test_a_crushing_is_undone_and_a_block_out_of_the_water_is_in_it_again(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    block_id = ids["1-A1-1"]
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[block_id])
    cast.clock.forward(days=1)
    reading.record(cast.tess, block_id=block_id, given=of_spoiled())
    undo_last(cast)
    block = sheet.sheet(cast.tess, block_id=block_id)
    assert block.standing is None and block.in_water
    assert [one.ended_because for one in block.earlier] == ["slip"]


def test_what_was_pressed_weighed_and_begun_is_undone_in_turn(cast: Cast) -> None:
    job = a_ready_job(cast)
    recipe = job.plan(batches=1)
    batch = job.mix(recipe)
    first = job.press(batch, 1)
    undo_last(cast)
    with pytest.raises(NotFound):
        sheet.sheet(cast.tess, block_id=first)
    again = job.press(batch, 1)
    assert sheet.sheet(cast.tess, block_id=again).label == "1-A1-1"
    undo_last(cast)
    undo_last(cast)
    told = sheets.batch(cast.tess, batch_id=batch)
    assert (told.mixed_at, told.water_kg) == (None, None)
    assert all(change.because == "slip" for change in told.changes)
    undo_last(cast)
    assert what(seen(cast)) == [("mix", "now", 1, 10)]


def test_after_ten_minutes_and_by_others_nothing_is_undone(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    position = seen(cast).slips[0].position
    with pytest.raises(NotFound):
        undo.undo(cast.olu, position=position)
    cast.clock.forward(minutes=11)
    assert seen(cast).slips == []
    with pytest.raises(Conflict, match="more than ten minutes"):
        undo.undo(cast.tess, position=position)


def test_what_others_went_on_with_is_not_undone(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    position = seen(cast).slips[0].position
    cast.clock.forward(minutes=1)
    acts.take_out(cast.olu, block_ids=[ids["1-A1-1"]])
    with pytest.raises(Conflict, match="Something else"):
        undo.undo(cast.tess, position=position)


def test_a_label_leads_to_the_act_that_is_due(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(DRY, SOAKED))

    def leads(label: str) -> tuple[str, UUID] | None:
        found = scanned.by_label(cast.tess, label=label)
        return (found.act, found.id) if found else None

    assert leads("1-a1-4") == ("block", ids["1-A1-4"])
    cast.clock.forward(days=6)
    assert leads("1-A1-4") == ("soak", ids["1-A1-4"])
    cast.clock.forward(days=1)
    assert leads("1-A1-1") == ("crush", ids["1-A1-1"])
    assert leads("9-Z9-9") is None
    with pytest.raises(NotFound):
        scanned.leads_to(cast.tess, thing_id=ids["job"])


def test_a_batch_and_a_sack_have_labels_too(cast: Cast) -> None:
    job = a_ready_job(cast)
    batch = job.begin(job.plan(batches=1))
    assert scanned.leads_to(cast.tess, thing_id=batch).act == "batch"
    assert scanned.leads_to(cast.tess, thing_id=job.sack).act == "sack"
    found = scanned.by_label(cast.tess, label="J1-A")
    assert found is not None and found.id == job.sack
