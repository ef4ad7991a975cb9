"""Hours in the water are those that the stays say, on the block's page and in its job's result alike."""

import json
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

import pytest
from sqlmodel import Session, select

from service.desk.crushing import press, reading, sheet
from service.desk.crushing.given import Given
from service.desk.curing import acts
from service.desk.results import live
from service.desk.results._changes import changed
from service.desk.results._readings import read_blocks
from service.desk.results._scales import Scales
from service.errors import Conflict, Invalid
from service.records.blocks import Soak
from service.records.corrections import Correction
from service.records.presses import calibrations_of
from service.records.result_queries import tried_blocks
from service.typed import Typed
from service.words.sentences import say
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.trials import PEAKS, a_tried_job

SOAKED = {"condition": "soaked", "soak_hours": 24.0}
HOUR = timedelta(hours=1)


def hours(text: str) -> Typed:
    return Typed(float(text), text, "h")


def in_the_water(cast: Cast, block: UUID, start: datetime, end: datetime | None) -> None:
    acts.put_to_soak(cast.tess, block_ids=[block], started_at=start)
    if end is not None:
        acts.take_out(cast.tess, block_ids=[block], ended_at=end)


def crushed(cast: Cast, block: UUID, **other: Any) -> UUID:
    spell = press.open_press_session(
        cast.tess, gauge_id=press_with_line(cast), zero_before_mpa=Typed(0.0, "0", "MPa")
    ).id
    told = {"outcome": "broke", "state": "soaked", "press_session_id": spell, "gauge_mpa": Typed(10.0, "10", "MPa")}
    return reading.record(cast.tess, block_id=block, given=Given(**{**told, **other})).id


def said(cast: Cast, ids: dict[str, UUID]) -> tuple[float | None, list[str], str | None]:
    """Return hours and reasons as the block's page has them, and the reason as the job's result has it."""
    standing = sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).standing
    assert standing is not None
    with Session(cast.stores.read) as session:
        tried = tried_blocks(session, ids["job"])
        gauges = {one.standing.gauge.id for one in tried if one.standing and one.standing.gauge}
        scales = Scales(calibrations_of(session, gauges), clock=cast.tess.clock)
        blocks = read_blocks(tried, scales, labels={ids["recipe"]: "A"}, moistures={})
    (mine,) = [one.facts for one in blocks if one.facts.block == "1-A1-1"]
    assert mine.crushed is not None and mine.crushed.water_hours == standing.water_hours
    return standing.water_hours, [say(one) for one in standing.left_out], mine.because


@pytest.fixture
def ids(cast: Cast) -> dict[str, UUID]:
    """Soaked blocks, a week old to the minute."""
    found = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=7)
    return found


def test_ten_hours_in_the_water_and_sixteen_dry_are_no_soak_of_a_day(cast: Cast, ids: dict[str, UUID]) -> None:
    now = cast.clock.now
    in_the_water(cast, ids["1-A1-1"], now - 26 * HOUR, now - 16 * HOUR)
    crushed(cast, ids["1-A1-1"])
    reasons = ["under water for 10 h, meant for 24 h", "out of the water for 16 h before it was crushed"]
    assert said(cast, ids) == (10.0, reasons, "; ".join(reasons))


def test_ten_minutes_by_mistake_days_before_the_soak_do_not_leave_it_out(cast: Cast, ids: dict[str, UUID]) -> None:
    now = cast.clock.now
    in_the_water(cast, ids["1-A1-1"], now - 120 * HOUR, now - 120 * HOUR + HOUR / 6)
    in_the_water(cast, ids["1-A1-1"], now - 24 * HOUR, None)
    crushed(cast, ids["1-A1-1"])
    assert said(cast, ids) == (24.0, [], None)


def test_a_look_at_a_block_in_the_water_does_not_end_its_soak(cast: Cast, ids: dict[str, UUID]) -> None:
    now = cast.clock.now
    in_the_water(cast, ids["1-A1-1"], now - 24.5 * HOUR, now - 12 * HOUR)
    in_the_water(cast, ids["1-A1-1"], now - 11.75 * HOUR, None)
    crushed(cast, ids["1-A1-1"])
    assert said(cast, ids) == (24.25, [], None)


def test_minutes_out_of_the_water_are_no_time_in_it(cast: Cast, ids: dict[str, UUID]) -> None:
    in_the_water(cast, ids["1-A1-1"], cast.clock.now - 24.5 * HOUR, None)
    crushed(cast, ids["1-A1-1"], out_of_water_min=Typed(30.0, "30", "min"))
    assert said(cast, ids) == (24.0, [], None)


@pytest.mark.parametrize(
    ("start", "end", "told"),
    [
        # Half an hour is no soak of 4 hours; a quarter of an hour more still is one.
        (
            timedelta(0),
            timedelta(hours=-3.5),
            "1-A6 no longer counts. Reason: under water for 0.5 h, meant for 4 h; "
            "out of the water for 3.5 h before it was crushed.",
        ),
        (timedelta(hours=-0.25), timedelta(0), "Readings that were corrected: 1-A6."),
    ],
)
def test_a_corrected_soak_is_judged_and_told_as_a_change(
    cast: Cast, start: timedelta, end: timedelta, told: str
) -> None:
    tried = a_tried_job(cast, peaks={"A": PEAKS["A"]})
    old = {"result": json.loads(live.live(cast.tess, job_id=tried.job_id).data), "remark": ""}
    (stay,) = sheet.sheet(cast.tess, block_id=tried.blocks["1-A6"]).soaks
    assert stay.ended_at is not None
    acts.correct_soak(
        cast.tess,
        soak_id=stay.id,
        started_at=stay.started_at + start,
        ended_at=stay.ended_at + end,
        because="misread",
    )
    sentences = [say(one) for one in changed(old, json.loads(live.live(cast.tess, job_id=tried.job_id).data), "")]
    assert sentences[0] == told


def test_hours_that_the_stays_contradict_are_refused_at_their_field(cast: Cast, ids: dict[str, UUID]) -> None:
    in_the_water(cast, ids["1-A1-1"], cast.clock.now - HOUR / 2, None)
    with pytest.raises(Invalid) as refused:
        crushed(cast, ids["1-A1-1"], water_hours=hours("24"))
    assert refused.value.fields["water_hours"].startswith("It was in the water for 0.5 h")


def test_hours_are_typed_where_no_stay_was_written_down(cast: Cast, ids: dict[str, UUID]) -> None:
    crushed(cast, ids["1-A1-1"], water_hours=hours("24"))
    assert said(cast, ids) == (24.0, [], None)


def stays(cast: Cast) -> list[Soak]:
    with Session(cast.stores.read) as session:
        return list(session.exec(select(Soak)))


def corrections(cast: Cast) -> list[str]:
    with Session(cast.stores.read) as session:
        return [one.because for one in session.exec(select(Correction)) if one.subject_kind == "Soak"]


def test_a_reading_taken_back_leaves_the_block_where_it_is_in_the_water(cast: Cast, ids: dict[str, UUID]) -> None:
    in_the_water(cast, ids["1-A1-1"], cast.clock.now - 2 * HOUR, None)
    done = crushed(cast, ids["1-A1-1"], out_of_water_min=Typed(5.0, "5", "min"))
    reading.withdraw(cast.tess, crushing_id=done, because="typed for the wrong block")
    (stay,) = stays(cast)
    assert (stay.ended_at, stay.ended_by) == (None, None)
    assert corrections(cast) == ["typed for the wrong block"]
    assert sheet.sheet(cast.tess, block_id=ids["1-A1-1"]).step.do == "take out"


def test_a_block_taken_out_before_its_reading_stays_out_when_that_is_taken_back(
    cast: Cast, ids: dict[str, UUID]
) -> None:
    in_the_water(cast, ids["1-A1-1"], cast.clock.now - 25 * HOUR, cast.clock.now - HOUR)
    done = crushed(cast, ids["1-A1-1"])
    reading.withdraw(cast.tess, crushing_id=done, because="typed for the wrong block")
    assert stays(cast)[0].ended_at == cast.clock.now - HOUR and corrections(cast) == []


def test_the_end_of_the_soak_moves_with_the_reading_that_ended_it(cast: Cast, ids: dict[str, UUID]) -> None:
    in_the_water(cast, ids["1-A1-1"], cast.clock.now - 24 * HOUR, None)
    done = crushed(cast, ids["1-A1-1"])
    earlier = cast.clock.now - HOUR
    given = Given(
        outcome="broke", state="soaked", gauge_mpa=Typed(10.0, "10", "MPa"), crushed_at=earlier, press_session_id=None
    )
    reading.correct(cast.tess, crushing_id=done, given=given, because="an hour earlier")
    assert stays(cast)[0].ended_at == earlier and corrections(cast) == ["an hour earlier"]
    assert said(cast, ids)[0] == 23.0


def test_a_block_found_again_in_the_tub_is_still_in_the_water(cast: Cast, ids: dict[str, UUID]) -> None:
    in_the_water(cast, ids["1-A1-1"], cast.clock.now - HOUR, None)
    acts.lose(cast.tess, block_id=ids["1-A1-1"], because="not on its shelf")
    acts.find_again(cast.tess, block_id=ids["1-A1-1"], because="it was in the tub")
    assert stays(cast)[0].ended_at is None and corrections(cast) == ["it was in the tub"]


def test_a_reading_is_not_corrected_to_a_time_after_its_spell_was_closed(cast: Cast) -> None:
    ids = pressed_job(cast)
    cast.clock.forward(days=7)
    gauge_id = press_with_line(cast)
    spell = press.open_press_session(cast.tess, gauge_id=gauge_id, zero_before_mpa=Typed(0.0, "0", "MPa")).id
    told = {"outcome": "broke", "state": "air-dry", "press_session_id": spell, "gauge_mpa": Typed(10.0, "10", "MPa")}
    done = reading.record(cast.tess, block_id=ids["1-A1-1"], given=Given(**told)).id
    press.close_press_session(cast.tess, press_session_id=spell, zero_after_mpa=Typed(0.0, "0", "MPa"))
    cast.clock.forward(hours=1)
    with pytest.raises(Conflict, match="Someone ended this crushing session"):
        reading.correct(
            cast.tess, crushing_id=done, given=Given(**told, crushed_at=cast.clock.now), because="an hour later"
        )
