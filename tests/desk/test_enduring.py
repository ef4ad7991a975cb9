"""Tests of blocks besides crushing at the desk, on both databases: recorded once, corrected, set aside, and used up."""

from dataclasses import replace
from datetime import timedelta
from threading import Barrier, Thread
from typing import Any
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session

from service.desk import jobs_in_hand
from service.desk.block_tests import recording, sheet
from service.desk.block_tests.given import Bending, Eroding, Weighing, Wetting
from service.desk.crushing import press, queue, reading
from service.desk.crushing.given import Given as Crushed
from service.desk.curing import acts as curing
from service.desk.mixing import pressing
from service.errors import Conflict, Invalid, NotFound, Refusal
from service.records import audit_log
from service.typed import Typed
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast
from tests.records.as_read import disagreements

DRY = {"condition": "air-dry"}


def kg(text: str) -> Typed:
    return Typed(float(text), text, "kg")


def mm(text: str) -> Typed:
    return Typed(float(text), text, "mm")


def kn(text: str) -> Typed:
    return Typed(float(text), text, "kN")


def bending(**other: Any) -> Bending:
    given = {"outcome": "broke", "state": "air-dry", "span_mm": mm("120"), "width_mm": mm("90"),
             "thickness_mm": mm("100"), "force_kn": kn("2.5")}  # fmt: skip
    return Bending(**{**given, **other})


def wetting(**other: Any) -> Wetting:
    return Wetting(**{"manner": "under water", "state_before": "oven-dry", "before_kg": kg("2.000"), **other})


def eroding(**other: Any) -> Eroding:
    given = {"manner": "drip", "outcome": "measured", "water_min": Typed(40, "40", "min"), "depth_mm": mm("7")}
    return Eroding(**{**given, **other})


def weighing(number: int, text: str | None = "2.000", **other: Any) -> Weighing:
    return Weighing(**{"number": number, "outcome": "weighed", "mass_kg": kg(text) if text else None, **other})


@pytest.fixture
def week(cast: Cast) -> dict[str, UUID]:
    """Three dry blocks of 140 x 90 mm, a week old to the minute."""
    ids = pressed_job(cast, groups=(DRY,))
    cast.clock.forward(days=7)
    return ids


@pytest.fixture
def ids(cast: Cast) -> dict[str, UUID]:
    made = pressed_job(cast, groups=(DRY,))
    cast.clock.forward(days=7)
    return made


def seen(cast: Cast, block_id: UUID) -> sheet.TestedBlock:
    return sheet.block(cast.tess, block_id=block_id)


def test_a_bent_block_has_its_modulus_and_is_used_up(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    done = recording.record(cast.tess, block_id=block, given=bending())
    found = seen(cast, block)
    (one,) = found.of("bending")
    assert str(one.id) == done.details["reading_id"]
    # By hand: 3 x 2500 N x 120 mm / (2 x 90 mm x 100^2 mm2) = 0.5 MPa.
    assert one.came_to is not None and one.came_to.value == pytest.approx(0.5, rel=1e-12)
    assert one.as_read["force_kn"] == {"text": "2.5", "unit": "kN"}
    assert found.used_up == "bending"
    assert week["1-A1-1"] not in {due.id for due in queue.queue(cast.tess).blocks}
    spell = press.open_press_session(cast.tess, gauge_id=press_with_line(cast), zero_before_mpa=Typed(0, "0", "MPa")).id
    load = Crushed(outcome="broke", state="air-dry", press_session_id=spell, gauge_mpa=Typed(10, "10", "MPa"))
    with pytest.raises(Conflict, match="1-A1-1 was used up: it was bent"):
        reading.record(cast.tess, block_id=block, given=load)
    with pytest.raises(Conflict, match="was used up"):
        curing.lose(cast.tess, block_id=block, because="dropped")
    with Session(cast.stores.read) as session:
        assert list(disagreements(session)) == []


def test_a_force_from_the_gauge_comes_by_the_line_that_counts_on_the_day(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    gauge = press_with_line(cast)
    spell = press.open_press_session(cast.tess, gauge_id=gauge, zero_before_mpa=Typed(0.4, "0.4", "MPa")).id
    given = bending(force_kn=None, press_session_id=spell, gauge_mpa=Typed(1.4, "1.4", "MPa"))
    recording.record(cast.tess, block_id=block, given=given)
    (one,) = seen(cast, block).of("bending")
    # By hand: 1.0 MPa above its zero make 1 + 4.2 = 5.2 kN; 3 x 5200 x 120 / (2 x 90 x 100^2) = 1.04 MPa.
    assert one.force_kn == pytest.approx(5.2)
    assert one.came_to is not None and one.came_to.value == pytest.approx(1.04)
    # The line is known from 5 to 25 MPa only.
    assert [flag.english for flag in one.flags] == [
        "The gauge was outside the calibration, which goes from {least_mpa} to {most_mpa}."
    ]


def test_a_block_is_weighed_put_into_water_and_weighed_again(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    recording.record(cast.tess, block_id=block, given=wetting())
    assert seen(cast, block).of("absorption")[0].came_to is None
    cast.clock.forward(hours=24)
    recording.weigh_again(cast.tess, block_id=block, outcome="weighed", after_kg=kg("2.240"))
    found = seen(cast, block)
    (one,) = found.of("absorption")
    # By hand: 0.240 / 2.000 = 12 %.
    assert one.came_to is not None
    assert (one.came_to.test, one.came_to.hours) == ("absorption", 24)
    assert one.came_to.value == pytest.approx(0.12, rel=1e-12)
    assert found.used_up == "absorption" and found.earlier == []
    with pytest.raises(Conflict, match="weighed again already"):
        recording.weigh_again(cast.tess, block_id=block, outcome="weighed", after_kg=kg("2.3"))


def test_an_uptake_leaves_the_block_for_the_press(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    recording.record(cast.tess, block_id=block, given=wetting(state_before="air-dry"))
    cast.clock.forward(hours=2)
    recording.weigh_again(cast.tess, block_id=block, outcome="weighed", after_kg=kg("2.1"))
    (one,) = seen(cast, block).of("absorption")
    assert one.came_to is not None and one.came_to.test == "uptake"
    assert block in {due.id for due in queue.queue(cast.tess).blocks}


def test_a_block_that_falls_apart_in_the_water_has_no_absorption(cast: Cast, ids: dict[str, UUID]) -> None:
    recording.record(cast.tess, block_id=ids["1-A1-1"], given=wetting())
    cast.clock.forward(hours=1)
    recording.weigh_again(cast.tess, block_id=ids["1-A1-1"], outcome="fell apart")
    (one,) = seen(cast, ids["1-A1-1"]).of("absorption")
    assert one.came_to is not None and one.came_to.value is None


def test_drops_and_spray_have_their_index(cast: Cast, ids: dict[str, UUID]) -> None:
    recording.record(cast.tess, block_id=ids["1-A1-1"], given=eroding())
    spray = eroding(manner="spray", depth_mm=mm("30"), water_min=Typed(30, "30", "min"))
    recording.record(cast.tess, block_id=ids["1-A1-2"], given=spray)
    recording.record(cast.tess, block_id=ids["1-A1-3"], given=eroding(manner="spray", outcome="went through"))
    # NZS 4298:1998, from memory: a pit of 7 mm is index 3, 60 mm an hour is index 3; through is beyond any.
    values = [seen(cast, ids[f"1-A1-{n}"]).of("erosion")[0].came_to for n in (1, 2, 3)]
    assert [one.value for one in values if one] == [3.0, 3.0, None]


def test_cycles_are_weighed_one_after_the_other(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    with pytest.raises(Invalid) as refused:
        recording.record(cast.tess, block_id=block, given=weighing(1))
    assert set(refused.value.fields) == {"number"}
    for number, mass in ((0, "4.000"), (1, "3.980"), (12, "3.720")):
        recording.record(cast.tess, block_id=block, given=weighing(number, mass))
        cast.clock.forward(days=2)
    found = seen(cast, block)
    # By hand: (4.000 - 3.720) / 4.000 = 7 % after 12 cycles.
    assert found.lost_share is not None and found.lost_share.cycles == 12
    assert found.lost_share.value == pytest.approx(0.07, rel=1e-12)
    with pytest.raises(Conflict, match="has this test already"):
        recording.record(cast.tess, block_id=block, given=weighing(12))
    with pytest.raises(Invalid, match="over"):
        recording.record(cast.tess, block_id=block, given=weighing(5))
    first = found.of("cycles")[0]
    with pytest.raises(Conflict, match="Later cycles"):
        recording.exclude(cast.tess, block_id=block, test="cycles", reading_id=first.id, because="wrong block")
    recording.record(cast.tess, block_id=block, given=weighing(13, None, outcome="fell apart"))
    cast.clock.forward(days=2)
    with pytest.raises(Conflict, match="fell apart after cycle 13"):
        recording.record(cast.tess, block_id=block, given=weighing(14))


def test_a_correction_keeps_the_old_one_with_its_reason(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    old = UUID(recording.record(cast.tess, block_id=block, given=bending()).details["reading_id"])
    given = bending(force_kn=kn("3.0"))
    with pytest.raises(Invalid) as refused:
        recording.correct(cast.olu, block_id=block, reading_id=old, given=given, because=" ")
    assert set(refused.value.fields) == {"because"}
    recording.correct(cast.olu, block_id=block, reading_id=old, given=given, because="read the wrong ring")
    found = seen(cast, block)
    (now,), (before,) = found.standing, found.earlier
    assert (now.force_kn, before.force_kn) == (3.0, 2.5)
    assert (before.ended_by, before.ended_because, now.done_by) == ("Olu", "read the wrong ring", "Tess")
    assert now.done_at == before.done_at
    with pytest.raises(Conflict, match="corrected this meanwhile"):
        recording.correct(cast.olu, block_id=block, reading_id=old, given=given, because="once more")


def test_a_test_set_aside_gives_the_block_back(cast: Cast, week: dict[str, UUID]) -> None:
    block = week["1-A1-1"]
    done = UUID(recording.record(cast.tess, block_id=block, given=bending()).details["reading_id"])
    recording.exclude(cast.tess, block_id=block, test="bending", reading_id=done, because="it was the other block")
    found = seen(cast, block)
    assert (found.standing, found.used_up) == ([], None)
    assert block in {due.id for due in queue.queue(cast.tess).blocks}
    recording.record(cast.tess, block_id=block, given=eroding())


def test_one_block_endures_one_test_that_uses_it_up(cast: Cast, ids: dict[str, UUID]) -> None:
    block = ids["1-A1-1"]
    recording.record(cast.tess, block_id=block, given=wetting(state_before="as cured"))
    recording.record(cast.tess, block_id=block, given=eroding())
    for given in (bending(), weighing(0)):
        with pytest.raises(Conflict, match="was used up: it was worn by water"):
            recording.record(cast.tess, block_id=block, given=given)
    taken_up = seen(cast, block).of("absorption")[0]
    with pytest.raises(Conflict, match="was used up"):
        recording.correct(cast.tess, block_id=block, reading_id=taken_up.id, given=wetting(), because="it was dried")


def test_a_crushed_block_is_not_bent(cast: Cast, ids: dict[str, UUID]) -> None:
    block = ids["1-A1-1"]
    spoiled = Crushed(outcome="spoiled", state="air-dry", spoiled_because="not centred")
    reading.record(cast.tess, block_id=block, given=spoiled)
    with pytest.raises(Conflict, match="crushed already, by Tess"):
        recording.record(cast.tess, block_id=block, given=bending())
    # What it took up before it was crushed may be typed afterwards.
    recording.record(cast.tess, block_id=block, given=wetting(state_before="as cured"))


def test_a_lost_block_endures_nothing(cast: Cast, ids: dict[str, UUID]) -> None:
    curing.lose(cast.tess, block_id=ids["1-A1-1"], because="dropped")
    with pytest.raises(Conflict, match="is damaged or missing: dropped"):
        recording.record(cast.tess, block_id=ids["1-A1-1"], given=eroding())


@pytest.mark.parametrize(
    ("given", "field"),
    [
        (bending(outcome="bent"), "outcome"),
        (bending(state="damp"), "state"),
        (bending(laid="on end"), "laid"),
        (bending(force_kn=None), "force_kn"),
        (bending(gauge_mpa=Typed(3, "3", "MPa")), "force_kn"),
        (bending(force_kn=None, gauge_mpa=Typed(3, "3", "MPa")), "gauge_mpa"),
        (bending(force_kn=None, gauge_mpa=Typed(3, "3", "MPa"), press_session_id=uuid4()), "gauge_mpa"),
        (bending(force_kn=kn("0")), "force_kn"),
        (bending(span_mm=mm("0")), "span_mm"),
        (bending(span_mm=mm("140")), "span_mm"),
        (bending(thickness_mm=mm("-1")), "thickness_mm"),
        (wetting(manner="in soup"), "manner"),
        (wetting(state_before="soaked"), "state_before"),
        (wetting(before_kg=kg("0")), "before_kg"),
        (wetting(outcome="weighed"), "after_kg"),
        (wetting(outcome="weighed", after_kg=kg("1.999")), "after_kg"),
        (wetting(outcome="weighed", after_kg=kg("2.1")), "weighed_at"),
        (eroding(manner="hail"), "manner"),
        (eroding(depth_mm=None), "depth_mm"),
        (eroding(water_min=Typed(0, "0", "min")), "water_min"),
        (eroding(manner="spray", pressure_mpa=Typed(0, "0", "MPa")), "pressure_mpa"),
        (weighing(0, None), "mass_kg"),
        (weighing(0, None, outcome="fell apart"), "outcome"),
        (weighing(0, outcome="dried"), "outcome"),
    ],
)
def test_what_cannot_be_meant_names_its_field(cast: Cast, ids: dict[str, UUID], given: Any, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        recording.record(cast.tess, block_id=ids["1-A1-1"], given=given)
    assert set(refused.value.fields) == {field}
    assert seen(cast, ids["1-A1-1"]).standing == []


@pytest.mark.parametrize(("field", "given"), [("done_at", bending()), ("done_at", eroding()), ("wetted_at", wetting())])
def test_a_time_before_the_press_or_still_to_come_is_refused(
    cast: Cast, ids: dict[str, UUID], field: str, given: Any
) -> None:
    for days in (-8, 1):
        at = cast.clock.now + timedelta(days=days)
        with pytest.raises(Invalid) as refused:
            recording.record(cast.tess, block_id=ids["1-A1-1"], given=replace(given, **{field: at}))
        assert set(refused.value.fields) == {field}


def test_another_blocks_test_and_an_unknown_one_are_not_found(cast: Cast, ids: dict[str, UUID]) -> None:
    done = UUID(recording.record(cast.tess, block_id=ids["1-A1-1"], given=bending()).details["reading_id"])
    for block, test, reading_id in (
        (ids["1-A1-2"], "bending", done),
        (ids["1-A1-1"], "erosion", done),
        (ids["1-A1-1"], "licking", done),
        (ids["1-A1-1"], "bending", uuid4()),
    ):
        with pytest.raises(NotFound):
            recording.exclude(cast.tess, block_id=block, test=test, reading_id=reading_id, because="mistaken")
    with pytest.raises(NotFound):
        recording.record(cast.tess, block_id=uuid4(), given=bending())


def test_a_test_sent_twice_is_kept_once_and_stands_in_the_trail_of_its_block(cast: Cast, ids: dict[str, UUID]) -> None:
    tess = cast.tess
    first = recording.record(tess, block_id=ids["1-A1-1"], given=bending())
    again = recording.record(tess, block_id=ids["1-A1-1"], given=bending())
    assert again == first
    with Session(cast.stores.read) as session:
        assert audit_log.verify(session) is None
    with pytest.raises(Conflict, match="Tess recorded it for 8 Mar 2027"):
        recording.record(cast.olu, block_id=ids["1-A1-1"], given=bending(force_kn=kn("3")))


def test_a_block_bent_and_crushed_at_once_is_only_one_of_them(cast: Cast, week: dict[str, UUID]) -> None:
    block, together = week["1-A1-1"], Barrier(2)
    spoiled = Crushed(outcome="spoiled", state="air-dry", spoiled_because="not centred")
    refused: list[str] = []

    def send(work: Any) -> None:
        together.wait()
        try:
            work()
        except Refusal as refusal:
            refused.append(refusal.sentence)

    bend, crush = cast.tess, cast.olu
    threads = [
        Thread(target=send, args=(lambda: recording.record(bend, block_id=block, given=bending()),)),
        Thread(target=send, args=(lambda: reading.record(crush, block_id=block, given=spoiled),)),
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(refused) == 1
    found = seen(cast, block)
    assert bool(found.standing) != bool(found.crushed_by)


def test_a_used_up_block_is_not_lost_at_the_press_and_its_job_counts_it(cast: Cast, ids: dict[str, UUID]) -> None:
    recording.record(cast.tess, block_id=ids["1-A1-1"], given=eroding())
    with pytest.raises(Conflict, match="used up: it was worn by water"):
        pressing.lose_block(cast.tess, block_id=ids["1-A1-1"], because="dropped")
    card = jobs_in_hand.card(cast.tess, job_id=ids["job"])
    assert (card.blocks, card.tested, card.waiting, card.crushed) == (3, 1, 2, 0)
