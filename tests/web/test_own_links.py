"""A customer shares their own result by links of their own, counts who opened them, and reads whom to call."""

import base64
import re
from datetime import date, timedelta

import pytest
from sqlmodel import Session

from service.desk import photos
from service.desk.results import issued, live
from service.paper import issuing, photo_files
from service.records.jobs import Job
from service.records.shop import Shop
from tests.bench_rows import pressed_job
from tests.cast import Cast
from tests.pixels import quartered, written
from tests.trials import a_tried_job


def test_ticked_photographs_stand_in_the_issued_result_and_others_do_not(cast: Cast, undrawn_papers) -> None:
    job_id = a_tried_job(cast).job_id
    shown, kept_back = (
        photo_files.take_in(cast.tess, of="job", thing_id=job_id, content=written(quartered(width)))
        for width in (80, 120)
    )
    photos.show(cast.olu, photo_id=shown, shown=True)
    seen = live.live(cast.olu, job_id=job_id).sha256
    issued_id = issuing.issue(cast.olu, job_id=job_id, remark="", seen_sha256=seen)
    page = cast.browser("cy").get(f"/results/{issued_id}").text
    small, other = (
        base64.b64encode(photo_files.give_out(cast.olu, photo_id=one, small=True)).decode()
        for one in (shown, kept_back)
    )
    assert small in page and other not in page and 'alt="Photo of this job"' in page
    # Unticked afterwards, the frozen page stays as it is.
    photos.show(cast.olu, photo_id=shown, shown=False)
    assert small in cast.browser("cy").get(f"/results/{issued_id}").text


@pytest.fixture
def issued_id(cast: Cast, undrawn_papers):
    job_id = a_tried_job(cast).job_id
    with Session(cast.stores.write) as session:
        session.get_one(Shop, 1).whom_to_call = "Olu, 555 0100"
        session.commit()
    seen = live.live(cast.olu, job_id=job_id).sha256
    return issuing.issue(cast.olu, job_id=job_id, remark="", seen_sha256=seen)


def test_a_customer_makes_counts_and_ends_a_link_of_their_own(cast: Cast, issued_id) -> None:
    cy, here = cast.browser("cy"), f"/results/{issued_id}/links"
    assert here in cy.get("/soils").text
    day = (cast.clock.now + timedelta(days=9)).date().isoformat()
    sent = {"name": "The mason", "last_day": day, "request_key": "one-form"}
    made, again = cy.post(here, sent).text, cy.post(here, sent).text
    (address,) = set(re.findall(r"http://localhost(/shared/[\w-]+)", made))
    assert address in again and again.count("The mason") == 1
    assert cast.browser(None).get(address).status_code == 200
    page = " ".join(cy.get(here).text.split())
    assert "Times opened: 1," in page and "Opens until" in page and address not in page
    link_id = re.search(rf"{here}/([0-9a-f-]{{36}})/end", page).group(1)  # type: ignore[union-attr]
    assert cast.browser("dov").get(here).status_code == 404
    assert cast.browser("dov").post(f"{here}/{link_id}/end").status_code == 404
    assert cy.post(f"{here}/{link_id}/end").status_code == 303
    over = cast.browser(None).get(address)
    assert over.status_code == 410 and "Questions? Call Olu, 555 0100." in over.text


def test_a_customer_neither_sees_nor_ends_a_link_of_the_shop_and_the_shop_makes_none_here(cast, issued_id) -> None:
    from service.desk.results import share_links

    last_day = (cast.clock.now + timedelta(days=9)).date()
    link = share_links.make(
        cast.olu, issued_id=issued_id, token_sha256="a" * 64, last_day=last_day, name="The engineer"
    )
    cy, here = cast.browser("cy"), f"/results/{issued_id}/links"
    assert "The engineer" not in cy.get(here).text
    assert cy.post(f"{here}/{link.id}/end").status_code == 404
    assert cast.browser("olu").post(here, {"last_day": last_day.isoformat()}).status_code == 403
    refused = cy.post(here, {"last_day": "2030-01-01", "form": "link"})
    assert refused.status_code == 422 and "From today to one year from today." in refused.text


def test_whom_to_call_stands_on_a_withdrawn_result_its_check_and_its_amended_one(cast: Cast, issued_id) -> None:
    issued.withdraw(cast.olu, issued_id=issued_id, because="Wrong gauge.")
    for path, who in ((f"/results/{issued_id}", "cy"), (f"/check/{issued_id}", None)):
        assert "Do not rely on it. Questions? Call Olu, 555 0100." in cast.browser(who).get(path).text
    assert cast.browser("cy").post(f"/results/{issued_id}/links", {"last_day": "2027-03-20"}).status_code == 409


def test_a_customer_reads_by_which_day_each_stage_to_come_is_expected(cast: Cast) -> None:
    job_id = pressed_job(cast)["job"]
    with Session(cast.stores.write) as session:
        session.get_one(Job, job_id).promised_on = date(2027, 4, 2)
        session.commit()
    page = " ".join(re.sub("<[^>]+>", " ", cast.browser("cy").get("/soils").text).split())
    # Pressed on 1 March, seven days old on the 8th.
    assert all(one in page for one in ("hardened by 8 Mar", "tested by 8 Mar"))
    assert "ready by 2 Apr" in page
