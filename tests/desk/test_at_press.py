"""At which press a due block is best crushed: as far as the blocks beside it have told, and else no word of it."""

from typing import Any
from uuid import UUID

from sqlmodel import Session, select

from service.desk.crushing import press, queue, reading
from service.desk.crushing.given import Given
from service.records.presses import Gauge, Press
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.mixes import mpa


def broke(session_id: UUID, at: float, **other: Any) -> Given:
    given = {"outcome": "broke", "state": "air-dry", "press_session_id": session_id, "gauge_mpa": mpa(at)}
    return Given(**{**given, **other})


def test_a_recipe_stays_at_its_press_and_goes_to_a_stronger_one_when_a_block_outlived_it(cast: Cast) -> None:
    ids = pressed_job(cast, groups=({"condition": "air-dry"},))
    cast.clock.forward(days=7)
    weak = press.open_press_session(cast.tess, gauge_id=press_with_line(cast), zero_before_mpa=mpa(0)).id
    assert {block.press for block in queue.queue(cast.tess).blocks} == {""}
    with Session(cast.stores.write) as session:
        stronger = Press(**{**session.exec(select(Press)).one().model_dump(exclude={"id"}), "name": "Big frame"})
        stronger.working_limit_kn = 160.0
        session.add(stronger)
        session.flush()
        session.add(Gauge(press_id=stronger.id, name="big", unit="MPa", graduation_mpa=0.5, full_scale_mpa=40.0))
        session.commit()
    # Nothing was crushed yet, so nothing is known.
    assert {block.press for block in queue.queue(cast.tess).blocks} == {""}
    reading.record(cast.tess, block_id=ids["1-A1-3"], given=broke(weak, 10))
    assert {block.press for block in queue.queue(cast.tess).blocks} == {"Yellow frame"}
    held = broke(weak, 30, outcome="held", held_because="press limit")
    reading.record(cast.tess, block_id=ids["1-A1-2"], given=held)
    assert [block.press for block in queue.queue(cast.tess).blocks] == ["Big frame"]
    page = cast.browser("tess").get("/crushing").text
    assert "<h3>Big frame</h3>" in page and "<h3>Any press</h3>" not in page
