"""What an issued result is looked at before, listed beside and leads to: preview, links by name, photos."""

import re
from datetime import timedelta
from uuid import UUID

import pytest
from bs4 import BeautifulSoup
from sqlmodel import Session, select

from service.desk import photos
from service.desk.results import issued as results
from service.paper import photo_files
from service.records.results import IssuedResult
from tests.pixels import from_a_camera
from tests.web.test_results import issued_id, share, tried

pytestmark = pytest.mark.usefixtures("undrawn_papers")

__all__ = ["issued_id", "tried"]


def test_of_two_links_the_one_for_the_builder_is_ended_by_its_name(cast, tried, issued_id):
    share(cast, tried, issued_id)
    share(cast, tried, issued_id, name="the builder")
    page = BeautifulSoup(cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text, "html.parser")
    ends = {
        " ".join(one.text.split()): one.find_parent("form")["action"] for one in page.select("form[action$=end] button")
    }
    assert ends.keys() == {"End the link for The mason", "End the link for the builder"}
    assert cast.browser("olu").post(ends["End the link for the builder"]).status_code == 303
    left = cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text
    assert "End the link for The mason" in left and "End the link for the builder" not in left


@pytest.mark.parametrize(("name", "back"), [("cy", "/soils"), ("olu", "/jobs/{job}/results#issued")])
def test_from_an_issued_result_one_goes_back_and_to_its_pdf(cast, tried, issued_id, name, back):
    page = BeautifulSoup(cast.browser(name).get(f"/results/{issued_id}").text, "html.parser")
    ways = [str(one["href"]) for one in page.select("nav.ways a")]
    assert ways == [back.format(job=tried.job_id), f"/results/{issued_id}.pdf"]
    assert [cast.browser(name).get(one).status_code for one in ways] == [200, 200]


def test_a_link_is_told_by_its_last_day_and_a_withdrawn_result_has_none_that_opens(cast, tried, issued_id):
    share(cast, tried, issued_id, days=10)
    here, last_day = f"/jobs/{tried.job_id}/results", (cast.clock.now + timedelta(days=10)).date()
    page = cast.browser("olu").get(here).text
    assert f"opens until the end of {last_day.day} {last_day:%b %Y}." in page and ", 00:00" not in page
    results.withdraw(cast.olu, issued_id=UUID(issued_id), because="Wrong unit.")
    page = cast.browser("olu").get(here).text
    assert "opens nothing since the result was withdrawn" in page and "opens until" not in page
    assert "End the link" not in page
    card = re.sub(r"<[^>]+>|\s+", " ", cast.browser("olu").get(f"/jobs/{tried.job_id}").text)
    assert re.search(r"Results issued +1 +1 withdrawn", card)


def test_whoever_has_a_link_finds_its_pdf_and_is_told_of_the_language_in_their_own(cast, tried, issued_id):
    path = share(cast, tried, issued_id)
    spanish = cast.browser(None).get(path, headers={"accept-language": "es-MX"}).text
    assert f'href="{path}/pdf"' in spanish and "Este documento está en inglés. Pídalo en español a" in spanish
    assert "This paper is in" not in cast.browser(None).get(path, headers={"accept-language": "en-US"}).text


def test_a_customer_chooses_the_language_of_their_own_pages(cast, issued_id):
    cy = cast.browser("cy")
    assert "You" in cy.get("/you").text and 'action="/you/language"' in cy.get("/you").text
    assert cy.post("/you/language", {"language": "es", "form": "language"}).status_code == 303
    assert "Guardar idioma" in cy.get("/you").text
    assert cast.browser("tess").post("/you/language", {"language": "es"}).status_code == 403
    assert 'action="/you/language"' not in cast.browser("tess").get("/you").text


def test_the_slip_for_a_sack_speaks_the_language_of_its_customer(cast, tried):
    slip = f"/jobs/{tried.job_id}/slip"
    assert '<html lang="en"' in cast.browser("tess").get(slip).text
    cast.browser("cy").post("/you/language", {"language": "es", "form": "language"})
    page = cast.browser("tess").get(slip).text
    assert '<html lang="es"' in page and "Print this page" not in page


def test_blocks_of_the_results_lead_to_their_pages(cast, tried):
    page = BeautifulSoup(cast.browser("olu").get(f"/jobs/{tried.job_id}/results").text, "html.parser")
    link = page.select_one("#all-blocks tbody th a")
    assert link is not None
    opened = cast.browser("olu").get(str(link["href"]))
    assert opened.status_code == 200 and opened.url.path.startswith("/blocks/")


def test_the_customers_newest_result_stands_above_the_photographs(cast, tried, issued_id):
    taken = photo_files.take_in(cast.tess, of="job", thing_id=tried.job_id, content=from_a_camera(1))
    photos.show(cast.olu, photo_id=taken, shown=True)
    page = cast.browser("cy").get("/soils").text
    assert 0 < page.index(f"/results/{issued_id}") < page.index("<h3>Photos of your soil and blocks</h3>")


@pytest.mark.drawn
def test_page_and_pdf_are_looked_at_in_either_language_before_anything_is_issued(cast, tried):
    olu, here = cast.browser("olu"), f"/jobs/{tried.job_id}/issue/preview"
    asked = "?remark=Take+B.&language=es&bucket_l=10&bucket_l_unit=L"
    page = olu.get(here + asked)
    assert page.status_code == 200 and "Preview. Not issued. Do not hand out." in page.text
    assert "Take B." in page.text and "Para su muro" in page.text
    pdf = olu.get(f"{here}.pdf{asked}")
    assert pdf.headers["content-type"] == "application/pdf" and pdf.content.startswith(b"%PDF")
    with Session(cast.stores.read) as session:
        assert session.exec(select(IssuedResult)).all() == []
    assert cast.browser("tess").get(here).status_code == 403
