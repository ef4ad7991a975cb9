"""Closed days over HTTP: set in a form, told on the plan, on Today and on Curing, and a better day taken by one tap."""

import html
import re
from datetime import date, time

from service.desk import closed_days
from tests.bench_rows import pressed_job
from tests.cast import Cast
from tests.mixes import DRY, a_ready_job, hours
from tests.mixes import days as in_days

TUESDAY = date(2027, 3, 2)


def words(text: str) -> str:
    main = text.partition("<main")[2]
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", main)))


def test_the_owner_sets_them_and_what_makes_no_sense_is_said_at_its_field(cast: Cast) -> None:
    olu = cast.browser("olu")
    refused = olu.post("/opening-hours", {"closed.7": "yes", "opens_at": "17:00", "closes_at": "7:00"})
    assert refused.status_code == 422 and "The shop closes after it opens." in refused.text
    assert olu.post("/opening-hours", {"opens_at": "noon"}).status_code == 422
    assert olu.post("/opening-hours", {"closed.7": "yes", "opens_at": "07:00", "closes_at": "17:00"}).status_code == 303
    assert (
        olu.post("/opening-hours/days", {"form": "day", "day": "2027-03-19", "name": "stocktaking"}).status_code == 303
    )
    page = olu.get("/opening-hours").text
    assert re.search(r'name="closed.7"\s+value="yes"\s+checked', page) and 'value="07:00"' in page
    assert "19 Mar 2027" in page and "stocktaking" in page
    (path,) = re.findall(r'action="(/opening-hours/days/[^"]+/open)"', page)
    assert olu.post(path).status_code == 303
    assert "None is set." in olu.get("/opening-hours").text


def test_the_plan_says_so_and_one_tap_moves_it(cast: Cast) -> None:
    job = a_ready_job(cast)
    group = DRY.__class__("as cured", in_days(5), 5, hours(24))
    job.plan(batches=1, groups=(group,), mix_on=TUESDAY)
    closed_days.set_hours(cast.olu, closed_weekdays=["7"], opens_at=time(7), closes_at=time(17))
    tess, path = cast.browser("tess"), f"/jobs/{job.job_id}/plan"
    said = words(tess.get(path).text)
    assert "Crushing falls on Sunday 7 Mar, when the shop is closed. Saturday 6 Mar until 17:00 still counts." in said
    assert "Mix on Wednesday 3 Mar" in said and "Crush at 6 days" in said
    recipe = re.search(rf"{path}/([0-9a-f-]{{36}})/mix-day", tess.get(path).text)
    assert recipe is not None
    assert tess.post(f"{path}/{recipe[1]}/mix-day", {"mix_on": "2027-03-03"}).status_code == 303
    assert "when the shop is closed" not in words(tess.get(path).text)
    assert "Mixed on 3 Mar 2027" in words(tess.get(path).text)
    moved = {"condition": "as cured", "age_days": "5", "new_age_days": "6"}
    assert tess.post(f"{path}/{recipe[1]}/age", moved).status_code == 303
    assert tess.post(f"{path}/{recipe[1]}/age", moved).status_code == 404


def test_today_and_curing_say_by_when(cast: Cast) -> None:
    closed_days.set_hours(cast.olu, closed_weekdays=["7"], opens_at=time(7), closes_at=time(17))
    # Pressed on Monday at 9:00: from Saturday at 11:00 to Sunday at 7:00.
    pressed_job(cast, groups=({"condition": "air-dry", "age_days": 5.5, "tolerance_hours": 10.0},))
    cast.clock.forward(days=5, hours=3)
    said = "The shop is closed on Sunday 7 Mar. Do it by 17:00."
    tess = cast.browser("tess")
    assert all(said in words(tess.get(path).text) for path in ("/today", "/curing"))
