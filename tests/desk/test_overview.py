"""How the shop does: weeks, lateness and what runs out, on both databases."""

from datetime import date, timedelta

import pytest
from sqlmodel import Session, select

from service.desk import jobs_in_hand, overview
from service.desk.results import live
from service.errors import Conflict, Forbidden, Invalid, NotFound
from service.paper import issuing
from service.records.jobs import Job
from service.records.materials import Material, Receipt
from tests.cast import Cast
from tests.trials import a_tried_job


def changed(cast: Cast, table: type, **values: object) -> list[object]:
    with Session(cast.stores.write) as session:
        rows = session.exec(select(table)).all()
        for row in rows:
            for name, value in values.items():
                setattr(row, name, value)
        ids = [row.id for row in rows]
        session.commit()
    return ids


def test_an_empty_shop_has_weeks_and_nothing_late(cast: Cast) -> None:
    found = overview.overview(cast.tess)
    assert len(found.weeks) == overview.WEEKS_BACK and all(week.monday.weekday() == 0 for week in found.weeks)
    assert found.weeks[-1].monday <= cast.olu.clock.today < found.weeks[-1].monday + timedelta(days=7)
    assert (found.late, found.endings, found.soils, found.shelf, found.median_days) == ([], [], [], [], None)


def test_what_was_done_stands_in_its_week(cast: Cast) -> None:
    a_tried_job(cast)
    found = overview.overview(cast.olu)
    pressed = {week.monday: week.pressed for week in found.weeks if week.pressed}
    crushed = {week.monday: week.crushed for week in found.weeks if week.crushed}
    # Thirty blocks of one day, crushed seven days later to the hour: the week after.
    ((first, made),), ((second, broken),) = pressed.items(), crushed.items()
    assert (made, broken, second - first) == (30, 30, timedelta(days=7))
    assert sum(count for _, count in found.coming) == 0


def test_the_turnaround_is_from_the_first_sack_to_the_first_result(cast: Cast) -> None:
    tried = a_tried_job(cast)
    changed(cast, Receipt, received_at=cast.clock.now - timedelta(days=20))
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issuing.issue(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    found = overview.overview(cast.olu)
    assert (found.answered, found.median_days) == (1, pytest.approx(20))
    assert [week.answered for week in found.weeks] == [0] * (overview.WEEKS_BACK - 1) + [1]


def test_a_job_is_late_from_the_day_after_its_promise_until_its_result(cast: Cast) -> None:
    tried = a_tried_job(cast)
    today = cast.olu.clock.today
    changed(cast, Job, promised_on=today)
    assert overview.overview(cast.olu).late == []
    changed(cast, Job, promised_on=today - timedelta(days=3))
    (late,) = overview.overview(cast.olu).late
    assert (late.number, late.days) == (jobs_in_hand.card(cast.olu, job_id=tried.job_id).number, 3)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issuing.issue(cast.olu, job_id=tried.job_id, remark="", seen_sha256=seen)
    assert overview.overview(cast.olu).late == []


def test_a_calibration_is_told_before_it_ends(cast: Cast) -> None:
    end = cast.olu.clock.today + timedelta(days=90)
    a_tried_job(cast, valid_until=end)
    told = []
    for days in (31, 30, 0, -1):
        # The job took some days of the shop's clock.
        cast.clock.forward(days=(end - cast.olu.clock.today).days - days)
        told.append([one.over for one in overview.overview(cast.olu).endings])
    # A month before its last day it is told, and from the day after it is over.
    assert told == [[], [False], [False], [True]]


def test_kept_soil_is_listed_until_somebody_discards_it(cast: Cast) -> None:
    a_tried_job(cast)
    today = cast.olu.clock.today
    ids = changed(cast, Receipt, retained="2 kg in a jar", retained_until=today + timedelta(days=8))
    assert overview.overview(cast.olu).soils == []
    changed(cast, Receipt, retained_until=today - timedelta(days=1))
    assert [one.over for one in overview.overview(cast.olu).soils] == [True] * len(ids)
    for one in ids:
        overview.discard(cast.tess, receipt_id=one)
    assert overview.overview(cast.olu).soils == []
    with pytest.raises(Conflict):
        overview.discard(cast.tess, receipt_id=ids[0])
    with pytest.raises(NotFound):
        overview.discard(cast.tess, receipt_id=cast.ids["tess"])


def test_bags_on_the_shelf_have_a_day(cast: Cast) -> None:
    a_tried_job(cast)
    today: date = cast.olu.clock.today
    with Session(cast.stores.read) as session:
        cement = session.exec(select(Material.id).where(Material.kind == "cement")).one()
        soil = session.exec(select(Material.id).where(Material.customer_id.is_not(None))).first()
    overview.set_good_until(cast.tess, material_id=cement, good_until=today - timedelta(days=1))
    (bags,) = overview.overview(cast.olu).shelf
    assert (bags.id, bags.over) == (cement, True)
    overview.set_good_until(cast.tess, material_id=cement, good_until=None)
    assert overview.overview(cast.olu).shelf == []
    with pytest.raises(Invalid):
        overview.set_good_until(cast.tess, material_id=soil, good_until=today)


def test_a_customer_sees_nothing_of_it(cast: Cast) -> None:
    with pytest.raises(Forbidden):
        overview.overview(cast.cy)
