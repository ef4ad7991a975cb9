"""A session of crushing: at which press, ended once, and what a reading below its zero comes to."""

from uuid import UUID

import pytest
from sqlmodel import Session

from service.desk.crushing import press, reading
from service.errors import Conflict, Invalid
from service.records.presses import Gauge, Press, PressSession
from service.words.sentences import say
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.desk.test_crushing import DRY, broke, mpa, opened, seen


@pytest.fixture
def week(cast: Cast) -> dict[str, UUID]:
    ids = pressed_job(cast, groups=(DRY,))
    cast.clock.forward(days=7)
    return ids


def test_a_session_ends_once_and_keeps_the_zero_that_was_read_first(cast: Cast) -> None:
    spell = opened(cast)
    press.close_press_session(cast.tess, press_session_id=spell, zero_after_mpa=mpa("0.5"))
    with pytest.raises(Conflict, match="has ended"):
        press.close_press_session(cast.tess, press_session_id=spell, zero_after_mpa=mpa("1.5"))
    with Session(cast.stores.read) as session:
        assert session.get_one(PressSession, spell).zero_after_mpa == 0.5


def test_a_press_that_only_forms_crushes_nothing(cast: Cast) -> None:
    gauge_id = press_with_line(cast)
    with Session(cast.stores.write) as session:
        forming = session.get_one(Press, session.get_one(Gauge, gauge_id).press_id)
        forming.forms, forming.crushes = True, False
        session.add(forming)
        session.commit()
    with pytest.raises(Invalid) as refused:
        press.open_press_session(cast.tess, gauge_id=gauge_id, zero_before_mpa=mpa("0"))
    assert refused.value.fields == {"gauge_id": "Choose a press in use that crushes."}


def test_a_reading_that_gives_no_force_does_not_count(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    reading.record(cast.tess, block_id=block, given=broke(opened(cast, "1"), "0.5"))
    standing = seen(cast, block).standing
    assert standing is not None and standing.stress_mpa is None
    # By hand: the zero stood at 1, so half a MPa below it, 1 - 4.2 * 0.5 = -1.1 kN.
    assert "the gauge reading gives no force above zero" in [say(one) for one in standing.left_out]
