"""At the gauge: how fast it climbs, how far its zero wandered, what a calibration past its end or replaced touches."""

import re
from datetime import timedelta
from typing import Any
from uuid import UUID

import pytest
from sqlmodel import Session, select

from service.desk import presses
from service.desk.results import issued, live
from service.paper import issuing
from service.records.base import canonical
from service.records.jobs import JobCriterion
from service.records.presses import Calibration, CalibrationPoint
from service.trade.criteria.codes_and_rules import published
from service.typed import Typed
from tests.bench_rows import pressed_job
from tests.cast import Browser, Cast
from tests.trials import a_tried_job
from tests.web.test_curing_and_crushing import broke, opened

pytestmark = pytest.mark.usefixtures("undrawn_papers")


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", page))


@pytest.fixture
def ids(cast: Cast) -> dict[str, UUID]:
    made = pressed_job(cast, groups=({"condition": "air-dry"},))
    cast.clock.forward(days=7)
    return made


@pytest.fixture
def tess(cast: Cast, ids: dict[str, UUID]) -> Browser:
    return cast.browser("tess")


def ask_for(cast: Cast, job_id: UUID, *keys: str) -> None:
    with Session(cast.stores.write) as session:
        for key in keys:
            one = published()[key]
            session.add(JobCriterion(job_id=job_id, key=key, edition=one.edition, rules=canonical(one.as_data())))
        session.commit()


def test_the_rate_of_a_criterion_is_told_on_this_gauge_for_this_block(cast, tess, ids):
    # By hand: 0.05 MPa/s on 140 x 90 mm are 0.63 kN/s; 4.2 kN for each MPa: 0.15 MPa/s, a mark of 0.5 MPa in 3.33 s.
    ask_for(cast, ids["job"], "une-41410-3")
    opened(cast, tess)
    shown = text_of(tess.get(f"/blocks/{ids['1-A1-1']}").text)
    assert "Let the needle climb 0.15 MPa each second, one mark every 3.3 s." in shown
    assert "0.05 MPa/s" in shown and "quoted by others" in shown


def test_two_criteria_are_told_each_with_its_own_rate_and_a_range_as_one(cast, tess, ids):
    # 500 N/s are 0.5/4.2 = 0.119 MPa/s; 0.15 to 0.25 MPa/s on 12600 mm2 are 1.89 and 3.15 kN/s: 0.45 to 0.75 MPa/s.
    ask_for(cast, ids["job"], "nbr-8491", "xp-p13-901-2001-40")
    opened(cast, tess)
    shown = text_of(tess.get(f"/blocks/{ids['1-A1-1']}").text)
    assert "climb 0.12 MPa each second" in shown and "from memory" in shown
    assert "climb 0.45 to 0.75 MPa each second, one mark every 0.67 to 1.1 s." in shown


def test_a_job_without_a_stated_rate_says_so(cast, tess, ids):
    opened(cast, tess)
    assert "No code or rule of this job states a rate of loading." in tess.get(f"/blocks/{ids['1-A1-1']}").text


def test_no_rate_is_told_before_a_gauge_is_open(cast, tess, ids):
    ask_for(cast, ids["job"], "une-41410-3")
    assert "needle climb" not in tess.get(f"/blocks/{ids['1-A1-1']}").text


def test_programs_read_the_climb_of_the_gauge(cast, tess, ids):
    ask_for(cast, ids["job"], "une-41410-3")
    opened(cast, tess)
    (rate,) = cast.program("tess").get(f"/api/v1/blocks/{ids['1-A1-1']}").json()["rates"]
    assert (rate["test"], rate["unit"], rate["low"], rate["high"]) == ("crushing", "MPa/s", 0.05, 0.05)
    assert rate["gauge_low_mpa_s"] == pytest.approx(0.15)


@pytest.mark.parametrize(("after", "wandered"), [("0.8 MPa", False), ("1.0 MPa", True)])
def test_a_zero_that_wandered_by_more_than_a_mark_is_remarked_on_its_blocks(cast, tess, ids, after, wandered):
    # Zero 0.4 before; a mark is 0.5 MPa: 0.4 further is within it, 0.6 is not.
    spell = opened(cast, tess)
    path = f"/blocks/{ids['1-A1-3']}"
    assert tess.post(f"{path}/crushings", broke(spell)).status_code == 303
    assert "wandered" not in tess.get(path).text
    assert tess.post(f"/crushing/sessions/{spell}/close", {"zero_after_mpa": after}).status_code == 303
    assert ("The unloaded gauge went from" in text_of(tess.get(path).text)) is wandered


@pytest.mark.parametrize(("days", "over"), [(-1, True), (0, False)])
def test_a_reading_after_the_end_of_its_calibration_is_kept_and_marked(cast, tess, ids, days, over):
    spell = opened(cast, tess)
    ends = (cast.clock.now + timedelta(days=days)).date()
    with Session(cast.stores.write) as session:
        # A calibration is never changed, so this one is followed by another that ends as the test wants it.
        old = session.exec(select(Calibration)).one()
        from_day = old.valid_from + timedelta(days=1)
        new = Calibration(gauge_id=old.gauge_id, done_on=from_day, valid_from=from_day, valid_until=ends, reference="x")
        session.add(new)
        session.flush()
        _points(session, new)
        session.commit()
    path = f"/blocks/{ids['1-A1-3']}"
    assert tess.post(f"{path}/crushings", broke(spell)).status_code == 303
    shown = text_of(tess.get(path).text)
    # To the tenth: a mark of the gauge is 0.5 MPa, on the face 0.12 MPa.
    assert "3.4 MPa" in shown, "the reading still counts"
    assert (f"The calibration had ended on {ends.isoformat()}" in shown) is over


def _points(session: Session, calibration: Calibration) -> None:
    for position, mpa in enumerate((5.0, 15.0, 25.0), start=1):
        found: dict[str, Any] = {"gauge_mpa": mpa, "force_kn": 1.0 + 4.2 * mpa, "as_read": {}}
        session.add(CalibrationPoint(calibration_id=calibration.id, position=position, **found))


def replace_calibration(cast: Cast, old_id: UUID) -> UUID:
    points = [(Typed(mpa, f"{mpa}", "MPa"), Typed(4.4 * mpa, f"{4.4 * mpa}", "kN")) for mpa in (5.0, 15.0, 25.0)]
    with Session(cast.stores.read) as session:
        old = session.get_one(Calibration, old_id)
    done = presses.add_calibration(
        cast.olu,
        gauge_id=old.gauge_id,
        done_on=old.done_on,
        valid_from=old.valid_from,
        valid_until=old.valid_until,
        reference="load cell 4",
        reference_uncertainty=None,
        points=points,
        replaces_id=old.id,
        replaced_because="The load cell had not been zeroed.",
    )
    return done.id


@pytest.fixture
def issued_on(cast: Cast) -> tuple[UUID, str, UUID]:
    """Return the job, the issued result and the calibration it rests on."""
    tried = a_tried_job(cast)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    issued_id = issuing.issue(cast.olu, job_id=tried.job_id, remark="Use B.", seen_sha256=seen)
    with Session(cast.stores.read) as session:
        calibration = session.exec(select(Calibration.id).where(Calibration.gauge_id == tried.gauge_id)).one()
    return tried.job_id, str(issued_id), calibration


def test_the_presses_page_lists_the_issued_results_a_replaced_calibration_touches(cast, issued_on):
    job_id, issued_id, old_id = issued_on
    olu = cast.browser("olu")
    assert "Replaced the calibration" not in olu.get("/presses").text
    new_id = replace_calibration(cast, old_id)
    for name in ("olu", "tess"):
        page = cast.browser(name).get("/presses").text
        assert f'href="/results/{issued_id}"' in page and f'href="/jobs/{job_id}/results"' in page
        assert "Result no. 1 of job 1" in page and "The load cell had not been zeroed." in page
    # What took the place of a replacement touches what rested on the first one too.
    replace_calibration(cast, new_id)
    page = text_of(olu.get("/presses").text)
    assert "Result no. 1 of job 1" in page and "No current issued result uses that one." in page


def test_a_result_issued_again_is_told_beside_the_one_that_was_touched(cast, issued_on):
    job_id, _, old_id = issued_on
    replace_calibration(cast, old_id)
    seen = live.live(cast.olu, job_id=job_id).sha256
    issuing.issue(cast.olu, job_id=job_id, remark="With the better line.", seen_sha256=seen)
    page = text_of(cast.browser("olu").get("/presses").text)
    assert "no. 2 was issued since" in page and "look at what its readings say now" not in page


def test_a_withdrawn_result_is_no_longer_listed(cast, issued_on):
    _, issued_id, old_id = issued_on
    replace_calibration(cast, old_id)
    issued.withdraw(cast.olu, issued_id=UUID(issued_id), because="Wrong.")
    assert f'href="/results/{issued_id}"' not in cast.browser("olu").get("/presses").text


@pytest.mark.parametrize("name", ["olu", "tess"])
def test_the_shop_is_told_on_the_result_itself_and_may_read_it_all_the_same(cast, issued_on, name):
    _, issued_id, old_id = issued_on
    browser = cast.browser(name)
    before = browser.get(f"/results/{issued_id}?as_issued=yes").content
    replace_calibration(cast, old_id)
    told = browser.get(f"/results/{issued_id}").text
    assert "was replaced by that of" in told and "The customer sees this result without this notice." in told
    assert "The load cell had not been zeroed." in told
    assert browser.get(f"/results/{issued_id}?as_issued=yes").content == before


def test_a_customer_reads_his_result_as_it_was_issued(cast, issued_on):
    _, issued_id, old_id = issued_on
    cy = cast.browser("cy")
    before = cy.get(f"/results/{issued_id}").content
    replace_calibration(cast, old_id)
    assert cy.get(f"/results/{issued_id}").content == before
    assert cast.browser("dov").get(f"/results/{issued_id}").status_code == 404
