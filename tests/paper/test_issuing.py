"""An issued page is whole in itself, and its PDF says the same to a printer and to a screen reader."""

import logging
import re
from dataclasses import replace

import pytest

from service.desk.results import live
from service.desk.results.live import Draft
from service.paper import issuing
from service.paper.pdf import pdf
from service.paper.telling import charts
from tests.cast import Cast
from tests.pdfs import opened
from tests.trials import a_tried_job


@pytest.fixture
def draft(cast: Cast) -> Draft:
    tried = a_tried_job(cast)
    seen = live.live(cast.olu, job_id=tried.job_id).sha256
    return live.draft(cast.olu, job_id=tried.job_id, remark="<b>Use B.</b>", seen_sha256=seen)


def test_an_issued_page_needs_nothing_from_outside_itself(cast, draft):
    page = issuing.issued_page(draft, cast.olu.shop)
    assert re.findall(r"(?:src|srcset|action)=|<link|<script|url\((?!#)", page) == []
    assert {path for path in re.findall(r'href="([^"]+)"', page) if not path.startswith("#")} == set()


def test_a_chart_too_long_for_a_page_is_cut_and_still_shows_every_strip_once(cast, draft):
    pieces = charts(draft.result, cast.olu.shop, most=4)
    assert len(pieces) == 2
    strip = r"([ABC])(?: \([^)]*\)|, as above), ([^:]*), in MPa"
    heard = [line for piece in pieces for line in re.findall(strip, piece)]
    assert len(heard) == len(set(heard)) == 6
    # Both pieces have one scale, so that they can be compared by eye.
    assert len({tuple(re.findall(r">(\d+)</text>", piece)[:5]) for piece in pieces}) == 1


def test_a_remark_is_text_and_never_markup(cast, draft):
    assert "&lt;b&gt;Use B.&lt;/b&gt;" in issuing.issued_page(draft, cast.olu.shop)


def test_every_way_back_on_the_page_leads_somewhere_and_no_name_stands_twice(cast, draft):
    page = issuing.issued_page(draft, cast.olu.shop)
    names = re.findall(r'\bid="([^"]+)"', page)
    assert len(names) == len(set(names))
    assert set(re.findall(r'href="#([^"]+)"', page)) <= set(names)


def test_only_formulas_that_the_page_points_at_are_listed(cast, draft):
    page = issuing.issued_page(draft, cast.olu.shop)
    listed = re.findall(r'<dt id="(f-[a-z]+)"', page)
    assert listed and set(listed) == set(re.findall(r'href="#(f-[a-z]+)"', page))


def test_who_crushed_is_said_once_above_a_table_and_for_each_block_where_somebody_helped(cast, draft):
    (condition, *_) = draft.result.conditions
    mine = [one for one in draft.result.readings if one.condition == condition.name and one.crushed]
    by = mine[0].crushed.crushed_by
    assert len(mine) > 1 and {one.crushed.crushed_by for one in mine} == {by}
    assert _table(issuing.issued_page(draft, cast.olu.shop), condition.name).count(by) == 1

    helped = replace(mine[0], crushed=replace(mine[0].crushed, crushed_by="Somebody Else"))
    readings = tuple(helped if one is mine[0] else one for one in draft.result.readings)
    told = _table(
        issuing.issued_page(replace(draft, result=replace(draft.result, readings=readings)), cast.olu.shop),
        condition.name,
    )
    assert (told.count(by), told.count("Somebody Else")) == (len(mine) - 1, 1)


def test_a_block_read_on_another_line_leads_to_that_line(cast, draft):
    one = next(one for one in draft.result.readings if one.crushed and one.crushed.stress)
    elsewhere = replace(one, crushed=replace(one.crushed, stress=replace(one.crushed.stress, calibration="C9")))
    readings = tuple(elsewhere if other is one else other for other in draft.result.readings)
    page = issuing.issued_page(replace(draft, result=replace(draft.result, readings=readings)), cast.olu.shop)
    told = _table(page, one.condition)
    # Now each block says its own, as a link and not as the text of one.
    assert told.count('<a href="#line-C9">line C9</a>') == 1
    same = [other for other in readings if other.condition == one.condition and other.crushed and other.crushed.stress]
    assert told.count('<a href="#line-') == len(same) and "&lt;a" not in told


def _table(page, condition):
    page = page.replace("\N{NO-BREAK SPACE}", " ")
    return page.partition(f"<h4>Blocks, {condition}</h4>")[2].partition("</table>")[0]


@pytest.mark.parametrize(("paper", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_the_print_has_the_shops_paper(cast, draft, paper, points):
    # A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in (ANSI Y14.1); 72 points an inch.
    written = pdf(issuing.issued_page(draft, replace(cast.olu.shop, paper=paper)))
    (box,) = set(re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", opened(written)))
    assert tuple(round(float(side)) for side in box) == points


def test_the_print_is_drawn_without_a_complaint(cast, draft, caplog):
    with caplog.at_level(logging.ERROR, logger="weasyprint"):
        pdf(issuing.issued_page(draft, cast.olu.shop))
    assert caplog.messages == []
