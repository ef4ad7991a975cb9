"""What an issued result is looked at before, listed beside and leads to: preview, links by name, photos."""

import pytest
from bs4 import BeautifulSoup
from sqlmodel import Session, select

from service.desk import photos
from service.paper import pictures
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


def test_the_customers_newest_result_stands_above_the_photographs(cast, tried, issued_id):
    taken = pictures.take_in(cast.tess, of="job", thing_id=tried.job_id, content=from_a_camera(1))
    photos.show(cast.olu, photo_id=taken, shown=True)
    page = cast.browser("cy").get("/soils").text
    assert 0 < page.index(f"/results/{issued_id}") < page.index("<h3>Photos</h3>")


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
