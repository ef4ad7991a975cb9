"""The shop's day is taken on the shop's clock: in Denver it is still the evening when UTC has tomorrow."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from sqlmodel import Session

from service.desk import jobs_in_hand, materials, presses
from service.desk.intake import sheet
from service.records.job_stage import Stage
from service.records.jobs import Job
from service.records.materials import Material, Price
from service.shop_clock import ShopClock
from tests.bench_rows import press_with_line, pressed_job
from tests.cast import Cast

# 19:30 on the 5th of March in Denver, seven hours behind.
EVENING = datetime(2027, 3, 6, 2, 30, tzinfo=UTC)
TODAY, TOMORROW = date(2027, 3, 5), date(2027, 3, 6)


@pytest.fixture
def evening(cast: Cast) -> Cast:
    cast.clock.now = EVENING
    return cast


def test_the_clock_says_the_shops_day_and_its_words(evening: Cast) -> None:
    clock: ShopClock = evening.tess.clock
    assert (clock.today, clock.day(EVENING + timedelta(hours=5)), clock.said(EVENING)) == (
        TODAY,
        TOMORROW,
        "5 Mar 2027, 19:30",
    )


@pytest.mark.parametrize(("promised_on", "overdue"), [(TODAY, False), (TODAY - timedelta(days=1), True)])
def test_a_job_is_not_overdue_on_the_evening_of_its_promised_day(
    evening: Cast, promised_on: date, overdue: bool
) -> None:
    ids = pressed_job(evening)
    with Session(evening.stores.write) as session:
        job = session.get_one(Job, ids["job"])
        job.promised_on = promised_on
        session.add(job)
        session.commit()
    assert [one.overdue for one in jobs_in_hand.jobs(evening.tess).lines] == [overdue]


def test_a_job_is_not_overdue_once_its_result_is_issued(evening: Cast, monkeypatch: pytest.MonkeyPatch) -> None:
    ids = pressed_job(evening)
    with Session(evening.stores.write) as session:
        session.get_one(Job, ids["job"]).promised_on = TODAY - timedelta(days=9)
        session.commit()
    monkeypatch.setattr(jobs_in_hand, "stage_of", lambda progress: Stage.ISSUED)
    assert [one.overdue for one in jobs_in_hand.jobs(evening.tess).lines] == [False]


def test_a_calibration_is_not_over_on_its_last_evening(evening: Cast) -> None:
    press_with_line(evening)
    # It is valid for 300 days from the day of the clock, which is the 6th in UTC.
    evening.clock.forward(days=300)
    (press,) = presses.bench(evening.tess).presses
    assert press.gauges[0].calibrations[0].valid_until == evening.tess.clock.today + timedelta(days=1)
    evening.clock.forward(days=1)
    (press,) = presses.bench(evening.tess).presses
    assert not press.gauges[0].calibrations[0].over


def test_tomorrows_price_is_not_on_the_shelf_this_evening(evening: Cast) -> None:
    with Session(evening.stores.write) as session:
        sand = Material(kind="sand", name="river sand")
        session.add(sand)
        session.flush()
        for day, price in ((date(2027, 1, 1), "0.03"), (TOMORROW, "0.04")):
            row = Price(material_id=sand.id, valid_from=day, per_kg=Decimal(price), carbon_kg_per_kg=0.0, source="own")
            session.add(row)
        session.commit()
    (shown,) = materials.shelf(evening.tess)
    assert shown.price is not None and shown.price.per_kg == Decimal("0.03")
    assert [name for _, name in sheet.sheet(evening.tess, job_id=pressed_job(evening)["job"]).offered] == ["river sand"]
