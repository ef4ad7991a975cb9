"""Results in the browser and for programs: read, issued, shared, withdrawn; nobody else's door opens."""

import csv
import io
import re
from datetime import timedelta
from hashlib import sha256
from uuid import UUID, uuid4

import pytest
from sqlmodel import Session, select

from service.desk.results import issued, live
from service.paper import issuing
from service.records.customers import Customer
from service.records.results import IssuedResult
from service.records.tokens import Ticket
from tests.cast import Cast
from tests.conformity import READER, faults
from tests.trials import Tried, a_tried_job, correct

pytestmark = pytest.mark.usefixtures("undrawn_papers")

REMARK = "Take recipe B, and test five full-size blocks first."


@pytest.fixture
def tried(cast: Cast) -> Tried:
    return a_tried_job(cast)


@pytest.fixture
def issued_id(cast: Cast, tried: Tried) -> str:
    return issue(cast, tried)


def issue(cast: Cast, tried: Tried) -> str:
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    return str(issuing.issue(cast.olu, job_id=tried.job_id, remark=REMARK, seen_sha256=seen))


def form(cast: Cast, tried: Tried) -> dict[str, str]:
    page = cast.browser("olu").get(f"/jobs/{tried.job_id}/issue").text
    (seen,) = re.findall(r'name="seen_sha256" value="([0-9a-f]{64})"', page)
    return {"seen_sha256": seen, "remark": REMARK, "request_key": uuid4().hex}


def share(cast: Cast, tried: Tried, issued_id: str, days: int = 10, name: str = "The mason") -> str:
    last_day = (cast.clock.now + timedelta(days=days)).date().isoformat()
    path = f"/jobs/{tried.job_id}/issued/{issued_id}/shares"
    answer = cast.browser("olu").post(path, {"last_day": last_day, "name": name, "form": "share-1"})
    assert answer.status_code == 200
    return re.findall(r"http://localhost(/shared/[\w-]+)", answer.text)[0]


@pytest.mark.parametrize("name", ["olu", "tess"])
def test_the_shop_reads_strength_limits_order_wall_cost_and_every_block(cast, tried, name):
    page = cast.browser(name).get(f"/jobs/{tried.job_id}/results")
    assert page.status_code == 200
    said = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page.text))
    for words in (
        "Use recipe B: 75 % red silt and 25 % river sand by dry weight, plus 6 % cement by weight of both.",
        "A: 5 of 5, passes",
        "fell apart",
        "not a safety factor",
        "Cost and carbon of a block",
        "What is not known",
        "1-A1",
        "12.4 MPa",
        "C1: ",
        "we expected these weak values, without a published source",
        "The local code, the building official and a licensed engineer decide what may be built.",
        "For the shop: recipes compared",
    ):
        assert words in said, words


def test_every_link_inside_the_page_leads_to_something_on_it(cast, tried):
    page = cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text
    names = set(re.findall(r'\bid="([^"]+)"', page))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= names
    assert {"f-stress", "b-1-A1", "model", "readings"} <= names


def test_what_is_not_counted_stands_on_the_page_with_its_reason(cast, tried):
    spoiled = {"outcome": "spoiled", "gauge_mpa": None, "spoiled_because": "the platen slipped", "failure": None}
    correct(cast, tried, "1-A1", "Typed as broken by mistake.", **spoiled)
    page = cast.browser("tess").get(f"/jobs/{tried.job_id}/results").text
    assert "invalid test: the platen slipped" in page and "corrected: Typed as broken by mistake." in page


def test_no_two_things_on_the_page_share_a_name(cast, tried):
    names = re.findall(r'\bid="([^"]+)"', cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text)
    assert len(names) == len(set(names))


def test_a_page_of_results_asks_the_database_at_most_twelve_times(cast, tried, statements, issued_id):
    browser = cast.browser("olu")
    statements.clear()
    browser.get(f"/jobs/{tried.job_id}/results")
    assert len(statements) <= 12


@pytest.mark.parametrize("name", ["cy", "dov"])
def test_a_customer_does_not_see_results_before_they_are_issued(cast, tried, name):
    assert cast.browser(name).get(f"/jobs/{tried.job_id}/results").status_code == 403


def test_a_stranger_is_sent_to_sign_in(cast, tried):
    answer = cast.browser(None).get(f"/jobs/{tried.job_id}/results", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"].partition("?")[0]) == (303, "/sign-in")


def test_a_job_that_does_not_exist_is_not_found(cast):
    assert cast.browser("olu").get(f"/jobs/{uuid4()}/results").status_code == 404


def test_the_owner_issues_what_he_saw_and_the_customer_reads_it(cast, tried):
    answer = cast.browser("olu").post(f"/jobs/{tried.job_id}/issue", form(cast, tried))
    assert answer.status_code == 303
    told = cast.browser("olu").get(answer.headers["location"]).text
    assert "Result no. 1 is issued" in told and "Create a share link to result no. 1" in told
    soils = cast.browser("cy").get("/soils").text
    (path,) = re.findall(r'href="(/results/[\w-]{36})"', soils)
    page = cast.browser("cy").get(path)
    assert page.status_code == 200
    assert REMARK in page.text


def test_a_second_click_issues_nothing_more(cast, tried):
    browser, sent = cast.browser("olu"), form(cast, tried)
    first = browser.post(f"/jobs/{tried.job_id}/issue", sent)
    second = browser.post(f"/jobs/{tried.job_id}/issue", sent)
    assert (first.status_code, first.headers["location"]) == (second.status_code, second.headers["location"])
    with Session(cast.stores.read) as session:
        assert len(session.exec(select(IssuedResult)).all()) == 1


def test_a_technician_cannot_issue(cast, tried):
    assert cast.browser("tess").post(f"/jobs/{tried.job_id}/issue", form(cast, tried)).status_code == 403


def test_a_reading_that_came_meanwhile_stops_the_issue_and_the_remark_stays(cast, tried):
    sent = form(cast, tried)
    correct(cast, tried, "1-A6", "Misread.", gauge_mpa=8.75)
    refused = cast.browser("olu").post(f"/jobs/{tried.job_id}/issue", sent)
    assert refused.status_code == 409
    assert REMARK in refused.text and "have changed since you looked" in refused.text


def test_with_script_the_refusal_comes_as_one_sentence(cast, tried):
    sent = form(cast, tried)
    correct(cast, tried, "1-A6", "Misread.", gauge_mpa=8.75)
    refused = cast.browser("olu").post(f"/jobs/{tried.job_id}/issue", sent, headers={"hx-request": "true"})
    assert refused.status_code == 409
    assert "have changed since you looked" in refused.json()["error"]


def test_a_remark_too_long_names_its_field(cast, tried):
    sent = form(cast, tried) | {"remark": "x" * 1001}
    refused = cast.browser("olu").post(f"/jobs/{tried.job_id}/issue", sent, headers={"hx-request": "true"})
    assert (refused.status_code, set(refused.json()["fields"])) == (422, {"remark"})


def test_the_frozen_page_runs_nothing_and_lets_only_its_own_style_through(cast, issued_id):
    page = cast.browser("cy").get(f"/results/{issued_id}")
    policy = page.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "unsafe" not in policy and "script-src" not in policy
    assert "<script" not in page.text and ' style="' not in page.text
    assert "src=" not in page.text and "<link" not in page.text


def test_the_frozen_page_pdf_and_data_are_what_was_stored(cast, issued_id):
    browser = cast.browser("cy")
    pdf = browser.get(f"/results/{issued_id}.pdf")
    assert pdf.content == issued.paper(cast.cy, issued_id=UUID(issued_id), kind="pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    data = browser.get(f"/results/{issued_id}.json")
    assert sha256(data.content).hexdigest() == data.headers["x-data-sha256"]
    assert sha256(data.content).hexdigest() in browser.get(f"/results/{issued_id}").text


def test_the_readings_come_as_a_table_without_formulas(cast, issued_id):
    text = cast.browser("cy").get(f"/results/{issued_id}.csv").text
    rows = list(csv.DictReader(io.StringIO(text.lstrip("\ufeff"))))
    first = next(row for row in rows if row["block"] == "1-A1")
    assert (first["gauge as read"], first["counted"], first["outcome"]) == ("12.4 MPa", "counted", "broke")
    assert len(rows) == 30


@pytest.mark.parametrize("ending", ["", ".pdf", ".json", ".csv", ".xlsx"])
def test_another_customer_cannot_tell_that_the_result_exists(cast, issued_id, ending):
    theirs = cast.browser("dov").get(f"/results/{issued_id}{ending}")
    nobodys = cast.browser("dov").get(f"/results/{uuid4()}{ending}")
    assert theirs.status_code == nobodys.status_code == 404


def test_another_customer_sees_no_soil_of_cys(cast, issued_id):
    page = cast.browser("dov").get("/soils")
    assert page.status_code == 200
    assert "Willow Bend" not in page.text and issued_id not in page.text


def test_the_shops_people_have_no_soils_of_their_own(cast, tried):
    assert cast.browser("tess").get("/soils").status_code == 403


def test_the_next_number_carries_the_remark_and_asks_before_it_says_the_same_again(cast, tried, issued_id):
    olu, here = cast.browser("olu"), f"/jobs/{tried.job_id}/issue"
    page = olu.get(here).text
    assert REMARK in page and "Issue it although nothing has changed since no. 1" in page
    sent = form(cast, tried)
    refused = olu.post(here, sent, headers={"hx-request": "true"})
    assert (refused.status_code, set(refused.json()["fields"])) == (422, {"unchanged"})
    assert "Nothing has changed since no. 1." in refused.json()["error"]
    assert olu.post(here, sent | {"unchanged": "yes", "request_key": uuid4().hex}).status_code == 303


def test_nobody_is_asked_to_issue_the_same_where_something_has_changed(cast, tried, issued_id):
    correct(cast, tried, "1-A1", "misread", gauge_mpa=11.0)
    assert "although nothing has changed" not in cast.browser("olu").get(f"/jobs/{tried.job_id}/issue").text


def test_a_paper_speaks_the_customers_language_and_not_the_shops(cast, tried):
    with Session(cast.stores.write) as session:
        customer = session.exec(select(Customer).where(Customer.id == cast.customers["cy"])).one()
        customer.language = "es"
        session.add(customer)
        session.commit()
    page = cast.browser("olu").get(f"/results/{issue(cast, tried)}").text
    assert '<html lang="es">' in page and "Use la receta B" in page
    assert "Results so far" in cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text


def test_anybody_who_holds_a_paper_checks_it_and_learns_nothing_else(cast, tried, issued_id):
    stranger = cast.browser(None)
    digest = issued.read(cast.olu, issued_id=UUID(issued_id)).data_sha256
    by_square = stranger.get(f"/check/{issued_id}")
    by_number = stranger.get(f"/check?job=1&number=1&sha256={digest[:12].upper()}")
    for told in (by_square, by_number):
        assert told.status_code == 200
        assert "This is the newest result of this job." in told.text and digest in told.text
        assert "Willow Bend" not in told.text and REMARK not in told.text
    correct(cast, tried, "1-A6", "Misread.", gauge_mpa=8.75)
    second = issue(cast, tried)
    assert "Result no. 2 has taken the place of this one." in stranger.get(f"/check/{issued_id}").text
    issued.withdraw(cast.olu, issued_id=UUID(second), because="Wrong unit.")
    assert "Wrong unit. Do not rely on it." in stranger.get(f"/check/{second}").text


@pytest.mark.parametrize(
    "asked", ["job=1&number=1&sha256=00", "job=1&number=1&sha256=" + "0" * 64, "job=9&number=1&sha256=" + "0" * 64,
              "job=x&number=1&sha256=" + "0" * 64, "job=1&number=99999999999999999999&sha256=" + "0" * 64],
)  # fmt: skip
def test_a_paper_that_was_never_issued_is_said_to_be_none(cast, issued_id, asked):
    told = cast.browser(None).get(f"/check?{asked}")
    assert told.status_code == 404 and "This is not a paper of this shop" in told.text


def test_a_square_that_leads_nowhere_is_not_found(cast):
    assert cast.browser(None).get(f"/check/{uuid4()}").status_code == 404


def test_an_amended_result_says_so_and_can_still_be_read(cast, tried, issued_id):
    before = cast.browser("cy").get(f"/results/{issued_id}?as_issued=yes").content
    correct(cast, tried, "1-A6", "Misread.", gauge_mpa=8.75)
    second = issue(cast, tried)
    told = cast.browser("cy").get(f"/results/{issued_id}")
    assert "Result no. 2 has taken the place of this one. Do not rely on this one." in told.text
    assert f"/results/{second}" in told.text and REMARK in told.text
    assert cast.browser("cy").get(f"/results/{issued_id}?as_issued=yes").content == before


def test_a_withdrawn_result_tells_its_customer_why_and_shows_nothing(cast, tried, issued_id):
    path = f"/jobs/{tried.job_id}/issued/{issued_id}/withdraw"
    answer = cast.browser("olu").post(path, {"because": "The gauge was read in the wrong unit."})
    assert answer.status_code == 303
    told = cast.browser("cy").get(f"/results/{issued_id}").text
    assert "The gauge was read in the wrong unit. Do not rely on it." in told and REMARK not in told
    assert cast.browser("cy").get(f"/results/{issued_id}.pdf").status_code == 404


def test_a_withdrawal_without_reason_shows_the_page_again_with_a_sentence_at_the_field(cast, tried, issued_id):
    path = f"/jobs/{tried.job_id}/issued/{issued_id}/withdraw"
    refused = cast.browser("olu").post(path, {"because": "", "form": "withdraw-1"})
    assert refused.status_code == 422
    assert re.search(r'data-error-of="because">[^<]+<', refused.text) and "Results so far" in refused.text


@pytest.mark.parametrize("act", ["withdraw", "shares"])
def test_a_technician_neither_withdraws_nor_shares(cast, tried, issued_id, act):
    path = f"/jobs/{tried.job_id}/issued/{issued_id}/{act}"
    assert cast.browser("tess").post(path, {"because": "x", "last_day": "2027-03-20"}).status_code == 403


def test_whoever_holds_a_link_reads_this_one_result_without_signing_in(cast, tried, issued_id):
    path = share(cast, tried, issued_id)
    page = cast.browser(None).get(path)
    assert page.status_code == 200 and REMARK in page.text
    assert page.headers["referrer-policy"] == "no-referrer"
    assert "noindex" in page.headers["x-robots-tag"]
    assert "private" in page.headers["cache-control"]
    assert cast.browser(None).get(f"{path}/pdf").content.startswith(b"%PDF")
    assert cast.browser(None).get(f"/results/{issued_id}", follow_redirects=False).status_code == 303


def test_only_the_digest_of_a_link_is_kept(cast, tried, issued_id):
    token = share(cast, tried, issued_id).rpartition("/")[2]
    assert len(token) >= 43
    with Session(cast.stores.read) as session:
        (kept,) = session.exec(select(Ticket).where(Ticket.kind == "share")).all()
    assert kept.token_sha256 == sha256(token.encode()).hexdigest()


def test_after_its_last_day_a_link_says_so_and_shows_nothing(cast, tried, issued_id):
    path = share(cast, tried, issued_id, days=2)
    cast.clock.forward(days=3)
    over = cast.browser(None).get(path)
    assert over.status_code == 410
    assert "This link ended on 12 Mar 2027" in over.text
    assert "Willow Bend" not in over.text and "Cy" not in over.text and REMARK not in over.text
    assert cast.browser(None).get(f"{path}/pdf").status_code == 410


def test_a_link_to_a_withdrawn_result_says_why_and_not_to_rely_on_it(cast, tried, issued_id):
    path = share(cast, tried, issued_id)
    issued.withdraw(cast.olu, issued_id=UUID(issued_id), because="The gauge was read in the wrong unit.")
    for ending in ("", "/pdf"):
        over = cast.browser(None).get(path + ending)
        assert over.status_code == 410
        assert "The gauge was read in the wrong unit. Do not rely on it." in over.text and REMARK not in over.text


def test_the_owner_ends_a_link(cast, tried, issued_id):
    path = share(cast, tried, issued_id)
    assert cast.browser(None).get(path).status_code == 200
    page = cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text
    assert "Share link for The mason of" in page and "Opened 1 time, last" in page
    (end,) = re.findall(r'action="(/jobs/[\w-]+/shares/[\w-]+/end)"', page)
    assert cast.browser("olu").post(end).status_code == 303
    assert cast.browser(None).get(path).status_code == 410


def test_a_link_that_never_was_is_not_found(cast):
    assert cast.browser(None).get("/shared/nothing").status_code == 404


@pytest.mark.drawn
def test_a_link_to_an_amended_result_says_so_first(cast, tried, issued_id):
    path = share(cast, tried, issued_id)
    correct(cast, tried, "1-A6", "Misread.", gauge_mpa=8.75)
    issue(cast, tried)
    told = cast.browser(None).get(path)
    assert "Result no. 2 has taken the place of this one. Do not rely on this one." in told.text
    before = issued.paper(cast.olu, issued_id=UUID(issued_id), kind="pdf")
    marked = cast.browser(None).get(f"{path}/pdf").content
    # Every page of the copy says so; the stored one is what it was.
    assert marked != before and marked.startswith(b"%PDF") and faults(marked, READER) == []
    assert issued.paper(cast.olu, issued_id=UUID(issued_id), kind="pdf") == before


def test_a_program_reads_issues_and_shares(cast, tried):
    olu = cast.program("olu")
    found = olu.get(f"/api/v1/jobs/{tried.job_id}/results").json()
    assert found["answer_in_words"][0].startswith("Use recipe B")
    sent = {"remark": REMARK, "seen_sha256": found["sha256"]}
    key = {"idempotency-key": uuid4().hex}
    made = olu.post(f"/api/v1/jobs/{tried.job_id}/results", json=sent, headers=key)
    assert made.status_code == 201
    again = olu.post(f"/api/v1/jobs/{tried.job_id}/results", json=sent, headers=key)
    assert again.json() == made.json()
    data = olu.get(f"/api/v1/results/{made.json()['id']}")
    assert data.json()["remark"] == REMARK and data.json()["result"]["recommended"] == "B"
    last_day = (cast.clock.now + timedelta(days=5)).date().isoformat()
    link = olu.post(
        f"/api/v1/results/{made.json()['id']}/shares",
        json={"last_day": last_day},
        headers={"idempotency-key": uuid4().hex},
    ).json()
    assert cast.browser(None).get(link["address"]).status_code == 200


def test_a_program_without_token_is_refused(cast, tried):
    assert cast.browser(None).get(f"/api/v1/jobs/{tried.job_id}/results").status_code == 401


def test_a_program_of_a_technician_cannot_issue(cast, tried):
    tess = cast.program("tess")
    seen = tess.get(f"/api/v1/jobs/{tried.job_id}/results").json()["sha256"]
    key = {"idempotency-key": uuid4().hex}
    answer = tess.post(f"/api/v1/jobs/{tried.job_id}/results", json={"seen_sha256": seen}, headers=key)
    assert answer.status_code == 403


def test_a_program_gets_nothing_of_another_customers(cast, issued_id):
    assert cast.program("dov").get(f"/api/v1/results/{issued_id}").status_code == 404
