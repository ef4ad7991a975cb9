"""Curing at the desk: the one queue of the shop, the water, the cover, and what is lost."""

from datetime import timedelta
from threading import Barrier, Thread
from uuid import UUID

import pytest
from sqlmodel import Session

from service.desk.crushing import sheet
from service.desk.crushing.given import Given
from service.desk.crushing.reading import record
from service.desk.curing import acts, queue
from service.desk.curing.queue import CuringQueue
from service.desk.doorway import Caller
from service.errors import Conflict, Invalid, NotFound
from service.records.blocks import Block
from tests.bench_rows import pressed_job
from tests.cast import Cast

DRY = {"condition": "air-dry"}
SOAKED = {"condition": "soaked", "soak_hours": 24.0}


def seen(cast: Cast, **of: UUID) -> CuringQueue:
    return queue.queue(cast.tess, **of)


def labels(sets: list[queue.WaitingSet]) -> list[list[str]]:
    return [[block.label for block in one.blocks] for one in sets]


def test_nothing_is_to_be_done_with_blocks_just_pressed(cast: Cast) -> None:
    pressed_job(cast, groups=(DRY, SOAKED))
    view = seen(cast)
    assert (view.waiting, view.soak, view.take_out, view.crush) == (6, [], [], [])
    assert [one.do for one in view.later] == ["soak", "crush"]


def test_blocks_go_into_the_water_together_and_come_out_when_their_day_has_come(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(DRY, SOAKED))
    wet = [ids[f"1-A1-{n}"] for n in (4, 5, 6)]
    cast.clock.forward(days=6)
    assert labels(seen(cast).soak) == [["1-A1-6", "1-A1-5", "1-A1-4"]]
    acts.put_to_soak(cast.tess, block_ids=wet)
    assert seen(cast).soak == []
    cast.clock.forward(days=1)
    view = seen(cast)
    assert labels(view.take_out) == [["1-A1-6", "1-A1-5", "1-A1-4"]]
    acts.take_out(cast.tess, block_ids=wet[:2])
    view = seen(cast)
    assert labels(view.take_out) == [["1-A1-6"]]
    assert sorted(labels(view.crush)) == [["1-A1-3", "1-A1-2", "1-A1-1"], ["1-A1-5", "1-A1-4"]]


def test_what_is_due_stands_on_the_first_page_and_what_is_ahead_after_it(
    cast: Cast, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(queue, "PAGE_SIZE", 1)
    pressed_job(cast, groups=(DRY, SOAKED))
    cast.clock.forward(days=6)
    first, second = (queue.queue(cast.tess, page=page) for page in (1, 2))
    assert ([one.do for one in first.soak], first.later) == (["soak"], [])
    assert (second.soak, [one.do for one in second.later]) == ([], ["crush"])


def test_blocks_out_of_the_water_are_not_said_to_lie_in_it(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    wet = [ids[f"1-A1-{n}"] for n in (1, 2, 3)]
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=wet)
    went_in = cast.clock.now
    cast.clock.forward(days=1)
    assert [one.in_water_since for one in seen(cast).take_out] == [went_in]
    acts.take_out(cast.tess, block_ids=wet)
    assert [one.in_water_since for one in seen(cast).crush] == [None]


def test_a_block_that_went_in_again_is_taken_out_again(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    block = [ids["1-A1-1"]]
    for hours in (2, 24):
        acts.put_to_soak(cast.tess, block_ids=block)
        cast.clock.forward(hours=hours)
        acts.take_out(cast.tess, block_ids=block)
    first, second = sheet.sheet(cast.tess, block_id=block[0]).soaks
    assert second.ended_at is not None
    assert (second.started_at, second.ended_at - second.started_at) == (first.ended_at, timedelta(hours=24))


def test_a_crushed_block_does_not_go_into_the_water(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=7)
    record(cast.tess, block_id=ids["1-A1-1"], given=Given(outcome="fell apart", state="soaked"))
    with pytest.raises(Conflict, match="was crushed already"):
        acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])


def test_late_comes_before_what_is_due_now(cast: Cast) -> None:
    pressed_job(cast, number=1)
    cast.clock.forward(days=1)
    pressed_job(cast, number=2, of="dov")
    cast.clock.forward(days=7)
    view = seen(cast)
    assert [(one.job_number, one.when) for one in view.crush] == [(1, "late"), (2, "now")]


def test_the_queue_of_a_job_holds_its_own_blocks_only(cast: Cast) -> None:
    one = pressed_job(cast, number=1)
    pressed_job(cast, number=2, of="dov")
    assert {found.job_number for found in seen(cast, job_id=one["job"]).later} == {1}


def test_a_dry_block_is_not_put_to_soak(cast: Cast) -> None:
    ids = pressed_job(cast)
    with pytest.raises(Invalid, match="is to be crushed air-dry") as refused:
        acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    assert list(refused.value.fields) == ["block_ids"]


def test_blocks_of_two_batches_are_not_put_in_by_one_push(cast: Cast) -> None:
    one = pressed_job(cast, number=1, groups=(SOAKED,))
    two = pressed_job(cast, number=2, of="dov", groups=(SOAKED,))
    with pytest.raises(Invalid, match="several batches"):
        acts.put_to_soak(cast.tess, block_ids=[one["1-A1-1"], two["2-A1-1"]])


def test_of_two_people_one_puts_a_block_into_the_water_and_the_other_is_told(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    together, told = Barrier(2), []

    def by(caller: Caller) -> None:
        together.wait()
        try:
            acts.put_to_soak(caller, block_ids=[ids["1-A1-1"], ids["1-A1-2"]])
        except Conflict as refusal:
            told.append(refusal.sentence)

    threads = [Thread(target=by, args=(caller,)) for caller in (cast.tess, cast.olu)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (sentence,) = told
    assert "put 1-A1-1 into the water on 7 Mar 2027, 09:00." in sentence


def test_a_time_in_the_water_is_corrected_with_a_reason_and_the_old_one_kept(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    (soak,) = sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).soaks
    earlier = soak.started_at - timedelta(hours=2)
    with pytest.raises(Invalid) as refused:
        acts.correct_soak(cast.tess, soak_id=soak.id, started_at=earlier, ended_at=None, because=" ")
    assert list(refused.value.fields) == ["because"]
    acts.correct_soak(cast.tess, soak_id=soak.id, started_at=earlier, ended_at=None, because="the clock was wrong")
    shown = sheet.sheet(cast.tess, block_id=ids["1-A1-1"])
    assert shown.soaks[0].started_at == earlier
    (correction,) = shown.corrections
    assert (correction.because, correction.by) == ("the clock was wrong", "Tess")


def test_two_stays_in_the_water_do_not_overlap(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    block = [ids["1-A1-1"]]
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=block)
    cast.clock.forward(hours=2)
    acts.take_out(cast.tess, block_ids=block)
    with pytest.raises(Invalid, match="in the water until"):
        acts.put_to_soak(cast.tess, block_ids=block, started_at=cast.clock.now - timedelta(hours=1))
    cast.clock.forward(hours=1)
    acts.put_to_soak(cast.tess, block_ids=block)
    first, second = sheet.sheet(cast.tess, block_id=block[0]).soaks
    with pytest.raises(Invalid, match="overlap"):
        acts.correct_soak(
            cast.tess,
            soak_id=second.id,
            started_at=first.started_at + timedelta(hours=1),
            ended_at=None,
            because="it was never out",
        )


@pytest.mark.parametrize("hours", [-1, 1])
def test_a_time_before_the_pressing_or_still_to_come_is_refused(cast: Cast, hours: int) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    at = cast.clock.now + timedelta(hours=hours)
    with pytest.raises(Invalid) as refused:
        acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]], started_at=at)
    assert list(refused.value.fields) == ["started_at"]


def test_covered_and_open_days_are_counted(cast: Cast) -> None:
    ids = pressed_job(cast)
    acts.cover(cast.tess, batch_id=ids["batch"])
    with pytest.raises(Conflict, match="was covered on"):
        acts.cover(cast.olu, batch_id=ids["batch"])
    cast.clock.forward(days=3)
    acts.uncover(cast.tess, batch_id=ids["batch"])
    cast.clock.forward(days=2)
    (batch,) = seen(cast).batches
    assert (batch.state, batch.covered_days, batch.open_days) == ("uncovered", 3.0, 2.0)
    with pytest.raises(Conflict):
        acts.cover(cast.tess, batch_id=ids["batch"])
    acts.correct_cover(
        cast.tess,
        batch_id=ids["batch"],
        covered_at=batch.covered_at,
        uncovered_at=cast.clock.now - timedelta(days=1),
        because="the sheet came off a day later",
    )
    assert seen(cast).batches[0].covered_days == 4.0


def test_a_cover_cannot_come_off_before_it_was_on(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=2)
    now = cast.clock.now
    with pytest.raises(Invalid) as refused:
        acts.correct_cover(
            cast.tess,
            batch_id=ids["batch"],
            covered_at=now,
            uncovered_at=now - timedelta(hours=1),
            because="no",
        )
    assert list(refused.value.fields) == ["uncovered_at"]


def test_a_lost_block_leaves_the_queue_and_the_water_and_says_why(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    cast.clock.forward(hours=3)
    acts.lose(cast.tess, block_id=ids["1-A1-1"], because="dropped into the tub")
    shown = sheet.sheet(cast.tess, block_id=ids["1-A1-1"])
    assert (shown.lost_because, shown.in_water) == ("dropped into the tub", False)
    assert seen(cast).waiting == 2
    with pytest.raises(Conflict, match="dropped into the tub"):
        acts.lose(cast.olu, block_id=ids["1-A1-1"], because="again")


def test_a_block_lost_out_of_the_water_and_found_goes_on_lying_in_it(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    cast.clock.forward(hours=3)
    acts.lose(cast.tess, block_id=ids["1-A1-1"], because="it was not in the tub")
    acts.find_again(cast.tess, block_id=ids["1-A1-1"], because="it lay under another")
    assert sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).in_water


def test_a_block_lost_before_it_was_weighed_is_not_found_again(cast: Cast) -> None:
    ids = pressed_job(cast)
    with Session(cast.stores.write) as session:
        block = session.get_one(Block, ids["1-A1-1"])
        block.wet_mass_kg, block.as_read = None, {}
        block.lost_at, block.lost_because = cast.clock.now, "broke in the mould"
        session.add(block)
        session.commit()
    with pytest.raises(Conflict, match="before it was weighed"):
        acts.find_again(cast.tess, block_id=ids["1-A1-1"], because="glued")


def test_what_is_not_there_is_not_found(cast: Cast) -> None:
    nothing = UUID(int=7)
    for attempt in (
        lambda: acts.put_to_soak(cast.tess, block_ids=[nothing]),
        lambda: acts.take_out(cast.tess, block_ids=[nothing]),
        lambda: acts.cover(cast.tess, batch_id=nothing),
        lambda: acts.lose(cast.tess, block_id=nothing, because="no"),
        lambda: acts.correct_soak(cast.tess, soak_id=nothing, started_at=cast.clock.now, ended_at=None, because="no"),
    ):
        with pytest.raises(NotFound):
            attempt()
