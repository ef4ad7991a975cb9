"""An issued page is whole in itself, and its PDF says the same to a printer, to a screen reader and to an archive."""

import json
import logging
import re
from dataclasses import replace
from datetime import UTC, datetime

import pytest
from bs4 import BeautifulSoup

from service.desk.results import live
from service.desk.results.live import Draft
from service.paper import issuing
from service.paper.beside import Beside
from service.paper.explained import charts
from service.paper.pdf import Enclosed, pdf
from service.typed import Typed
from tests.cast import SHOP, Cast
from tests.conformity import ARCHIVE, READER, faults
from tests.pdfs import opened
from tests.trials import a_tried_job

ADDRESS = "https://bench.example"
Drawn = tuple[Draft, Beside]


@pytest.fixture
def drawn(cast: Cast) -> Drawn:
    tried = a_tried_job(cast)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    return issuing.drafted(
        cast.olu, job_id=tried.job_id, remark="<b>Use B.</b>", seen_sha256=seen, bucket_l=Typed(10.0, "10", "L")
    )


def page_of(cast: Cast, drawn: Drawn, **shop: str) -> str:
    draft, beside = drawn
    return issuing.issued_page(draft, beside, replace(cast.olu.shop, **shop), address=ADDRESS)


@pytest.fixture
def page(cast, drawn) -> str:
    return page_of(cast, drawn)


def test_an_issued_page_needs_nothing_from_outside_itself(page):
    assert re.findall(r"(?:src|srcset|action)=|<link|<script|url\((?!#)", page) == []
    assert {path for path in re.findall(r'href="([^"]+)"', page) if not path.startswith("#")} == set()


def test_a_chart_too_long_for_a_page_is_cut_and_still_shows_every_strip_once(cast, drawn):
    pieces = charts(drawn[0].result, cast.olu.shop, most=4)
    assert len(pieces) == 2
    strip = r"([ABC])(?: \([^)]*\)|, as above), ([^:]*):"
    heard = [line for piece in pieces for line in re.findall(strip, piece.partition("</title>")[0])]
    assert len(heard) == len(set(heard)) == 6
    # Both pieces have one scale, so that they can be compared by eye.
    assert len({tuple(re.findall(r">(\d+)</text>", piece)[:5]) for piece in pieces}) == 1


def test_a_remark_is_text_and_never_markup(page):
    assert "&lt;b&gt;Use B.&lt;/b&gt;" in page


def test_every_way_back_on_the_page_leads_somewhere_and_no_name_stands_twice(page):
    names = re.findall(r'\bid="([^"]+)"', page)
    assert len(names) == len(set(names))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(names)


def test_the_paper_is_kept_by_both_standards_as_a_checker_of_others_reads_them(cast, drawn, page):
    written = pdf(page, issuing.enclosed(drawn[0], SHOP))
    assert faults(written, READER) == []
    assert faults(written, ARCHIVE) == []


def test_the_checker_does_find_a_figure_that_says_nothing():
    mute = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 9 9"><path d="M0 0H9V9z"/></svg>'
    html = f'<html lang="en"><head><title>T</title></head><body><h1>T</h1><figure>{mute}</figure></body></html>'
    assert any("FIGURE" in one for one in faults(pdf(html), READER))


def test_the_frozen_data_and_the_readings_travel_inside_the_paper(drawn, page):
    draft, _ = drawn
    inside = {one.name: one.content for one in issuing.enclosed(draft, SHOP)}
    job = draft.result.job.number
    assert set(inside) == {f"job-{job}-result-1.json", f"job-{job}-result-1.csv"}
    assert inside[f"job-{job}-result-1.json"].decode() == draft.data
    unpacked = opened(pdf(page, issuing.enclosed(draft, SHOP)))
    assert draft.data.encode() in unpacked and b"1-A1" in inside[f"job-{job}-result-1.csv"]


def test_drawing_a_paper_again_gives_the_same_bytes(drawn, page):
    assert pdf(page, issuing.enclosed(drawn[0], SHOP)) == pdf(page, issuing.enclosed(drawn[0], SHOP))


def test_another_file_inside_makes_another_paper():
    html = '<html lang="en"><head><title>T</title></head><body><h1>T</h1></body></html>'
    day = datetime(2027, 3, 1, tzinfo=UTC)
    one, other = (Enclosed("a.json", content, "Data", day) for content in (b"1", b"2"))
    assert pdf(html, [one]) != pdf(html, [other])


def test_the_square_leads_to_the_page_where_the_paper_is_checked_and_holds_no_secret(drawn, page):
    assert f"<title>{ADDRESS}/check/{drawn[0].id}</title>" in page
    assert f"To check a printed copy: {ADDRESS}/check/{drawn[0].id}" in page


def test_what_else_stands_on_the_paper_is_frozen_with_its_data(drawn):
    frozen = json.loads(drawn[0].data)
    assert set(frozen["beside"]) == {"letterhead", "photos", "soils", "site", "site_missing"}
    assert frozen["language"] == "en"


def test_what_the_sheet_for_the_site_lacks_is_said_of_its_material(page):
    lacks = page.partition("The buckets could not be worked out:")[2].partition("</ul>")[0]
    assert ": weigh a full bucket, as damp as it is." in lacks
    assert not re.search(r"<li>:", lacks), lacks


@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_print_has_the_shops_paper(cast, drawn, paper, points):
    # A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ANSI Y14.1); 72 points an inch.
    written = pdf(page_of(cast, drawn, paper=paper))
    (box,) = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", opened(written)))
    assert tuple(round(float(side)) for side in box) == points


def test_the_print_is_drawn_without_a_complaint(page, caplog):
    with caplog.at_level(logging.ERROR, logger="weasyprint"):
        pdf(page)
    assert [record.getMessage() for record in caplog.records if record.name.startswith("weasyprint")] == []


# What stands in brackets is said beside the other unit.
METRIC = re.compile(r"(?<![\d.(])[\d.]+\s(?:MPa|kN|kN/m|kg|g|m|mm|L|kg/m³|°C)(?![\w²³/])(?!\))")


def test_a_paper_of_an_imperial_shop_has_no_metric_unit_alone(cast, drawn):
    paper = BeautifulSoup(page_of(cast, drawn, units_first="imperial"), "html.parser")
    # The annex computes in the units of its formulas, the site's bucket was given in litres, a dial shows its own.
    gauges = {cell.text for row in paper.select("#all-blocks tr") for cell in row.select("td")[5:6]}
    for aside in paper.select(".annex, .site, style"):
        aside.decompose()
    assert {small.text.strip() for small in paper.select("th small")}.isdisjoint(
        {"MPa", "kN", "mm", "kg/m³", "kg", "m"}
    )
    told = {str(text).strip() for text in paper.find_all(string=METRIC)} - gauges
    assert told == set()
