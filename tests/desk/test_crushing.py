"""Crushing at the desk, on both databases: one reading a block, whoever sends it and however often."""

from dataclasses import replace
from datetime import timedelta
from threading import Barrier, Thread
from typing import Any
from uuid import UUID

import pytest
from sqlmodel import Session, select

from service.desk.crushing import press, queue, reading, sheet
from service.desk.crushing.given import Given
from service.desk.crushing.sheet import BlockSheet
from service.desk.curing import acts
from service.desk.doorway import Caller
from service.errors import Conflict, Invalid, NotFound, Refusal
from service.records.blocks import Soak
from service.records.crushings import Crushing
from service.typed import Typed
from service.words.sentences import say
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.records.as_read import disagreements

DRY = {"condition": "air-dry"}
SOAKED = {"condition": "soaked", "soak_hours": 24.0}


def mpa(text: str) -> Typed:
    return Typed(float(text), text, "MPa")


def opened(cast: Cast, zero: str = "0", **gauge: Any) -> UUID:
    return press.open_press_session(cast.tess, gauge_id=press_with_line(cast, **gauge), zero_before_mpa=mpa(zero)).id


def broke(spell: UUID, at: str = "10.0", **other: Any) -> Given:
    given = {"outcome": "broke", "state": "air-dry", "press_session_id": spell, "gauge_mpa": mpa(at)}
    return Given(**{**given, **other})


def readings(cast: Cast, block_id: UUID) -> list[Crushing]:
    with Session(cast.stores.read) as session:
        return list(session.exec(select(Crushing).where(Crushing.block_id == block_id)))


def seen(cast: Cast, block_id: UUID) -> BlockSheet:
    return sheet.sheet(cast.tess, block_id=block_id)


@pytest.fixture
def week(cast: Cast) -> dict[str, UUID]:
    """Three dry blocks, a week old to the minute."""
    ids = pressed_job(cast, groups=(DRY,))
    cast.clock.forward(days=7)
    return ids


def test_a_reading_is_kept_as_typed_and_its_stress_worked_out(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    spell = opened(cast, "0.4")
    reading.record(cast.tess, block_id=block, given=broke(spell, "10.40"))
    (kept,) = readings(cast, block)
    assert kept.as_read["gauge_mpa"] == {"text": "10.40", "unit": "MPa"}
    standing = seen(cast, block).standing
    assert standing is not None
    # By hand: the zero stood at 0.4, so 10 MPa; 1 + 4.2 * 10 = 43 kN on 140 x 90 mm is 3.41270 MPa.
    assert standing.stress_mpa == pytest.approx(3.4126984127, rel=1e-9)
    assert standing.left_out == () and standing.flags == ()


def test_eight_threads_with_one_form_leave_one_reading(cast: Cast, week: dict[str, UUID]) -> None:
    block, given = week["1-A1-1"], broke(opened(cast))
    tess, together, answers = cast.tess, Barrier(8), []

    def send() -> None:
        together.wait()
        try:
            answers.append(reading.record(tess, block_id=block, given=given).id)
        except Refusal as refusal:
            answers.append(refusal.sentence)

    run([send] * 8)
    assert len(answers) == 8
    assert set(answers) == {readings(cast, block)[0].id}
    assert len(readings(cast, block)) == 1


def run(work: list[Any]) -> None:
    threads = [Thread(target=one) for one in work]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


def test_of_two_people_at_once_one_wins_and_the_other_is_told_who_and_what(cast: Cast, week: dict[str, UUID]) -> None:
    block, spell, together = week["1-A1-1"], opened(cast), Barrier(2)
    won: list[str] = []
    told: list[str] = []

    def by(name: str, caller: Caller, at: str) -> None:
        together.wait()
        try:
            reading.record(caller, block_id=block, given=broke(spell, at))
            won.append(name)
        except Conflict as refusal:
            told.append(refusal.sentence)

    run([lambda: by("Tess", cast.tess, "10.0"), lambda: by("Olu", cast.olu, "11.5")])
    assert len(won) == len(told) == len(readings(cast, block)) == 1
    what = {"Tess": "broke at 10.0 MPa on the gauge", "Olu": "broke at 11.5 MPa on the gauge"}[won[0]]
    assert told == [f"1-A1-1 was crushed already: {won[0]} recorded “{what}” on 8 Mar 2027, 09:00."]


def test_a_block_lost_and_crushed_at_once_is_only_one_of_them(cast: Cast, week: dict[str, UUID]) -> None:
    block, spell, together, refused = week["1-A1-1"], opened(cast), Barrier(2), []

    def attempt(work: Any) -> None:
        together.wait()
        try:
            work()
        except Conflict as refusal:
            refused.append(refusal.sentence)

    tess, olu = cast.tess, cast.olu
    run(
        [
            lambda: attempt(lambda: reading.record(tess, block_id=block, given=broke(spell))),
            lambda: attempt(lambda: acts.lose(olu, block_id=block, because="dropped")),
        ]
    )
    shown = seen(cast, block)
    assert len(refused) == 1
    assert (shown.standing is None) == (shown.lost_at is not None)


def test_a_correction_keeps_the_old_reading_with_who_and_why(cast: Cast, week: dict[str, UUID]) -> None:
    block, spell = week["1-A1-1"], opened(cast)
    done = reading.record(cast.tess, block_id=block, given=broke(spell, "10.0"))
    cast.clock.forward(hours=1)
    given = broke(spell, "12.0")
    reading.correct(cast.olu, crushing_id=done.id, given=given, because="wrong ring of the dial")
    shown = seen(cast, block)
    assert shown.standing is not None
    assert (shown.standing.how.gauge, shown.standing.crushed_by) == ("12.0 MPa", "Tess")
    # When it was crushed is not changed by a correction an hour later that leaves the time out.
    assert shown.standing.crushed_at == cast.clock.now - timedelta(hours=1)
    (old,) = shown.earlier
    assert (old.how.gauge, old.ended_by, old.ended_because) == ("10.0 MPa", "Olu", "wrong ring of the dial")


def test_a_time_left_as_the_form_shows_it_stays_to_the_second(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7, seconds=41)
    block = ids["1-A1-1"]
    done = reading.record(cast.tess, block_id=block, given=broke(spell))
    shown = cast.clock.now.replace(second=0)
    reading.correct(cast.tess, crushing_id=done.id, given=broke(spell, "9.0", crushed_at=shown), because="misread")
    standing = seen(cast, block).standing
    assert standing is not None and standing.crushed_at == cast.clock.now


def test_nothing_is_corrected_or_taken_back_without_a_reason(cast: Cast, week: dict[str, UUID]) -> None:
    given = broke(opened(cast))
    kept = reading.record(cast.tess, block_id=week["1-A1-1"], given=given).id
    for act in (
        lambda: reading.correct(cast.tess, crushing_id=kept, given=given, because=" "),
        lambda: reading.withdraw(cast.tess, crushing_id=kept, because=" "),
    ):
        with pytest.raises(Invalid) as refused:
            act()
        assert refused.value.fields == {"because": "Give a reason."}
    assert [one.ended_at for one in readings(cast, week["1-A1-1"])] == [None]


def test_what_belongs_to_a_soaked_block_is_not_kept_of_a_dry_one(cast: Cast, week: dict[str, UUID]) -> None:
    wet = {"water_hours": Typed(24.0, "24", "h"), "out_of_water_min": Typed(5.0, "5", "min")}
    reading.record(cast.tess, block_id=week["1-A1-1"], given=broke(opened(cast), **wet))
    (kept,) = readings(cast, week["1-A1-1"])
    assert (kept.water_hours, kept.out_of_water_min) == (None, None)
    assert not set(wet) & set(kept.as_read)


def test_of_two_corrections_at_once_one_is_refused(cast: Cast, week: dict[str, UUID]) -> None:
    block, spell = week["1-A1-1"], opened(cast)
    done = reading.record(cast.tess, block_id=block, given=broke(spell))
    together, refused = Barrier(2), []

    def by(caller: Caller, at: str) -> None:
        together.wait()
        try:
            reading.correct(caller, crushing_id=done.id, given=broke(spell, at), because="misread")
        except Conflict as refusal:
            refused.append(refusal.sentence)

    run([lambda: by(cast.tess, "11.0"), lambda: by(cast.olu, "12.0")])
    assert len(refused) == 1
    assert len(readings(cast, block)) == 2


def test_a_reading_taken_back_is_kept_and_the_block_waits_again(cast: Cast, week: dict[str, UUID]) -> None:
    block, spell = week["1-A1-1"], opened(cast)
    done = reading.record(cast.tess, block_id=block, given=broke(spell))
    reading.withdraw(cast.tess, crushing_id=done.id, because="typed for the wrong block")
    shown = seen(cast, block)
    assert shown.standing is None and len(shown.earlier) == 1
    assert block in [one.id for one in queue.queue(cast.tess).blocks]
    reading.record(cast.tess, block_id=block, given=broke(spell, "9.0"))
    assert len(readings(cast, block)) == 2


def test_what_was_typed_comes_to_what_the_columns_say(cast: Cast, week: dict[str, UUID]) -> None:
    spell = opened(cast)
    sides = {"length_mm": Typed(139.7, "5.5", "in"), "mass_kg": Typed(2.2679618500000003, "5", "lb")}
    given = replace(broke(spell), gauge_mpa=Typed(10.342135939752418, "1500", "psi"), **sides)
    reading.record(cast.tess, block_id=week["1-A1-1"], given=given)
    with Session(cast.stores.read) as session:
        assert list(disagreements(session)) == []


def test_a_block_crushed_out_of_the_water_ends_its_soak(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=6)
    acts.put_to_soak(cast.tess, block_ids=[ids["1-A1-1"]])
    cast.clock.forward(days=1)
    minutes = Typed(12.0, "12", "min")
    given = broke(opened(cast), state="soaked", out_of_water_min=minutes)
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    with Session(cast.stores.read) as session:
        (soak,) = session.exec(select(Soak))
        assert soak.ended_at == cast.clock.now - timedelta(minutes=12)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"gauge_mpa": None}, "gauge_mpa"),
        ({"gauge_mpa": mpa("40.5")}, "gauge_mpa"),
        ({"press_session_id": None}, "press_session_id"),
        ({"outcome": "held"}, "held_because"),
        ({"outcome": "held", "held_because": "leak", "gauge_mpa": mpa("0")}, "gauge_mpa"),
        ({"outcome": "spoiled"}, "spoiled_because"),
        ({"outcome": "fell apart"}, "state"),
        ({"outcome": "exploded"}, "outcome"),
        ({"length_mm": Typed(0.0, "0", "mm")}, "length_mm"),
        ({"mass_kg": Typed(0.0, "0", "kg")}, "mass_kg"),
        ({"loading_s": Typed(0.0, "0", "s")}, "loading_s"),
    ],
)
def test_what_cannot_be_meant_names_its_field_and_stores_nothing(
    cast: Cast, change: dict[str, Any], field: str
) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    with pytest.raises(Invalid) as refused:
        reading.record(cast.tess, block_id=ids["1-A1-1"], given=replace(broke(spell), **change))
    assert list(refused.value.fields) == [field]
    assert readings(cast, ids["1-A1-1"]) == []


@pytest.mark.parametrize("hours", [-8 * 24, 1])
def test_a_time_before_the_pressing_or_still_to_come_is_refused(cast: Cast, hours: int) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    at = cast.clock.now + timedelta(hours=hours)
    with pytest.raises(Invalid) as refused:
        reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell, crushed_at=at))
    assert list(refused.value.fields) == ["crushed_at"]


def test_a_reading_beyond_the_calibration_and_said_to_be_above_the_limit_is_stored_and_flagged(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell, "31.0", above_limit=True))
    standing = seen(cast, ids["1-A1-1"]).standing
    assert standing is not None and standing.left_out == ()
    # The line is known from 5 to 25 MPa; 1 + 4.2 * 31 = 131.2 kN, and people stop at 130.
    assert [say(flag) for flag in standing.flags] == [
        "The gauge was outside the calibration, which goes from 5 MPa (725 psi) to 25 MPa (3630 psi).",
        "This is above the working limit of the press, 130 kN.",
    ]


def test_a_seven_day_block_crushed_on_day_nine_is_stored_and_does_not_count(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=9)
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell))
    standing = seen(cast, ids["1-A1-1"]).standing
    assert standing is not None
    assert [say(phrase) for phrase in standing.left_out] == ["crushed at 9 days, outside 7 days ± 6 h"]


def test_a_block_that_fell_apart_needs_no_gauge(cast: Cast) -> None:
    ids = pressed_job(cast, groups=(SOAKED,))
    cast.clock.forward(days=7)
    given = Given(outcome="fell apart", state="soaked")
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    standing = seen(cast, ids["1-A1-1"]).standing
    assert standing is not None
    assert (standing.how.outcome, standing.stress_mpa) == ("fell apart", None)


def test_a_block_loaded_before_is_a_note_and_no_reading(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    given = broke(spell, "9.5", outcome="spoiled", spoiled_because="loaded before")
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    (kept,) = readings(cast, ids["1-A1-1"])
    assert (kept.gauge_mpa, kept.gauge_id) == (None, None)
    assert kept.remark == "The gauge had shown 9.5 MPa; not a reading."
    reading.add_note(cast.tess, block_id=ids["1-A1-1"], remark="loaded again to 12 MPa")
    shown = seen(cast, ids["1-A1-1"])
    assert shown.remark == "8 Mar 2027, 09:00, Tess: loaded again to 12 MPa"
    assert len(readings(cast, ids["1-A1-1"])) == 1


def test_a_lost_block_is_not_crushed_before_it_is_found_again(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    acts.lose(cast.tess, block_id=ids["1-A1-1"], because="dropped on the way to the press")
    with pytest.raises(Conflict, match="dropped on the way"):
        reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell))
    acts.find_again(cast.tess, block_id=ids["1-A1-1"], because="it was another one")
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell))
    (correction,) = seen(cast, ids["1-A1-1"]).corrections
    assert correction.because == "it was another one"


def test_due_blocks_stand_in_their_drawn_order_and_the_next_of_the_job_is_offered(cast: Cast) -> None:
    pressed_job(cast, number=1, blocks=3)
    cast.clock.forward(hours=2)
    pressed_job(cast, number=2, of="dov", blocks=2)
    spell = opened(cast)
    cast.clock.forward(days=7)
    due = [block.label for block in queue.queue(cast.tess).blocks]
    assert due == ["1-A1-3", "1-A1-2", "1-A1-1", "2-A1-2", "2-A1-1"]
    first = queue.queue(cast.tess).blocks[0]
    reading.record(cast.tess, block_id=first.id, given=broke(spell))
    following = seen(cast, first.id).following
    assert following is not None and following.label == "1-A1-2"


def test_what_was_typed_for_the_last_block_is_remembered(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    given = replace(broke(spell), orientation="on edge", faces="packed", peak_read="held needle")
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=replace(given, gauge_mpa=Typed(6.89, "1000", "psi")))
    proposed = seen(cast, ids["1-A1-2"]).proposed
    assert (proposed.orientation, proposed.faces, proposed.peak_read) == ("on edge", "packed", "held needle")
    assert (proposed.units, proposed.state) == ({}, "air-dry")
    reading.record(cast.tess, block_id=ids["1-A1-2"], given=replace(given, gauge_mpa=Typed(6.89, "1000", "psi")))
    assert seen(cast, ids["1-A1-3"]).proposed.units["gauge_mpa"] == "psi"


def test_a_gauge_is_opened_once_and_the_second_is_told_by_whom(cast: Cast) -> None:
    gauge = press_with_line(cast)
    press.open_press_session(cast.tess, gauge_id=gauge, zero_before_mpa=mpa("0.1"))
    with pytest.raises(Conflict, match="Tess has opened"):
        press.open_press_session(cast.olu, gauge_id=gauge, zero_before_mpa=mpa("0.2"))


def test_a_closed_spell_takes_no_later_reading(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    press.close_press_session(cast.tess, press_session_id=spell, zero_after_mpa=mpa("0.9"))
    earlier = cast.clock.now - timedelta(minutes=30)
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell, crushed_at=earlier))
    standing = seen(cast, ids["1-A1-1"]).standing
    assert standing is not None
    assert "The unloaded gauge went from" in say(standing.flags[0])
    cast.clock.forward(minutes=5)
    with pytest.raises(Conflict, match="Someone ended this crushing session"):
        reading.record(cast.tess, block_id=ids["1-A1-2"], given=broke(spell))


def test_a_corrected_zero_moves_every_stress_of_its_spell(cast: Cast) -> None:
    ids, spell = pressed_job(cast), opened(cast)
    cast.clock.forward(days=7)
    reading.record(cast.tess, block_id=ids["1-A1-1"], given=broke(spell, "10.0"))
    press.correct_press_session(
        cast.tess, press_session_id=spell, zero_before_mpa=mpa("1.0"), zero_after_mpa=None, because="misread"
    )
    standing = seen(cast, ids["1-A1-1"]).standing
    # By hand: 9 MPa are left, 1 + 4.2 * 9 = 38.8 kN on 12600 mm2.
    assert standing is not None and standing.stress_mpa == pytest.approx(3.0793650794, rel=1e-9)


def test_what_is_not_there_is_not_found(cast: Cast) -> None:
    spell, nothing = opened(cast), UUID(int=7)
    for attempt in (
        lambda: sheet.sheet(cast.tess, block_id=nothing),
        lambda: reading.record(cast.tess, block_id=nothing, given=broke(spell)),
        lambda: reading.withdraw(cast.tess, crushing_id=nothing, because="no"),
        lambda: press.open_press_session(cast.tess, gauge_id=nothing, zero_before_mpa=mpa("0")),
        lambda: press.close_press_session(cast.tess, press_session_id=nothing, zero_after_mpa=mpa("0")),
    ):
        with pytest.raises(NotFound):
            attempt()
